from __future__ import annotations

from dataclasses import replace

import pytest

from tests.test_coach_coach import RIG, heard_as, next_step
from tuner.coach import Coach
from tuner.coach.course import Course
from tuner.coach.handwork import hand_for, hands_of
from tuner.coach.wording import LOUD_SINCE
from tuner.terms import Control, SoundKind, Step

HANDS = hands_of(RIG)
GULPS: dict[SoundKind, float] = {"slurp": 0.5}


def moved(course: Course, amount: float, control: Control = "siphon valve") -> None:
    hand = hand_for(HANDS, control)
    assert hand is not None
    course.moved(hand, amount, None, 60.0)


@pytest.mark.parametrize(
    ("control", "amount", "levels_db", "loud"),
    [
        ("siphon valve", -0.25, (-30.0, -30.0), True),
        ("return pump", 5.0, (-30.0, -30.0), True),
        ("siphon valve", 0.25, (-30.0, -30.0), False),
        ("siphon valve", -0.25, (-30.0,), False),
        ("siphon valve", -0.25, (-30.0, -38.0), False),
    ],
)
def test_loud_since_closing_counts_readings_that_are_covered_and_far_louder(
    control: Control, amount: float, levels_db: tuple[float, ...], loud: bool
) -> None:
    course = Course()
    course.heard(heard_as(GULPS, level_db=-40.0), "siphon over-open")
    moved(course, amount, control)
    for level_db in levels_db:
        course.covered(heard_as({}, level_db=level_db, outside=0.9))
    assert course.loud_since_closing() is loud
    course.heard(heard_as(GULPS, level_db=-40.0), "siphon over-open")
    assert not course.loud_since_closing(), "it was heard through in between"


def test_a_closing_after_which_a_din_covers_everything_is_taken_back() -> None:
    coach = Coach(RIG)
    closing = next_step(coach, heard_as(GULPS, level_db=-40.0))
    assert closing is not None
    assert closing.amount != 0
    coach.did(closing)
    din = heard_as({}, level_db=-20.0, outside=0.95)
    first = next_step(coach, din)
    assert first is not None
    assert first.amount == 0, "a passing noise is waited for"
    back = next_step(coach, din)
    assert back is not None
    assert (back.control, back.amount, back.why) == (closing.control, -closing.amount, LOUD_SINCE)
    coach.did(back)
    third = next_step(coach, din)
    assert third is not None
    assert third.amount == 0, "what was taken back is not taken back again"


def test_a_step_that_was_left_out_is_open_again_after_a_move() -> None:
    course = Course()
    step = Step("vent tap", 0.5, "turn", 30.0, "")
    course.left_out(step, 0.5)
    assert not course.declined, "it was done"
    course.left_out(step, 0.0)
    assert course.declined == {("vent tap", 1)}
    course.left_out(replace(step, amount=0.0), 0.0)
    course.left_out(None, 0.0)
    assert course.declined == {("vent tap", 1)}
    moved(course, 0.25)
    assert not course.declined


def test_a_cause_leads_once_after_a_move_until_it_leads_again_or_few_hearings_have_passed() -> None:
    course = Course()
    course.heard(heard_as(GULPS), "weir drop")
    assert not course.led_once("weir drop"), "nothing was moved yet"
    moved(course, 0.25)
    course.heard(heard_as(GULPS), "weir drop")
    assert course.led_once("weir drop")
    course.heard(heard_as(GULPS), "pump hum")
    assert course.led_once("pump hum")
    course.heard(heard_as(GULPS), "weir drop")
    assert not course.led_once("weir drop")
    course.heard(heard_as(GULPS), "unknown")
    assert not course.led_once("unknown"), "four hearings are enough"
