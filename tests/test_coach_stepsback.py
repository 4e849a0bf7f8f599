from __future__ import annotations

import pytest

from tests.bench.looking import next_step
from tests.test_coach_belief import RIG, reading
from tuner.coach import Coach
from tuner.coach.course import Course
from tuner.coach.handwork import hand_for, hands_of
from tuner.coach.instructions import INSTRUCTIONS, ONCE_MORE
from tuner.coach.situation import situation_of
from tuner.coach.stepsback import contradicted, faint_since, step_back, taken_back
from tuner.terms import CauseName, Control, SoundKind, Step

VALVE = hand_for(hands_of(RIG), "siphon valve")
assert VALVE is not None


def parked(coach: Coach) -> Step:
    """Hear a trickle, and then silence until a move is made in it, the keeper agreeing."""
    coach.hear_reading(reading({"trickle": 0.9}))
    for _ in range(40):
        step = next_step(coach, agrees=True)
        assert step is not None
        coach.did(step)
        if step.amount and "silent" in step.why:
            return step
        coach.hear_reading(reading({}))
    raise AssertionError("it never moved in silence")


def then_heard(shares: dict[SoundKind, float]) -> tuple[Coach, Step, Step]:
    coach = Coach(RIG)
    made = parked(coach)
    coach.hear_reading(reading(shares))
    step = next_step(coach)
    assert step is not None
    return coach, made, step


def test_what_comes_with_a_move_made_in_silence_is_taken_back_and_not_laid_to_an_outlet() -> None:
    coach, made, step = then_heard({"splash": 0.8})
    assert (step.control, step.amount) == (made.control, -made.amount)
    assert "came with it" in step.why
    quiet = coach._belief.expected().quiet
    coach.did(step)
    coach.hear_reading(reading({}))
    assert coach._belief.expected().quiet > quiet


def test_what_stays_where_it_was_silent_gets_its_instruction() -> None:
    coach, _, step = then_heard({"splash": 0.8})
    coach.did(step)
    coach.hear_reading(reading({"splash": 0.8}))
    again = next_step(coach)
    assert again is not None
    assert again.why == ONCE_MORE
    coach.did(again)
    coach.hear_reading(reading({"splash": 0.8}))
    then = next_step(coach)
    assert then is not None
    assert then.why in {text for _, text in INSTRUCTIONS.values()}


def test_nothing_is_taken_back_where_a_rule_forbids_it() -> None:
    course = Course()
    course.moved(VALVE, 0.25, "siphon over-closed", 60.0)
    coach = Coach(RIG)
    calm = situation_of(None, course, coach._belief, RIG)
    back = step_back(course, calm)
    assert back is not None
    assert back.amount == -0.25
    gurgling = coach.hear_reading(reading({"gurgle": 1.0}))
    assert step_back(course, situation_of(gurgling, course, coach._belief, RIG)) is None


def splashing_after(amount: float) -> Course:
    """A gurgle, a move of the siphon, and a splash."""
    course = Course()
    course.heard(reading({"gurgle": 0.9}), "siphon over-closed")
    course.moved(VALVE, amount, "siphon over-closed", 60.0)
    course.heard(reading({"splash": 0.6}), "weir drop")
    return course


def test_half_of_an_opening_is_taken_back_where_a_splash_came_with_it() -> None:
    course, coach = splashing_after(0.5), Coach(RIG)
    now = situation_of(None, course, coach._belief, RIG)
    back = taken_back("weir drop", course, now, came=False)
    assert back is not None
    assert (back.control, back.amount) == ("siphon valve", -0.25)
    assert "half the way back" in back.why
    assert taken_back("pump hum", course, now, came=False) is None
    assert taken_back("weir drop", splashing_after(-0.25), now, came=False) is None
    after_gulps = Course()
    after_gulps.heard(reading({"slurp": 0.5, "splash": 0.6}), "weir drop")
    after_gulps.moved(VALVE, -0.25, "siphon over-open", 60.0)
    after_gulps.heard(reading({"splash": 0.6}), "weir drop")
    further = taken_back("weir drop", after_gulps, now, came=False)
    assert further is not None
    assert (further.amount, "gulps no more" in further.why) == (-0.0625, True)
    assert taken_back("weir drop", Course(), now, came=False) is None


@pytest.mark.parametrize(
    ("control", "amount", "cause", "back"),
    [
        ("vent tap", -0.5, "siphon over-open", 0.5), ("vent tap", -0.5, "vent too closed", None),
        ("vent tap", 0.5, "siphon over-closed", -0.5), ("siphon valve", 0.125, "siphon over-open", None),
        ("siphon valve", 0.125, "vent too closed", -0.125), ("siphon valve", -0.125, "siphon over-closed", None),
    ],
)
def test_what_breaks_a_silence_and_cannot_have_come_of_the_move_is_not_believed(
    control: Control, amount: float, cause: CauseName, back: float | None
) -> None:
    course, hand = Course(), hand_for(hands_of(RIG), control)
    assert hand is not None
    course.heard(reading({}), None)
    course.moved(hand, amount, None, 60.0)
    course.heard(reading({"slurp": 0.4}), cause)
    step = contradicted(cause, course, situation_of(None, course, Coach(RIG)._belief, RIG))
    assert (step.amount if step else None) == back


@pytest.mark.parametrize(("before", "goes"), [({}, True), ({"gurgle": 0.5}, False)])
def test_what_came_faintly_into_a_silence_goes_with_the_move(before: dict[SoundKind, float], goes: bool) -> None:
    coach = Coach(RIG)
    course, belief = coach._course, coach._belief
    course.heard(reading(before), "siphon over-closed" if before else None)
    course.moved(VALVE, 0.125, None, 60.0)
    quiet = belief.expected().quiet
    back = faint_since(course, belief, situation_of(None, course, belief, RIG))
    assert (back is not None and back.amount == -0.125) == goes
    assert (belief.expected().quiet < quiet) == goes
