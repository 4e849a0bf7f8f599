from __future__ import annotations

import pytest

from tests.bench.looking import next_step
from tuner.causes.rules import load_causes
from tuner.coach import Coach
from tuner.coach.unmoved import PAUSELESS_DB, SAME_DB, SETTINGS, Unmoved, without_hiss
from tuner.rig import Channel, Rig
from tuner.terms import Floor, Heard, Levels, Reading, SoundKind, Step

SILENCE = load_causes().silence
RIG = Rig(channel=Channel(vent_hole_m=0.012))
FLOOR = Floor(Levels(-69.0, -68.0, -69.0, -70.0, -65.0, (1000.0,), (-70.0,)), 30.0, 29.0)


def reading(shares: dict[SoundKind, float], level_db: float = -60.0, excess_db: float = 0.3) -> Reading:
    levels = Levels(level_db + 1, level_db + 2, level_db + 1, level_db, level_db + 5, (1000.0,), (level_db,))
    heard = tuple(Heard(kind, share, share, excess_db, None, 1) for kind, share in shares.items())
    return Reading(20.0, 20.0, levels, (), heard, None, 0.0)


def told(readings: list[Reading]) -> list[bool]:
    unmoved = Unmoved()
    return [unmoved.is_rooms(r, moves, SILENCE) for moves, r in enumerate(readings)]


@pytest.mark.parametrize("beside", [{}, {"hum": 0.5}])
def test_a_steady_hiss_that_no_move_changes_is_the_rooms(beside: dict[SoundKind, float]) -> None:
    assert told([reading({"hiss": 0.8, **beside})] * SETTINGS) == [False] * (SETTINGS - 1) + [True]


def test_listening_again_without_a_move_proves_nothing() -> None:
    unmoved = Unmoved()
    assert not any(unmoved.is_rooms(reading({"hiss": 0.8}), 1, SILENCE) for _ in range(3 * SETTINGS))


def test_a_hiss_that_follows_the_moves_stays_the_drains() -> None:
    steps = [-60.0 + 2 * SAME_DB * i for i in range(3 * SETTINGS)]
    assert not any(told([reading({"hiss": 0.8}, level_db) for level_db in steps]))


@pytest.mark.parametrize(
    "heard",
    [reading({"hiss": 0.8}, excess_db=2 * PAUSELESS_DB), reading({"hiss": 0.8, "trickle": 0.5}),
     reading({"gurgle": 0.9}), reading({"hum": 0.9})],
)
def test_what_pauses_stands_beside_a_drain_or_is_no_hiss_proves_nothing(heard: Reading) -> None:
    assert not any(told([heard] * 2 * SETTINGS))


def test_only_what_is_said_of_the_hiss_goes() -> None:
    heard = reading({"hiss": 0.8, "hum": 0.5})
    left = without_hiss(heard)
    assert [h.kind for h in left.heard] == ["hum"]
    assert left.levels == heard.levels


def tuned(coach: Coach, readings: list[Reading]) -> Coach:
    for heard in readings:
        coach.hear_reading(heard)
        step = next_step(coach)
        if step is None:
            break
        assert isinstance(step, Step)
        coach.did(step)
    return coach


def test_the_coach_stops_turning_for_the_rooms_hiss_and_says_so() -> None:
    coach = tuned(Coach(RIG), [reading({"hiss": 0.9})] * 40)
    assert coach.summary().moves <= 8
    assert "taken for the room's" in coach.summary().text


def test_over_a_measured_room_a_hiss_that_wavers_and_follows_no_move_is_a_pumps_or_a_returns() -> None:
    wavering = [reading({"hiss": 0.4 + 0.5 * (i % 2)}, -60.0 + 3.0 * (i % 3), excess_db=6.0) for i in range(90)]
    coach = tuned(Coach(RIG, FLOOR), wavering)
    assert coach.summary().moves <= 10
    said = coach.summary().text
    assert "of a pump or a return" in said or "pump drawing air is still heard" in said
