"""Noticing a move on made noise: changes that last, tones that shift, and what must not be taken for one."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tuner.coach.noticing import MoveWatch

RATE = 16_000
WINDOW_S = 20.0


def noise(seconds: float, seed: int, level: float = 0.01, tone_hz: float | None = None) -> NDArray[np.float64]:
    n = round(seconds * RATE)
    sound = level * np.random.default_rng(seed).standard_normal(n)
    if tone_hz is not None:
        sound += 0.02 * np.sin(2 * np.pi * tone_hz * np.arange(n) / RATE)
    return sound


def noticed_after_s(before: NDArray[np.float64], after: NDArray[np.float64]) -> float | None:
    watch = MoveWatch(RATE)
    watch.forget()
    watch.baseline(before)
    watch.begin()
    for start in range(0, after.size, RATE // 10):
        if watch.watch(after[start : start + RATE // 10]):
            return start / RATE
    return None


def test_a_lasting_change_of_level_is_noticed_once_it_has_held() -> None:
    found = noticed_after_s(noise(WINDOW_S, 1), noise(20.0, 2, level=0.005))
    assert found is not None
    assert 5.0 < found < 10.0


def test_a_shift_of_the_pumps_tone_is_noticed_at_the_same_level() -> None:
    found = noticed_after_s(noise(WINDOW_S, 1, tone_hz=120.0), noise(20.0, 2, tone_hz=114.0))
    assert found is not None
    assert found < 12.0


def test_the_same_sound_is_no_move() -> None:
    for seed in range(3):
        assert noticed_after_s(noise(WINDOW_S, seed, tone_hz=120.0), noise(40.0, 90 + seed, tone_hz=120.0)) is None


def test_a_clatter_is_no_move() -> None:
    after = noise(40.0, 5)
    after[5 * RATE : round(5.5 * RATE)] += noise(0.5, 6, level=0.3)
    assert noticed_after_s(noise(WINDOW_S, 1), after) is None


def test_a_sound_that_still_moves_is_waited_for() -> None:
    ramp = noise(30.0, 7) * np.repeat(10.0 ** (-np.minimum(np.arange(30), 20) * 2.0 / 20.0), RATE)
    found = noticed_after_s(noise(WINDOW_S, 1), ramp)
    assert found is not None
    assert found > 20.0


def test_without_a_window_nothing_is_noticed() -> None:
    assert noticed_after_s(noise(2.0, 1), noise(30.0, 2, level=0.1)) is None
