from __future__ import annotations

from dataclasses import replace

import pytest

from tests.test_coach_coach import RIG, heard_as, next_step
from tuner.coach import Coach
from tuner.coach.course import MOST_NOISY_VISITS, Course
from tuner.coach.handwork import hand_for, hands_of
from tuner.coach.instructions import BETWEEN_STEPS
from tuner.coach.questions import EMERGENCY_DRY
from tuner.coach.safety import MOST_EMERGENCY
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


def roaring_on(level_db: float = -40.0, instructed: bool = True, gulps: float = 0.5) -> Course:
    course = Course(instructed={"emergency carrying flow"} if instructed else set())
    hand = hand_for(HANDS, "siphon valve")
    assert hand is not None
    for number in range(MOST_EMERGENCY + 1):
        last = number == MOST_EMERGENCY
        shares: dict[SoundKind, float] = {"slurp": gulps, "roar": 0.5}
        course.heard(heard_as(shares, level_db=level_db if last else -40.0), "emergency carrying flow")
        if not last:
            course.moved(hand, 0.125, "emergency carrying flow", 60.0)
    return course


def test_a_roar_that_nothing_done_for_the_emergency_pipe_has_touched_is_not_that_pipes() -> None:
    assert roaring_on().roared_vainly
    assert roaring_on().vainly, "and what was opened for it is taken back"
    assert not roaring_on(instructed=False).roared_vainly, "a blockage is looked for first"
    assert not roaring_on(level_db=-50.0).roared_vainly, "it grew weaker"
    assert not roaring_on(gulps=0.0).roared_vainly, "where nothing gulps the box may well be full"


def test_a_roar_is_the_emergency_pipes_again_after_silence_and_once_water_is_seen_to_run() -> None:
    course = roaring_on()
    course.heard(heard_as({}), None)
    course.heard(heard_as({"slurp": 0.5, "roar": 0.5}), "emergency carrying flow")
    assert not course.roared_vainly
    course = roaring_on()
    course.looked(EMERGENCY_DRY.id, "yes", {"emergency carrying flow": 4.0})
    assert not course.roared_vainly


def test_moves_for_the_emergency_pipe_count_since_silence_whatever_was_moved_between() -> None:
    course = roaring_on()
    moved(course, -0.0625)
    assert course.emergency_moves() == MOST_EMERGENCY
    course.heard(heard_as({}), None)
    assert course.emergency_moves() == 0


def test_moves_are_tried_since_the_last_instruction() -> None:
    course = Course()
    for tried in (1, 2):
        moved(course, 0.125)
        assert course.tried() == tried
    course.instruct("weir drop")
    assert course.tried() == 0


@pytest.mark.parametrize("other_side", [True, False])
def test_the_fourth_time_at_the_same_noisy_settings_ends_the_moves_around_them(other_side: bool) -> None:
    course = Course()
    to_and_fro = [0.0625, -0.0625] * (MOST_NOISY_VISITS - 2)
    for amount in (0.25, -0.25, *((-0.0625, 0.0625) if other_side else (0.0625, -0.0625)), *to_and_fro):
        assert course.stuck() is None
        moved(course, amount)
        course.heard(heard_as(GULPS), "siphon over-open")
    # where one side was never tried, that is still to be done
    assert course.stuck() == (("siphon valve", BETWEEN_STEPS) if other_side else None)
    moved(course, 0.5, "vent tap")
    course.heard(heard_as(GULPS), "siphon over-open")
    assert course.stuck() is None, "other air is another setting"
