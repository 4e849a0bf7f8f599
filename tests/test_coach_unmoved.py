from __future__ import annotations

import pytest

from tuner.causes.rules import load_causes
from tuner.coach import Coach
from tuner.coach.unmoved import PAUSELESS_DB, SAME_DB, SETTINGS, Unmoved, without
from tuner.rig import Channel, Rig
from tuner.terms import Heard, Levels, Question, Reading, SoundKind

SILENCE = load_causes().silence
RIG = Rig(channel=Channel(vent_hole_m=0.012))


def reading(shares: dict[SoundKind, float], level_db: float = -60.0, excess_db: float = 0.3) -> Reading:
    levels = Levels(level_db + 1, level_db + 2, level_db + 1, level_db, level_db + 5, (1000.0,), (level_db,))
    heard = tuple(Heard(kind, share, share, excess_db, None, 1) for kind, share in shares.items())
    return Reading(20.0, 20.0, levels, (), heard, None, 0.0)


def told(readings: list[Reading]) -> list[tuple[SoundKind, ...]]:
    unmoved = Unmoved()
    return [unmoved.of(r, moves, SILENCE) for moves, r in enumerate(readings)]


@pytest.mark.parametrize("kind", ["hiss", "hum"])
def test_a_steady_sound_that_no_move_changes_is_the_rooms(kind: SoundKind) -> None:
    found = told([reading({kind: 0.8})] * SETTINGS)
    assert found == [()] * (SETTINGS - 1) + [(kind,)]


def test_listening_again_without_a_move_proves_nothing() -> None:
    unmoved = Unmoved()
    assert {unmoved.of(reading({"hiss": 0.8}), 1, SILENCE) for _ in range(3 * SETTINGS)} == {()}


def test_a_hiss_that_follows_the_moves_stays_the_drains() -> None:
    steps = [-60.0 + 2 * SAME_DB * i for i in range(3 * SETTINGS)]
    assert set(told([reading({"hiss": 0.8}, level_db) for level_db in steps])) == {()}


def test_a_sound_that_pauses_or_stands_beside_a_drains_proves_nothing() -> None:
    assert set(told([reading({"hiss": 0.8}, excess_db=2 * PAUSELESS_DB)] * 2 * SETTINGS)) == {()}
    assert set(told([reading({"hiss": 0.8, "trickle": 0.5})] * 2 * SETTINGS)) == {()}
    assert set(told([reading({"gurgle": 0.9})] * 2 * SETTINGS)) == {()}


def test_only_what_is_said_of_the_kind_goes() -> None:
    heard = reading({"hiss": 0.8, "trickle": 0.5})
    left = without(heard, ("hiss",))
    assert [h.kind for h in left.heard] == ["trickle"]
    assert left.levels == heard.levels
    assert without(heard, ()) is heard


def test_the_coach_stops_turning_for_the_rooms_hiss_and_says_so() -> None:
    coach = Coach(RIG)
    for _ in range(40):
        coach.hear_reading(reading({"hiss": 0.9}))
        step = coach.advise()
        if isinstance(step, Question):
            coach.look(step.id, None)
            step = coach.advise()
        if step is None:
            break
        assert not isinstance(step, Question)
        coach.did(step)
    assert coach.summary().moves <= 8
    assert "taken for the room's" in coach.summary().text
