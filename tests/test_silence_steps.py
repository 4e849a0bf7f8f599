from __future__ import annotations

import numpy as np
import pytest

from tuner.errors import ConfigError
from tuner.silence.steps import read_steps, steps_to_play

RATE = 16_000


def recorded(noise: float = 1e-4, lead_s: float = 1.7) -> np.ndarray:
    sound = 0.3 * steps_to_play(RATE, 0.5)
    quiet = np.zeros(round(lead_s * RATE))
    rng = np.random.default_rng(1)
    whole = np.concatenate([quiet, sound, quiet])
    return (whole + noise * rng.standard_normal(whole.size)).astype(np.float32)


def test_steps_are_found_and_read_ten_decibels_apart() -> None:
    found = read_steps(recorded(), RATE)
    assert found.differences_db == pytest.approx((10.0, 10.0), abs=0.1)
    # The loudest step has amplitude 0.15: -19.5 dB re full scale.
    assert found.levels_db[-1] == pytest.approx(-19.5, abs=0.1)
    assert found.followed


def test_a_chain_that_squeezes_levels_does_not_follow() -> None:
    samples = recorded()
    squeezed = np.sign(samples) * np.abs(samples) ** 0.8
    found = read_steps(squeezed.astype(np.float32), RATE)
    assert found.differences_db == pytest.approx((8.0, 8.0), abs=0.3)
    assert not found.followed


def test_what_cannot_be_judged_is_said() -> None:
    with pytest.raises(ConfigError, match="must hold three steps"):
        read_steps(recorded()[: 5 * RATE], RATE)
    with pytest.raises(ConfigError, match="drowns in the room's noise"):
        read_steps(recorded(noise=0.2, lead_s=4.0), RATE)
