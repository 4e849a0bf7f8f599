"""How loud a sound should be: the line of level over excess that each guess learns, against least squares."""

from __future__ import annotations

from dataclasses import fields
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.test_coach_belief import reading
from tuner.coach.loudness import (
    MEASURED_SPREAD_DB,
    SLOPE_DB,
    SLOPE_SPREAD_DB,
    USUAL_DB,
    USUAL_SPREAD_DB,
    graded,
    heard_levels,
    usual_loudness,
)


def trickling(*excess: float) -> Any:
    """Guesses that all trickle, each with its missing share of suction, and make nothing else heard."""
    missing = np.array(excess)
    n = np.ones(len(missing))
    return SimpleNamespace(
        channel=0 * n, gurgle_flow=n, jet_ratio=0 * n, suction_ratio=1 - missing, gurgling=0 * n, hissing=0 * n,
        trickling=n,
    )


def after(*looks: tuple[float, float]) -> Any:
    """Return the estimate of one guess after levels (dB) at excesses."""
    lines = usual_loudness(1, over_room=True)
    for excess, level in looks:
        _, lines = graded(lines, trickling(excess), (None, None, level))
    return lines


@given(st.lists(st.tuples(st.floats(0.05, 0.95), st.floats(0.0, 45.0)), min_size=1, max_size=6))
def test_the_line_is_that_of_regularised_least_squares(looks: list[tuple[float, float]]) -> None:
    # Bayesian linear regression in closed form (Bishop, Pattern Recognition and Machine Learning, 3.50 and 3.51)
    x = np.array([[1.0, np.log10(excess)] for excess, _ in looks])
    prior = np.diag([USUAL_SPREAD_DB**-2, SLOPE_SPREAD_DB**-2])
    covariance = np.linalg.inv(prior + x.T @ x / MEASURED_SPREAD_DB**2)
    levels = np.array([level for _, level in looks])
    mean = covariance @ (prior @ [USUAL_DB, SLOPE_DB] + x.T @ levels / MEASURED_SPREAD_DB**2)
    lines = after(*looks)
    assert [lines.mean_db[2, 0], lines.slope_db[2, 0]] == pytest.approx(list(mean), rel=1e-6, abs=1e-6)
    got = [[lines.variance[2, 0], lines.shared[2, 0]], [lines.shared[2, 0], lines.slope_variance[2, 0]]]
    assert np.asarray(got) == pytest.approx(covariance, rel=1e-6, abs=1e-6)


def test_a_level_that_stays_speaks_for_an_edge_that_is_far() -> None:
    # of two guesses one was near its edge and would be nearer now, the other is far from it before and after
    lines = usual_loudness(2, over_room=False)
    _, lines = graded(lines, trickling(0.2, 0.8), (None, None, -50.0))
    likely, _ = graded(lines, trickling(0.06, 0.76), (None, None, -50.0))
    assert likely[1] > likely[0] + 1.0
    fell, _ = graded(lines, trickling(0.06, 0.76), (None, None, -56.0))
    assert fell[0] > fell[1] + 1.0


def test_without_a_measured_room_the_first_level_tells_nothing_whatever_the_scale() -> None:
    def first(level: float) -> np.ndarray:
        likely, _ = graded(usual_loudness(2, over_room=False), trickling(0.1, 0.9), (None, None, level))
        return likely - likely[0]

    assert first(-70.0) == pytest.approx(first(20.0))
    assert abs(first(-70.0)[1]) < 0.1


def test_other_sounds_and_other_guesses_keep_their_estimates() -> None:
    lines = usual_loudness(3, over_room=True)
    quiet = trickling(0.5, 0.5, 0.5)
    quiet.trickling = np.array([1.0, 0.0, 1.0])
    _, learnt = graded(lines, quiet, (None, None, 40.0))
    for f in fields(lines):
        before, now = getattr(lines, f.name), getattr(learnt, f.name)
        assert np.array_equal(before[:2], now[:2])
        assert np.array_equal(before[:, 1], now[:, 1])
    taken = learnt.taken(np.array([2, 2]))
    assert taken.mean_db[2] == pytest.approx(learnt.mean_db[2, 2])


def test_a_sound_that_was_not_surely_heard_has_no_level() -> None:
    assert heard_levels(reading({"trickle": 0.9}), over_room=True)[2] is not None
    assert heard_levels(reading({"trickle": 0.1}), over_room=True) == (None, None, None)
