"""How loud a regime should be: the line of level over excess that each guess learns, against least squares."""

from __future__ import annotations

from dataclasses import fields, replace
from math import inf
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.test_coach_belief import reading
from tuner.coach.loudness import (
    MEASURED_SPREAD_DB,
    REGIMES,
    SLOPE_DB,
    SLOPE_SPREAD_DB,
    USUAL_DB,
    USUAL_SPREAD_DB,
    graded,
    heard_level,
    usual_loudness,
    without_room,
)
from tuner.terms import SoundKind

TRICKLING = REGIMES.index("trickling")


def silent(n: int) -> Any:
    """Guesses that make nothing heard."""
    none, one = np.zeros(n), np.ones(n)
    return SimpleNamespace(
        channel=none, gurgle_flow=one, jet_ratio=none, suction_ratio=one, gurgling=none, hissing=none, trickling=none,
        gulping=none, drawing=none, flushing=none, slurp_rest=one, flush_rest=one,
    )


def trickling(*excess: float) -> Any:
    """Guesses that all trickle, each with its missing share of suction, and make nothing else heard."""
    guesses = silent(len(excess))
    guesses.trickling, guesses.suction_ratio = np.ones(len(excess)), 1 - np.array(excess)
    return guesses


def after(*looks: tuple[float, float]) -> Any:
    """Return the estimate of one guess after levels (dB) at excesses."""
    lines = usual_loudness(1, over_room=True)
    for excess, level in looks:
        _, lines = graded(lines, trickling(excess), level)
    return lines


@given(st.lists(st.tuples(st.floats(0.05, 0.95), st.floats(0.0, 45.0)), min_size=1, max_size=6))
def test_the_line_is_that_of_regularised_least_squares(looks: list[tuple[float, float]]) -> None:
    # Bayesian linear regression in closed form (Bishop, Pattern Recognition and Machine Learning, 3.50 and 3.51)
    x = np.array([[1.0, np.log10(excess)] for excess, _ in looks])
    prior = np.diag([USUAL_SPREAD_DB**-2, SLOPE_SPREAD_DB**-2])
    covariance = np.linalg.inv(prior + x.T @ x / MEASURED_SPREAD_DB**2)
    levels = np.array([level for _, level in looks])
    mean = covariance @ (prior @ [USUAL_DB, SLOPE_DB] + x.T @ levels / MEASURED_SPREAD_DB**2)
    at = TRICKLING, 0
    lines = after(*looks)
    assert [lines.mean_db[at], lines.slope_db[at]] == pytest.approx(list(mean), rel=1e-6, abs=1e-6)
    got = [[lines.variance[at], lines.shared[at]], [lines.shared[at], lines.slope_variance[at]]]
    assert np.asarray(got) == pytest.approx(covariance, rel=1e-6, abs=1e-6)


def test_a_level_that_stays_speaks_for_an_edge_that_is_far() -> None:
    # of two guesses one was near its edge and would be nearer now, the other is far from it before and after
    lines = usual_loudness(2, over_room=False)
    _, lines = graded(lines, trickling(0.2, 0.8), -50.0)
    likely, _ = graded(lines, trickling(0.06, 0.76), -50.0)
    assert likely[1] > likely[0] + 1.0
    fell, _ = graded(lines, trickling(0.06, 0.76), -56.0)
    assert fell[0] > fell[1] + 1.0


def test_a_level_that_grows_as_the_siphon_opens_speaks_for_gulps_whatever_they_sound_like() -> None:
    # one guess gulps, and after the opening three times as much of the time; the other gurgles, and nearer its edge
    before, later = silent(2), silent(2)
    for guesses, rest, channel in ((before, 0.9, 3.0), (later, 0.7, 1.5)):
        guesses.gulping, guesses.gurgling = np.array([1.0, 0.0]), np.array([0.0, 1.0])
        guesses.slurp_rest, guesses.channel = np.full(2, rest), np.full(2, channel)
    _, lines = graded(usual_loudness(2, over_room=False), before, -50.0)
    louder, _ = graded(lines, later, -45.0)
    assert louder[0] > louder[1] + 2.0
    quieter, _ = graded(lines, later, -57.0)
    assert quieter[1] > quieter[0] + 2.0


def test_without_a_measured_room_the_first_level_tells_nothing_whatever_the_scale() -> None:
    def first(level: float) -> np.ndarray:
        likely, _ = graded(usual_loudness(2, over_room=False), trickling(0.1, 0.9), level)
        return likely - likely[0]

    assert first(-70.0) == pytest.approx(first(20.0))
    assert abs(first(-70.0)[1]) < 0.1


def test_other_regimes_and_other_guesses_keep_their_estimates() -> None:
    lines = usual_loudness(3, over_room=True)
    guesses = trickling(0.5, 0.5, 0.5)
    guesses.trickling = np.array([1.0, 0.0, 1.0])
    _, learnt = graded(lines, guesses, 40.0)
    others = [i for i in range(len(REGIMES)) if i != TRICKLING]
    for f in fields(lines):
        before, now = getattr(lines, f.name), getattr(learnt, f.name)
        assert np.array_equal(before[others], now[others])
        assert np.array_equal(before[:, 1], now[:, 1])
    taken = learnt.taken(np.array([2, 2]))
    assert taken.mean_db[TRICKLING] == pytest.approx(learnt.mean_db[TRICKLING, 2])


@pytest.mark.parametrize(
    ("shares", "tells"),
    [
        ({"trickle": 0.9}, True), ({"slurp": 0.1}, True), ({"trickle": 0.1}, False), ({}, False),
        ({"trickle": 0.9, "splash": 0.5}, False),  # what sounds beside it hides how it changes
    ],
)
def test_only_what_was_surely_heard_and_heard_alone_has_a_level(shares: dict[SoundKind, float], tells: bool) -> None:
    heard = replace(reading(shares), excess_db=9.0)
    assert heard_level(heard, over_room=True) == (9.0 if tells else None)
    assert heard_level(heard, over_room=False) == (heard.levels.laeq_db if tells else None)


def test_the_room_is_taken_off_as_power() -> None:
    assert without_room(43.0, 40.0) == pytest.approx(40.0, abs=0.05)  # twice the power: half of it is the room's
    assert without_room(40.5, 40.0) is None
    assert without_room(43.0, inf) == 43.0
    assert without_room(None, 40.0) is None
