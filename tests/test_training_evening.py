"""Evenings: recordings in a row, as long as asked for, the same from the same seed."""

from __future__ import annotations

import numpy as np
import pytest

from tuner.training.evening import evening
from tuner.training.recordings import Clip

RATE = 8000


def made(seed: int, seconds: float) -> np.ndarray:
    clips = [Clip(np.full(20 * RATE, level, dtype=np.float32), ()) for level in (0.5, -0.01)]
    return evening(np.random.default_rng(seed), clips, RATE, seconds)


@pytest.mark.parametrize("seconds", [0.5, 37.0, 90.0])
def test_an_evening_is_as_long_as_asked_for(seconds: float) -> None:
    assert made(1, seconds).shape == (round(seconds * RATE),)
    assert made(1, seconds).dtype == np.float32


def test_it_repeats_itself_and_another_seed_does_not() -> None:
    assert np.array_equal(made(1, 60.0), made(1, 60.0))
    assert not np.array_equal(made(1, 60.0), made(2, 60.0))


def test_clips_stand_within_6_db_whatever_their_own_level_and_pauses_part_them() -> None:
    loud = np.abs(made(3, 120.0))
    sounding = loud[loud > 0]
    assert 20 * np.log10(sounding.max() / sounding.min()) <= 6.0 + 1e-3
    assert 0.1 < np.mean(loud == 0) < 0.9
