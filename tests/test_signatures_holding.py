from __future__ import annotations

import numpy as np
import pytest

from tuner.errors import ConfigError
from tuner.signatures.holding import Holder, hear_holding
from tuner.terms import SOUND_KINDS

RATE = 16_000
NOISE = (0.01 * np.random.default_rng(3).standard_normal(3 * RATE)).astype(np.float32)


def test_a_holding_keeps_bands_and_probabilities_and_no_sound() -> None:
    held = hear_holding("sump", NOISE, RATE)
    assert held.place == "sump"
    assert held.thirds.shape == (30, 22)
    assert held.probability.shape == (5, len(SOUND_KINDS) + 1)
    assert held.level.shape == (5,)
    assert held.duration_s == pytest.approx(3.0)
    assert not held.usable[-1]  # 12.5 kHz is beyond a rate of 16 kHz
    # White noise of variance 1e-4 has 2 f / rate of it below f; from 89 Hz to 7079 Hz it is 0.87.
    assert held.thirds.sum(axis=1).mean() == pytest.approx(1e-4 * (7079 - 89) / 8000, rel=0.05)


def test_one_holding_does_not_leak_into_the_next() -> None:
    holder = Holder(RATE)
    holder.hear("pump", 20.0 * NOISE)
    after, fresh = holder.hear("sump", NOISE), hear_holding("sump", NOISE, RATE)
    assert np.array_equal(after.thirds, fresh.thirds)
    assert np.array_equal(after.probability, fresh.probability)


@pytest.mark.parametrize(
    ("place", "samples", "match"),
    [
        ("cellar", NOISE, "place='cellar' must be one of siphon, open channel"),
        ("pump", NOISE[:RATE], "at the pump: seconds=1 must be at least 1.5"),
        ("pump", 0 * NOISE, "at the pump: digital silence"),
    ],
)
def test_bad_holdings_are_refused(place: str, samples: np.ndarray, match: str) -> None:
    with pytest.raises(ConfigError, match=match):
        hear_holding(place, samples, RATE)  # type: ignore[arg-type]


def test_two_channels_are_refused() -> None:
    with pytest.raises(ConfigError, match="one channel"):
        hear_holding("pump", np.zeros((2 * RATE, 2)) + 0.1, RATE)
