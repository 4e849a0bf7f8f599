from __future__ import annotations

from dataclasses import replace

import pytest

from tests.test_coach_belief import RIG, reading
from tests.test_coach_safety import CALM
from tuner.coach import Coach, wording
from tuner.coach.course import Course
from tuner.coach.handwork import hand_for, hands_of
from tuner.coach.parking import (
    HOMING_GAIN,
    HOMING_QUIET,
    LONGEST_DOUBTED_S,
    LONGEST_SILENCE_S,
    MOST_HOMING,
    MOST_PARKING,
    MOST_PROBING,
    MOST_UNEASY,
    QUIET_TO_PARK,
    heard_long_enough,
    most_moves,
    parking_step,
)
from tuner.coach.planning import Plan, Prospect
from tuner.coach.questions import FIND_EDGES
from tuner.coach.surface import IN_SILENCE
from tuner.errors import ConfigError
from tuner.rig import Channel, Rig
from tuner.terms import Control, Question, Step

HANDS = hands_of(RIG)
WIDE_TAP = Rig(channel=Channel(vent_hole_m=0.016))


def prospect(control: Control, amount: float) -> Prospect:
    hand = hand_for(HANDS, control)
    assert hand is not None
    return Prospect(hand, amount, 1.0, 0.9, 0.0, 0.5, 0.0, 0.0, 60.0)


def silent_course(control: Control, amount: float) -> Course:
    course = Course()
    hand = hand_for(HANDS, control)
    assert hand is not None
    course.heard(reading({"gurgle": 0.9}), "siphon over-closed")
    course.moved(hand, amount, "siphon over-closed", 60.0)
    course.heard(reading({}), None)
    return course


def test_a_doubted_silence_may_be_moved_more_often_and_one_whose_edges_are_looked_for_most() -> None:
    assert most_moves(QUIET_TO_PARK, probing=False) == MOST_PARKING
    assert most_moves(QUIET_TO_PARK - 0.1, probing=False) == MOST_UNEASY
    assert most_moves(0.5, probing=True) == MOST_PROBING > MOST_UNEASY > MOST_PARKING


@pytest.mark.parametrize(
    ("quiet", "gain", "parkings", "found"),
    [
        (HOMING_QUIET, HOMING_GAIN, 3, True), (HOMING_QUIET, HOMING_GAIN, 3 + MOST_HOMING, False),
        (HOMING_QUIET - 0.1, HOMING_GAIN, 3, False), (HOMING_QUIET, HOMING_GAIN - 0.1, 3, False),
        (HOMING_QUIET - 0.1, HOMING_GAIN - 0.1, 2, True),
    ],
)
def test_after_the_last_move_in_silence_only_one_home_is_made(
    quiet: float, gain: float, parkings: int, found: bool
) -> None:
    move = replace(prospect("siphon valve", -0.0625), quiet=quiet, bears=0.3 + gain, worth=9.0)
    course = silent_course("siphon valve", 0.25)
    course.parkings = parkings
    plan = Plan((move,), stay=1.0, bears_now=0.3)
    assert (parking_step(plan, course, CALM, 3) is not None) == found


def until_asked(coach: Coach) -> Question | None:
    """Listen in silence until something is asked beside a look into the box, which nobody answers, or it ends."""
    for _ in range(300):
        coach.hear_reading(reading({}))
        step = coach.advise()
        if step == IN_SILENCE:
            coach.look(IN_SILENCE.id, None)
            step = coach.advise()
        if step is None or isinstance(step, Question):
            return step
        coach.did(step)
    pytest.fail("it never ended")


def test_once_silent_the_keeper_is_asked_whether_the_edges_may_be_looked_for_and_no_answer_ends_it() -> None:
    coach = Coach(WIDE_TAP)
    assert until_asked(coach) == FIND_EDGES
    coach.look(FIND_EDGES.id, None)
    assert coach.advise() is None
    assert "It is silent" in coach.summary().text


def test_a_keeper_who_agrees_gets_moves_that_find_the_edges_once_and_the_session_keeps_that() -> None:
    coach = Coach(WIDE_TAP)
    assert until_asked(coach) == FIND_EDGES
    moves = coach.summary().moves
    coach.look(FIND_EDGES.id, "yes")
    step = coach.advise()
    assert isinstance(step, Step)
    assert step.amount
    assert Coach.restore(coach.state, WIDE_TAP).advise() == step
    coach.did(step)
    assert until_asked(coach) is None  # it is not asked twice
    assert moves < coach.summary().moves <= moves + MOST_PROBING + MOST_HOMING


def test_a_recording_is_not_asked_for_moves() -> None:
    coach = Coach(RIG, hears_again=False)
    assert until_asked(coach) is None


def test_another_answer_is_refused() -> None:
    with pytest.raises(ConfigError, match="find-edges"):
        Coach(RIG).look(FIND_EDGES.id, "perhaps")


@pytest.mark.parametrize(
    ("quiet", "led", "silent_s", "enough"),
    [
        (0.98, "siphon over-open", 0.0, True), (0.8, "siphon over-closed", LONGEST_SILENCE_S, True),
        (0.8, "siphon over-closed", LONGEST_SILENCE_S - 1, False), (0.8, "siphon over-open", LONGEST_SILENCE_S, False),
        (0.93, "siphon over-open", LONGEST_SILENCE_S, True), (0.8, "vent too closed", LONGEST_DOUBTED_S, True),
    ],
)
def test_a_doubted_silence_is_listened_to_for_longer_after_a_cycle(
    quiet: float, led: str, silent_s: float, enough: bool
) -> None:
    assert heard_long_enough(quiet, Course(led=[led, "silent"], silent_s=silent_s)) == enough


def test_a_gain_too_small_to_be_told_is_not_told_as_one() -> None:
    assert "finds where the edge" in wording.parking_why(0.23, 0.234)
    assert "finds where the edge" in wording.parking_why(0.23, 0.1)
    assert "from about 23% to about 30%" in wording.parking_why(0.23, 0.3)
