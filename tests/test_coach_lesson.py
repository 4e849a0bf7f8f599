"""The lesson turns the valve little by little, within the safety rules, and always knows the way back."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tuner.coach import safety
from tuner.coach.handwork import hand_for, hands_of
from tuner.coach.lesson import MOST_CLOSING, MOST_OPENING, Lesson
from tuner.rigfile import typical_rig
from tuner.signatures.taught import Taught
from tuner.terms import Heard, Levels, Reading, SoundKind

RIG = typical_rig()
HAND = hand_for(hands_of(RIG), "siphon valve")
assert HAND is not None
SILENCE = Levels(30.0, 30.0, 30.0, 30.0, 30.0, (), ())


def reading(*heard: tuple[SoundKind, float]) -> Reading:
    kinds = tuple(Heard(kind, share, share, 15.0, None, 3) for kind, share in heard)
    return Reading(20.0, 20.0, SILENCE, (), kinds, None, 0.0)


def test_a_slurp_is_sought_by_opening_a_gurgle_by_closing() -> None:
    for part, way in (("slurp", 1.0), ("gurgle", -1.0)):
        lesson = Lesson(RIG)
        assert not lesson.heard(part, reading())  # type: ignore[arg-type]
        step = lesson.towards(part)  # type: ignore[arg-type]
        assert step is not None
        assert step.control == "siphon valve"
        assert np.sign(step.amount) == way
        assert abs(step.amount) <= 2 * HAND.finest + 1e-9
        assert step.wait_s >= 60.0


@pytest.mark.parametrize("kind", ["slurp", "gurgle"])
def test_the_sound_is_known_when_it_comes(kind: Taught) -> None:
    lesson = Lesson(RIG)
    assert lesson.heard(kind, reading((kind, 0.4)))
    assert not lesson.heard(kind, reading(("trickle", 0.4)))


def test_the_way_back_ends_where_it_began() -> None:
    lesson = Lesson(RIG)
    for part in ("slurp", "slurp", "slurp", "slurp"):
        step = lesson.towards(part)  # type: ignore[arg-type]
        assert step is not None
        lesson.did(step.amount)
    assert lesson.away > 0
    for _ in range(10):
        step = lesson.back()
        if step is None:
            break
        assert step.amount < 0
        lesson.did(step.amount)
    assert lesson.away == pytest.approx(0.0)
    assert lesson.back() is None


def test_an_emergency_stops_the_lesson_and_opens_at_once() -> None:
    lesson = Lesson(RIG)
    step = lesson.towards("gurgle")
    assert step is not None
    lesson.did(step.amount)
    lesson.heard("gurgle", reading(("roar", 0.9), ("gurgle", 0.5)))
    assert lesson.emergency
    assert lesson.towards("gurgle") is None
    assert "emergency pipe" in lesson.ending
    back = lesson.back()
    assert back is not None
    assert back.amount == pytest.approx(-step.amount)
    assert "at once" in back.why
    lesson.did(back.amount)
    assert not lesson.emergency


def test_a_roar_while_listening_counts_as_one() -> None:
    lesson = Lesson(RIG, away=-0.25)
    lesson.roared()
    assert lesson.emergency
    assert lesson.roaring
    assert lesson.towards("gurgle") is None
    back = lesson.back()
    assert back is not None
    lesson.did(back.amount)
    assert not lesson.roaring


def test_a_gurgling_channel_is_not_sent_more_water() -> None:
    lesson = Lesson(RIG)
    lesson.heard("gurgle", reading(("gurgle", 0.9)))
    assert lesson.towards("gurgle") is None
    assert "not sent more water" in lesson.ending


def test_a_flushing_channel_is_not_sent_more_water_but_what_was_opened_is_taken_back() -> None:
    lesson = Lesson(RIG)
    lesson.heard("gurgle", reading(("flush", 0.6)))
    assert lesson.towards("gurgle") is None
    assert "flushing" in lesson.ending
    lesson.did(0.25)
    lesson.heard("slurp", reading(("flush", 0.6)))
    back = lesson.back()
    assert back is not None
    assert back.amount < 0


def test_with_a_little_gurgle_it_closes_by_half_the_first_size_at_most() -> None:
    lesson = Lesson(RIG)
    lesson._turns = 30  # as after many turns in vain, which grow
    lesson.heard("gurgle", reading(("gurgle", 0.25)))
    step = lesson.towards("gurgle")
    assert step is not None
    assert abs(step.amount) == pytest.approx(max(HAND.first / 2, HAND.finest))


@settings(max_examples=25, deadline=None)
@given(parts=st.lists(st.sampled_from(["slurp", "gurgle"]), min_size=1, max_size=25), heard=st.floats(0.0, 0.49))
def test_closing_never_passes_the_safety_rules(parts: list[Taught], heard: float) -> None:
    lesson = Lesson(RIG)
    for part in parts:
        lesson.heard(part, reading(("gurgle", heard)))
        step = lesson.towards(part)
        if step is None:
            continue
        assert abs(step.amount) <= HAND.limit(step.amount) + 1e-9
        lesson.did(step.amount)
        assert -lesson.away / HAND.full <= MOST_CLOSING + 1e-9 < safety.MOST_CLOSING
        assert lesson.away / HAND.full <= MOST_OPENING + 1e-9
        lesson.begin()


def test_it_gives_up_opening_in_the_end() -> None:
    lesson = Lesson(RIG)
    for _ in range(60):
        step = lesson.towards("slurp")
        if step is None:
            break
        lesson.did(step.amount)
    assert lesson.towards("slurp") is None
    assert "half its travel" in lesson.ending


def test_it_gives_up_closing_much_sooner() -> None:
    lesson = Lesson(RIG)
    for _ in range(60):
        lesson.reheard(reading())
        step = lesson.towards("gurgle")
        if step is None:
            break
        lesson.did(step.amount)
    assert -MOST_CLOSING * HAND.full - 1e-9 <= lesson.away < 0
    assert "a fifth of its travel" in lesson.ending


def test_a_valve_that_may_be_nearly_shut_is_not_closed_to_its_stop() -> None:
    lesson = Lesson(RIG)
    while (step := lesson.towards("gurgle")) is not None:  # nothing was heard that tells how far open it is
        lesson.did(step.amount)
    assert "never closed fully" in lesson.ending
