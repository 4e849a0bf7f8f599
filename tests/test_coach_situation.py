"""How much may be closed at once, by what is heard and what was moved before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from tests.test_coach_belief import RIG, paused, reading
from tests.test_coach_coach import heard_as
from tuner.coach import Coach, safety
from tuner.coach.course import Course
from tuner.coach.handwork import hand_for, hands_of
from tuner.coach.safety import MOST_TAKEN_AT_FIRST, MOST_TAKEN_AT_ONCE, MOST_TAKEN_IN_DOUBT
from tuner.coach.situation import COUNTED_ON, counted_opening, room_to_known, room_to_silence, situation_of
from tuner.rig import Rig, Siphon, Valve
from tuner.signatures.reading import PAUSES
from tuner.terms import Cause, Diagnosis, SoundKind

ALONE: dict[SoundKind, float] = {"slurp": 0.4}
BESIDE: dict[SoundKind, float] = {"slurp": 0.4, "gurgle": 0.15}


@pytest.mark.parametrize(
    ("sounds", "moves", "share"),
    [
        (ALONE, (), MOST_TAKEN_AT_FIRST), (BESIDE, (), MOST_TAKEN_IN_DOUBT), (ALONE, (-0.125,), MOST_TAKEN_AT_ONCE),
        (BESIDE, (-0.125,), MOST_TAKEN_AT_FIRST),
    ],
)
def test_a_closing_takes_less_while_anything_is_heard_beside_gulps_and_at_first(
    sounds: dict[SoundKind, float], moves: Sequence[float], share: float
) -> None:
    course, belief, hand = Course(), Coach(RIG)._belief, hand_for(hands_of(RIG), "siphon valve")
    assert hand is not None
    for amount in moves:
        course.moved(hand, amount, None, 60.0)
    now = situation_of(Diagnosis(False, (), (), paused(sounds, 0.6)), course, belief, RIG)
    assert now.most_closed == belief.most_closed(share)
    assert now.most_sped == belief.most_sped(share)


def test_what_was_opened_may_be_taken_back_whatever_is_heard_but_no_more_with_it() -> None:
    belief, hand = Coach(RIG)._belief, hand_for(hands_of(RIG), "siphon valve")
    assert hand is not None
    in_doubt, at_once = (belief.most_closed(share) for share in (MOST_TAKEN_IN_DOUBT, MOST_TAKEN_AT_ONCE))
    assert in_doubt < at_once
    for opened, most in ((hand.finest, in_doubt), (at_once, at_once), (2 * at_once, at_once)):
        course = Course()
        course.moved(hand, opened, None, 60.0)
        now = situation_of(Diagnosis(False, (), (), paused(BESIDE, 0.6)), course, belief, RIG)
        assert now.most_closed == most


def test_gulps_alone_are_closed_no_further_at_once_than_what_was_opened_and_an_eighth_of_the_flow() -> None:
    # what is less open than where it began is heard for the first time there: a closing does not leap into it
    belief, hand = Coach(RIG)._belief, hand_for(hands_of(RIG), "siphon valve")
    assert hand is not None
    at_first, at_once = (belief.most_closed(share) for share in (MOST_TAKEN_AT_FIRST, MOST_TAKEN_AT_ONCE))
    middle = (at_first + at_once) / 2
    for left, most in ((hand.finest, at_first), (middle, middle), (2 * at_once, at_once)):
        course = Course()
        course.moved(hand, left + hand.finest, None, 60.0)
        course.moved(hand, -hand.finest, None, 60.0)
        now = situation_of(Diagnosis(False, (), (), paused(ALONE, 0.6)), course, belief, RIG)
        assert now.most_closed == pytest.approx(most)


def test_the_keepers_own_count_of_the_valve_is_counted_on_in_part() -> None:
    counted = Rig(siphon=Siphon(valve=Valve(turns=4.0, setting=1.0)))
    assert counted_opening(counted, 0.0) == pytest.approx(COUNTED_ON * 1.0 / 4.0)
    assert counted_opening(counted, -0.25) == pytest.approx((COUNTED_ON * 1.0 - 0.25) / 4.0)
    assert counted_opening(counted, -3.0) == 0.0
    assert counted_opening(Rig(), 0.0) == 0.0


def walked(*turns: tuple[float, dict[SoundKind, float]]) -> Course:
    """Hear each of the sounds after a turn of the siphon's valve."""
    course, hand = Course(), hand_for(hands_of(RIG), "siphon valve")
    assert hand is not None
    for amount, sounds in turns:
        if amount:
            course.moved(hand, amount, None, 60.0)
        course.heard(reading(sounds), "siphon over-open" if sounds else None)
    return course


def test_the_room_to_a_silence_is_how_much_further_open_the_siphon_stands_now() -> None:
    course = walked((0.0, {}), (0.25, {}), (0.125, {"slurp": 0.4}))
    assert room_to_silence(course) == pytest.approx(0.375)
    # what was silent but once is no silence
    assert room_to_silence(walked((0.0, {}), (0.0, {"gurgle": 0.5}), (0.25, {"slurp": 0.4}))) == 0.0
    # nor is one from before another control was moved
    tap = hand_for(hands_of(RIG), "vent tap")
    assert tap is not None
    course.moved(tap, 0.25, None, 60.0)
    assert room_to_silence(course) == 0.0


def test_the_room_to_what_is_known_leaves_out_where_too_much_came() -> None:
    assert room_to_known(walked((0.0, {"slurp": 0.3}), (0.5, {"slurp": 0.4}))) == pytest.approx(0.5)
    assert room_to_known(walked((0.0, {"gurgle": 0.9}), (0.5, {"slurp": 0.4}))) == 0.0


def gulped_and_closed(level_db: float) -> safety.Situation:
    """Gulps at -40 dB, a closing, and gulps with a roar that never rest, so loud."""
    course, belief, hand = Course(), Coach(RIG)._belief, hand_for(hands_of(RIG), "siphon valve")
    assert hand is not None
    course.heard(heard_as({"slurp": 0.5}, level_db=-40.0), "siphon over-open")
    course.moved(hand, -0.125, "siphon over-open", 60.0)
    heard = replace(heard_as({"slurp": 0.2, "roar": 0.2}, level_db=level_db), features={PAUSES: 0.0})
    course.heard(heard, "siphon over-open")
    return situation_of(Diagnosis(False, (), (), heard), course, belief, RIG)


def test_what_never_rests_may_be_a_full_channel_but_not_where_closing_made_it_far_quieter() -> None:
    assert gulped_and_closed(-40.0).may_be_full
    assert not gulped_and_closed(-48.0).may_be_full


def opened_from(silent: bool, seen_running: bool = False) -> safety.Situation:
    """A roar after an opening by an eighth, from where it was silent or not."""
    course, belief, hand = Course(), Coach(RIG)._belief, hand_for(hands_of(RIG), "siphon valve")
    assert hand is not None
    course.heard(heard_as({} if silent else {"roar": 0.6}), None if silent else "emergency carrying flow")
    course.moved(hand, 0.125, None, 60.0)
    heard = heard_as({"roar": 0.6})
    course.heard(heard, "emergency carrying flow")
    course.seen_running = seen_running
    cause = Cause("emergency carrying flow", 0.7, ("it roars",))
    return situation_of(Diagnosis(False, (), (cause,), heard), course, belief, RIG)


def test_a_roar_that_came_by_opening_the_siphon_out_of_silence_is_not_the_emergency_pipes() -> None:
    now = opened_from(silent=True)
    assert now.emergency == 0.0
    assert now.proven == pytest.approx(0.125)
    assert now.most_closed == 0.0, "closed back to where it was silent, and hardly further"
    assert opened_from(silent=False).emergency == pytest.approx(0.7)
    assert opened_from(silent=True, seen_running=True).emergency == pytest.approx(0.7), "eyes go before ears"
