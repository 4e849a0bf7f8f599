"""While other sound covers the drains: waiting, a look at the emergency pipe, and what a look brings about."""

from __future__ import annotations

import pytest

from tests.test_coach_coach import RIG, heard_as
from tuner.coach import Coach
from tuner.coach.covered import COVERED_LONG
from tuner.coach.instructions import MASKED
from tuner.coach.questions import EMERGENCY_DRY
from tuner.coach.wording import SEEN_RUNNING
from tuner.terms import Question, Reading, Step

DIN: Reading = heard_as({}, level_db=-20.0, outside=0.95)


def advised(coach: Coach) -> Step | Question | None:
    coach.hear_reading(DIN)
    return coach.advise()


def asked(coach: Coach) -> None:
    """Hear a din for as long as it takes to be asked."""
    for _ in range(COVERED_LONG - 1):
        step = advised(coach)
        assert isinstance(step, Step)
        assert (step.amount, step.why) == (0.0, MASKED)
    assert advised(coach) == EMERGENCY_DRY


@pytest.mark.parametrize("answer", [None, "no"])
def test_a_din_that_goes_on_asks_for_a_look_once_and_without_water_is_left_to_the_room(answer: str | None) -> None:
    coach = Coach(RIG)
    asked(coach)
    coach.look(EMERGENCY_DRY.id, answer)
    for _ in range(2 * COVERED_LONG):
        step = coach.advise()
        assert isinstance(step, Step)
        assert step.why == MASKED
        coach.hear_reading(DIN)


def test_water_that_was_seen_to_run_is_acted_on_under_any_din() -> None:
    coach = Coach(RIG)
    asked(coach)
    coach.look(EMERGENCY_DRY.id, "yes")
    step = coach.advise()
    assert isinstance(step, Step)
    assert step.control == "return pump"
    assert step.amount < 0
    assert SEEN_RUNNING in step.why
    coach.did(step)
    asked(coach)  # whether that stopped it is for another look


def test_a_reading_that_is_not_covered_begins_the_wait_anew() -> None:
    coach = Coach(RIG)
    for _ in range(COVERED_LONG - 1):
        advised(coach)
    coach.hear_reading(heard_as({}))
    asked(coach)


@pytest.mark.parametrize("answer", ["yes", "no", None])
def test_a_session_is_taken_up_with_the_look(answer: str | None) -> None:
    coach = Coach(RIG)
    asked(coach)
    coach.look(EMERGENCY_DRY.id, answer)
    again = Coach.restore(coach.state, RIG)
    assert again.advise() == coach.advise()
