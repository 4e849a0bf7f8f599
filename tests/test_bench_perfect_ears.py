"""What perfect ears make of a course: onsets, periods and shares counted by hand."""

from __future__ import annotations

import numpy as np
import pytest

from tests.bench.perfect_ears import onsets, perfect_reading, rested
from tuner.signatures.reading import PAUSES

STEP_S = 0.1


def steps(*spans: tuple[int, int], n: int = 200) -> np.ndarray:
    active = np.zeros(n, dtype=bool)
    for first, last in spans:
        active[first:last] = True
    return active


def test_sounds_within_half_a_second_of_an_onset_are_one() -> None:
    assert onsets(steps((10, 12), (14, 16), (40, 50)), STEP_S).tolist() == [10, 40]


def test_a_regular_sound_has_its_period_and_a_steady_one_none() -> None:
    regular = steps((10, 15), (60, 65), (110, 115), (160, 165))
    reading = perfect_reading({"slurp": (regular, 12.0), "gurgle": (np.ones(200, bool), 9.0)}, STEP_S, 20.0, -40.0)
    slurp, gurgle = reading.of("slurp"), reading.of("gurgle")
    assert slurp is not None
    assert gurgle is not None
    assert (slurp.period_s, slurp.events, slurp.share) == (pytest.approx(5.0), 4, pytest.approx(0.1))
    assert (gurgle.period_s, gurgle.share, gurgle.excess_db) == (None, 1.0, 9.0)
    assert reading.levels.laeq_db == -40.0


def test_silence_holds_no_sound() -> None:
    assert perfect_reading({}, STEP_S, 20.0, -70.0).heard == ()


def test_pauses_are_what_lies_between_bouts_and_an_even_sound_tells_nothing_of_them() -> None:
    bouts = steps((10, 40), (80, 100), (110, 160))  # by hand: of 200 steps rest 40 and 40; 10 and 10 are too short
    assert rested({"slurp": (bouts, 12.0)}, STEP_S) == pytest.approx(0.4)
    assert rested({"slurp": (bouts, 12.0), "gurgle": (np.ones(200, bool), 9.0)}, STEP_S) == 0.0
    assert rested({"hiss": (np.ones(200, bool), 9.0)}, STEP_S) is None
    assert rested({}, STEP_S) is None
    assert perfect_reading({"slurp": (bouts, 12.0)}, STEP_S, 20.0, -40.0).features[PAUSES] == pytest.approx(0.4)
