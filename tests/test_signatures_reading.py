"""Pauses: what comes and goes rests between its bouts, what sounds all the time does not."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from tuner.signatures.reading import pauses

QUIET, LOUD = -70.0, -50.0


def bouts(*looks: tuple[float, int], flutter_db: float = 1.0) -> NDArray[np.float64]:
    """Return levels (dB) that stand for so many looks each, with a flutter."""
    level = np.concatenate([np.full(n, level_db) for level_db, n in looks])
    return np.asarray(level + flutter_db * np.random.default_rng(1).uniform(-1, 1, level.size))


def test_two_gulps_in_twenty_seconds_leave_the_rest_of_them_in_pauses() -> None:
    level = bouts((QUIET, 12), (LOUD, 4), (QUIET, 14), (LOUD, 4), (QUIET, 6))
    assert pauses(level) == pytest.approx(32 / 40)


def test_a_gurgle_that_catches_its_breath_for_a_second_never_pauses() -> None:
    level = bouts(*[(LOUD, 3), (QUIET, 2)] * 8)
    assert pauses(level) == 0.0


def test_a_steady_level_and_a_short_window_tell_nothing() -> None:
    assert pauses(bouts((LOUD, 40))) is None
    assert pauses(bouts((QUIET, 6), (LOUD, 6))) is None
    assert pauses(np.zeros(0)) is None


@given(
    st.lists(st.floats(-80.0, -20.0), min_size=20, max_size=60), st.floats(-40.0, 40.0),
)
def test_a_gain_changes_nothing_and_it_is_a_share(levels: list[float], gain_db: float) -> None:
    level = np.round(np.array(levels), 3)
    share, louder = pauses(level), pauses(level + round(gain_db))
    assert (share is None) == (louder is None)
    if share is not None and louder is not None:
        assert 0.0 <= share <= 1.0
        assert share == pytest.approx(louder, abs=2 / level.size)


def test_backwards_it_pauses_as_long() -> None:
    level = bouts((QUIET, 12), (LOUD, 4), (QUIET, 24))
    assert pauses(level) == pauses(level[::-1])
