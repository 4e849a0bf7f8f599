from __future__ import annotations

from dataclasses import replace
from math import inf

import pytest

from tests.test_coach_belief import paused, reading
from tuner.coach.signs import (
    cycle_s,
    falls,
    flushing_most,
    gulps_alone,
    gulps_dry,
    gurgles_beside,
    may_be_full,
    overfull,
    roaring_much,
    without_faint_roar,
)
from tuner.terms import Cause, Diagnosis, Heard, SoundKind


@pytest.mark.parametrize(
    ("shares", "most"),
    [({"flush": 0.3}, True), ({"flush": 0.3, "slurp": 0.2}, True), ({"flush": 0.3, "slurp": 0.5}, False),
     ({"flush": 0.1}, False), ({"slurp": 0.5}, False)],
)
def test_a_channel_flushes_most_where_it_fills_more_of_the_time_than_gulps(
    shares: dict[SoundKind, float], most: bool
) -> None:
    assert flushing_most(reading(shares)) == most


@pytest.mark.parametrize(
    ("shares", "dry"), [({"slurp": 0.3}, True), ({"slurp": 0.3, "flush": 0.2}, False), ({"slurp": 0.1}, False)]
)
def test_a_siphon_gulps_dry_where_no_flush_stands_beside_it(shares: dict[SoundKind, float], dry: bool) -> None:
    assert gulps_dry(reading(shares)) == dry


@pytest.mark.parametrize(
    ("shares", "much"), [({"roar": 0.4}, True), ({"roar": 0.4, "flush": 0.5}, False), ({"roar": 0.2}, False)]
)
def test_a_roar_counts_as_the_emergency_pipes_unless_it_is_a_flushs(
    shares: dict[SoundKind, float], much: bool
) -> None:
    assert roaring_much(reading(shares), inf) == much


@pytest.mark.parametrize(
    ("shares", "opened", "too_much"),
    [({"gurgle": 0.6}, 0.5, True), ({"gurgle": 0.6, "slurp": 0.5}, 0.0, True),
     ({"gurgle": 0.6, "slurp": 0.5}, 0.5, False), ({"gurgle": 0.25}, 0.0, False)],
)
def test_a_channel_is_overfull_where_it_gurgles_much_and_no_opened_siphon_gulps(
    shares: dict[SoundKind, float], opened: float, too_much: bool
) -> None:
    assert overfull(reading(shares), opened) == too_much


@pytest.mark.parametrize(
    ("shares", "opened", "beside"),
    [({"gurgle": 0.3, "slurp": 0.4}, 0.0, True), ({"gurgle": 0.3, "slurp": 0.4}, 0.5, False),
     ({"gurgle": 0.3}, 0.5, True), ({"gurgle": 0.1, "slurp": 0.4}, 0.0, False)],
)
def test_a_gurgle_stands_beside_gulps_unless_an_opened_siphon_makes_it(
    shares: dict[SoundKind, float], opened: float, beside: bool
) -> None:
    assert gurgles_beside(reading(shares), opened) == beside


def test_a_full_channel_does_not_rest_and_gulps_do() -> None:
    both: dict[SoundKind, float] = {"gurgle": 0.5, "slurp": 0.4}
    assert overfull(paused(both, 0.0), 0.0)
    assert not overfull(paused(both, 0.6), 0.0)
    assert gulps_dry(paused(both, 0.6))
    assert not gulps_dry(paused(both, 0.0)), "what never rests may be a full channel's"


def test_a_roar_hardly_louder_than_the_room_is_not_the_emergency_pipes() -> None:
    roar = reading({"roar": 0.6})
    level_db = roar.levels.laeq_db
    assert roaring_much(roar, level_db - 10.0)
    assert not roaring_much(roar, level_db - 3.0)


def test_a_faint_roar_is_hardly_the_emergency_pipes_in_the_diagnosis_either() -> None:
    roar = reading({"roar": 0.6})
    causes = (Cause("emergency carrying flow", 0.7, ("x",)), Cause("weir drop", 0.2, ("y",)))
    diagnosis = Diagnosis(False, (), causes, roar)
    faint = without_faint_roar(diagnosis, roar.levels.laeq_db - 3.0)
    assert faint.causes[0].name == "weir drop"
    assert faint.causes[1].probability < 0.1
    assert sum(c.probability for c in faint.causes) == pytest.approx(0.9)
    assert without_faint_roar(diagnosis, roar.levels.laeq_db - 10.0) is diagnosis
    assert without_faint_roar(diagnosis, inf) is diagnosis
    assert without_faint_roar(replace(diagnosis, causes=()), roar.levels.laeq_db).causes == ()


def test_what_gulps_and_rests_roars_with_the_siphons_own_voice() -> None:
    both: dict[SoundKind, float] = {"roar": 0.5, "slurp": 0.4}
    assert roaring_much(paused(both, 0.0), inf)
    assert not roaring_much(paused(both, 0.6), inf)
    assert roaring_much(paused({"roar": 0.5}, 0.6), inf)


@pytest.mark.parametrize(
    ("shares", "pauses", "doubtful"),
    [({"slurp": 0.6, "gurgle": 0.3}, 0.0, True), ({"slurp": 0.6, "splash": 0.3}, 0.1, True),
     ({"slurp": 0.6}, 0.0, False),
     ({"slurp": 0.6, "gurgle": 0.3}, 0.5, False), ({"slurp": 0.6, "gurgle": 0.3}, None, False)],
)
def test_gulps_that_never_rest_may_be_a_full_channel_where_it_is_heard_beside(
    shares: dict[SoundKind, float], pauses: float | None, doubtful: bool
) -> None:
    assert may_be_full(paused(shares, pauses), cycled=False) == doubtful


@pytest.mark.parametrize(("beside", "doubtful"), [("splash", False), ("gurgle", True), ("roar", True)])
def test_a_splash_beside_gulps_that_return_in_a_cycle_is_no_full_channels(beside: SoundKind, doubtful: bool) -> None:
    heard = paused({"slurp": 0.4, beside: 0.9}, 0.0)
    assert may_be_full(heard, cycled=True) == doubtful
    assert gulps_alone(heard, told=True) != doubtful


@pytest.mark.parametrize(
    ("period_s", "events", "returning_s"), [(7.0, 3, 7.0), (7.0, 2, None), (None, 5, None)]
)
def test_gulps_return_where_a_period_is_borne_out_by_three_of_them(
    period_s: float | None, events: int, returning_s: float | None
) -> None:
    gulps = replace(reading({"slurp": 0.4}), heard=(Heard("slurp", 0.4, 0.4, 20.0, period_s, events),))
    assert cycle_s(gulps) == returning_s
    assert cycle_s(reading({"gurgle": 0.9})) is None


@pytest.mark.parametrize(
    ("shares", "pauses", "alone"),
    [({"slurp": 0.3}, 0.6, True), ({"slurp": 0.3}, None, True), ({"slurp": 0.3, "splash": 0.9}, 0.6, True),
     ({"slurp": 0.3, "gurgle": 0.2}, 0.6, False), ({"slurp": 0.3, "flush": 0.2}, 0.6, False),
     ({"slurp": 0.3}, 0.0, False), ({}, 0.6, False)],
)
def test_gulps_are_alone_where_they_rest_and_nothing_of_a_full_channel_is_heard(
    shares: dict[SoundKind, float], pauses: float | None, alone: bool
) -> None:
    assert gulps_alone(paused(shares, pauses), told=False) == alone


@pytest.mark.parametrize(
    ("shares", "told", "alone"),
    [({"slurp": 0.3, "splash": 0.9}, True, True), ({"slurp": 0.3, "splash": 0.9}, False, False),
     ({"slurp": 0.3, "splash": 0.05}, True, False), ({"slurp": 0.3, "splash": 0.9, "gurgle": 0.2}, True, False)],
)
def test_gulps_beside_a_splash_that_fills_the_pauses_are_alone_once_opening_did_not_quiet_them(
    shares: dict[SoundKind, float], told: bool, alone: bool
) -> None:
    assert gulps_alone(paused(shares, 0.0), told=told) == alone


@pytest.mark.parametrize(
    ("shares", "told"),
    [({"splash": 0.5}, True), ({"roar": 0.5}, True), ({"splash": 0.5, "slurp": 0.1}, False),
     ({"splash": 0.5, "gurgle": 0.5}, False), ({"hiss": 0.5}, False), ({}, False)],
)
def test_water_is_heard_to_fall_where_nothing_bubbles(shares: dict[SoundKind, float], told: bool) -> None:
    assert falls(reading(shares)) == told
