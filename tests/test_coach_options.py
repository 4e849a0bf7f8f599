"""Which planned moves are open in the course of a session, and which come first."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.test_coach_belief import RIG, reading
from tests.test_coach_parking import HANDS, prospect, silent_course
from tuner.coach.course import Course
from tuner.coach.handwork import hand_for, hands_of
from tuner.coach.options import BOLDER, bolder, leads_to_noise, open_moves, turns_back_in_silence, within_half
from tuner.coach.planning import Plan, Prospect
from tuner.terms import Step


@pytest.mark.parametrize(("quiet", "allowed"), [(0.1, False), (0.9, True)])
def test_a_move_turns_back_by_more_than_half_only_where_it_most_probably_brings_silence(
    quiet: float, allowed: bool
) -> None:
    course, hand = Course(), hands_of(RIG)[0]
    back = Prospect(hand, 0.5, 0.0, quiet, 0.0, 0.0, 0.0, 0.0, 60.0)
    assert within_half(course, back)
    course.moved(hand, -0.25, None, 60.0)
    assert within_half(course, back) is allowed
    assert within_half(course, replace(back, amount=-0.5))
    assert within_half(course, replace(back, amount=0.125))


def test_no_move_turns_back_what_was_turned_in_a_silence_that_held() -> None:
    course = silent_course("siphon valve", 0.25)
    hand = hand_for(HANDS, "siphon valve")
    assert hand is not None
    assert not turns_back_in_silence(course, prospect("siphon valve", 0.125))
    assert not turns_back_in_silence(course, prospect("vent tap", -0.125))  # was not moved
    # the move out of a noise may have gone too far
    assert not turns_back_in_silence(course, prospect("siphon valve", -0.125))
    course.moved(hand, 0.125, None, 60.0)
    course.heard(reading({}), None)
    assert turns_back_in_silence(course, prospect("siphon valve", -0.0625))
    course.moved(hand, 0.125, None, 60.0)
    course.heard(reading({"slurp": 0.3}), "siphon over-open")  # now an edge was met
    assert not turns_back_in_silence(course, prospect("siphon valve", -0.0625))


@pytest.mark.parametrize(
    ("amount", "tapped", "noisy"),
    [(-0.125, False, False), (-0.25, False, True), (-0.5, False, True), (0.25, False, False), (-0.25, True, False)],
)
def test_a_move_leads_to_noise_where_it_goes_to_a_setting_that_was_noisy_or_beyond_and_nothing_else_was_moved(
    amount: float, tapped: bool, noisy: bool
) -> None:
    course = silent_course("siphon valve", 0.25)
    if tapped:
        tap = hand_for(HANDS, "vent tap")
        assert tap is not None
        course.moved(tap, 0.5, None, 60.0)
    assert leads_to_noise(course, prospect("siphon valve", amount)) == noisy
    assert not leads_to_noise(course, prospect("vent tap", amount))


def test_a_setting_that_fell_silent_after_a_while_is_not_a_noisy_one() -> None:
    course = Course()
    course.heard(reading({"slurp": 0.3}), "siphon over-open")
    course.heard(reading({}), None)
    course.moved(HANDS[0], -0.25, None, 60.0)
    course.heard(reading({}), None)
    assert not leads_to_noise(course, prospect("siphon valve", 0.25))


def test_open_moves_are_worth_more_than_none_and_were_not_left_out() -> None:
    course = Course()
    closing, opening = (prospect("siphon valve", amount) for amount in (-0.125, 0.125))
    worthless = replace(prospect("vent tap", 0.5), worth=0.1)
    found = Plan((opening, closing, worthless), 0.2, 0.3)
    assert open_moves(found, course) == (opening, closing)
    course.left_out(Step("siphon valve", 0.25, "turn", 60.0, ""), 0.0)
    assert open_moves(found, course) == (closing,)


def test_after_a_move_that_changed_nothing_a_larger_one_the_same_way_comes_first() -> None:
    course = silent_course("siphon valve", 0.25)
    course.moved(HANDS[0], 0.25, None, 60.0)
    course.heard(reading({}), None)  # led by silence twice, and as loud
    small, large = prospect("siphon valve", 0.25), replace(prospect("siphon valve", 0.25 * BOLDER), worth=0.9)
    back = prospect("siphon valve", -0.5)
    assert bolder(course, (small, large, back)) == (large, small, large, back)
    dear = replace(large, worth=0.5)
    assert bolder(course, (small, dear)) == (small, dear)
    assert bolder(Course(), (small, large)) == (small, large)
