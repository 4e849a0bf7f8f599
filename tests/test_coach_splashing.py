from __future__ import annotations

import pytest

from tests.test_coach_belief import RIG, reading
from tuner.coach.course import Course
from tuner.coach.handwork import hand_for, hands_of
from tuner.coach.planning import Prospect
from tuner.coach.splashing import MOST_CLOSINGS, Sunk, may_have_sunk, opens_into_splash, sunk
from tuner.terms import CauseName, Control, SoundKind

HANDS = hands_of(RIG)


def turned(course: Course, amount: float, cause: CauseName = "siphon over-closed") -> None:
    hand = hand_for(HANDS, "siphon valve")
    assert hand is not None
    course.moved(hand, amount, cause, 60.0)


def hear(course: Course, sounds: dict[SoundKind, float]) -> None:
    course.heard(reading(sounds), "weir drop" if sounds else None)


def splashing_after(amount: float, before: float = 0.0, now: float = 0.6) -> Course:
    course = Course()
    hear(course, {"gurgle": 0.9, "splash": before})
    turned(course, amount)
    hear(course, {"splash": now})
    return course


@pytest.mark.parametrize(
    ("amount", "before", "now", "closing"),
    [
        (0.5, 0.0, 0.6, 0.25), (0.5, 0.4, 0.6, None), (-0.5, 0.0, 0.6, None), (0.5, 0.0, 0.15, None),
        (0.5, 0.0, 0.0, None), (0.0625, 0.0, 0.6, None),  # between two settings a finest step apart there is none
    ],
)
def test_half_of_the_way_back_is_made_where_it_did_not_splash_with_the_siphon_closer(
    amount: float, before: float, now: float, closing: float | None
) -> None:
    low = sunk(splashing_after(amount, before, now))
    assert (low.amount if low else None) == closing
    assert low is None or low.by_opening


@pytest.mark.parametrize(
    ("amount", "here", "closing"),
    [
        (0.5, (0.0, 0.6, 0.6), 0.25), (0.5, (0.0, 0.6), None),  # it must be heard twice
        (0.5, (0.0, 0.6, 0.0, 0.6), None), (0.5, (0.6, 0.0, 0.6, 0.6), None),  # it comes and goes
        (-0.5, (0.0, 0.6, 0.6), None), (0.0625, (0.0, 0.6, 0.6), 0.0625),
    ],
)
def test_a_splash_that_came_later_where_the_siphon_was_opened_is_a_box_that_sinks_slowly(
    amount: float, here: tuple[float, ...], closing: float | None
) -> None:
    course = Course()
    hear(course, {"gurgle": 0.9})
    turned(course, amount)
    for splash in here:
        hear(course, {"splash": splash} if splash else {})
    low = sunk(course)
    assert (low.amount if low else None) == closing


def test_it_goes_on_closing_towards_where_it_did_not_splash_but_not_for_ever() -> None:
    course = splashing_after(1.0)
    closings = []
    while (low := sunk(course)) is not None:
        closings.append(low.amount)
        turned(course, -low.amount, "weir drop")
        hear(course, {"splash": 0.6})
    assert closings == [0.5, 0.25, 0.125][:MOST_CLOSINGS]


def test_after_gulps_a_splash_is_closed_away_by_finest_steps() -> None:
    course = Course()
    hear(course, {"slurp": 0.5, "splash": 0.8})
    assert sunk(course) is None  # the gulps come first
    turned(course, -0.25, "siphon over-open")
    hear(course, {"splash": 0.8})
    assert sunk(course) == Sunk(0.0625, by_opening=False)
    hear(course, {"slurp": 0.5, "splash": 0.8})
    assert sunk(course) is None


def move(control: Control, amount: float) -> Prospect:
    hand = hand_for(HANDS, control)
    assert hand is not None
    return Prospect(hand, amount, 1.0, 0.9, 0.0, 0.5, 0.0, 0.0, 60.0)


def test_the_siphon_is_not_opened_again_to_where_it_splashed() -> None:
    course = splashing_after(0.5)
    turned(course, -0.375)
    hear(course, {})
    assert opens_into_splash(course, move("siphon valve", 0.375))
    assert not opens_into_splash(course, move("siphon valve", 0.25))
    assert not opens_into_splash(course, move("siphon valve", -0.25))
    assert not opens_into_splash(course, move("vent tap", 0.5))
    always = splashing_after(0.5, before=0.5)  # that is no box's that sinks
    assert not opens_into_splash(always, move("siphon valve", 0.25))
    assert not opens_into_splash(Course(), move("siphon valve", 0.25))


def test_a_splash_may_be_a_sunk_box_only_where_the_siphon_gulped_or_was_opened() -> None:
    splash, both = reading({"splash": 0.9}), reading({"splash": 0.9, "slurp": 0.2})
    course = Course()
    assert not may_have_sunk(splash, course)
    assert may_have_sunk(both, course)
    hear(course, {"slurp": 0.2, "splash": 0.9})
    assert may_have_sunk(splash, course)
    closed, opened = Course(), Course()
    turned(closed, -0.25)
    turned(opened, 0.25)
    assert not may_have_sunk(splash, closed)
    assert may_have_sunk(splash, opened)
