"""What the safety rules need to know, gathered from what was heard, what was done and what is believed."""

from __future__ import annotations

from collections.abc import Collection

from tuner.coach import safety
from tuner.coach.belief import Belief
from tuner.coach.course import Course
from tuner.coach.signs import (
    flushing_most,
    flushing_much,
    gulps_alone,
    gulps_opened,
    gurgles_beside,
    may_be_full,
    overfull,
    roaring_much,
)
from tuner.rig import Rig
from tuner.terms import Diagnosis

COUNTED_ON = 0.5  # share of a noted setting that is taken for sure: a note may be old, and a wheel turn before it grips


def situation_of(diagnosis: Diagnosis | None, course: Course, belief: Belief, rig: Rig) -> safety.Situation:
    """Return the situation in which a step would be made; without a diagnosis nothing was heard yet."""
    causes = diagnosis.causes if diagnosis else ()
    opened = course.turns.total("siphon valve")
    begun_percent = 100.0 * max(pump.speed for pump in rig.pumps)
    emergency = next((c.probability for c in causes if c.name == "emergency carrying flow"), 0.0)
    proven, known = room_to_silence(course), room_to_known(course)
    if diagnosis is not None and roaring_much(diagnosis.reading, course.room_db):
        emergency = max(emergency, safety.EMERGENCY_MAYBE)
    # eyes go before ears: below the crest the other pipes are dry, and over the elbow the open channel runs full
    seen = course.seen()
    low, over = seen is not None and seen.low, seen is not None and seen.over
    by_opening = emergency >= safety.EMERGENCY_MAYBE and roars_by_opening(course)
    emergency = 0.0 if low or by_opening or course.roared_vainly else emergency
    room = course.room_to_close()
    closed_most = max((-m.amount for m in course.moves if m.hand.control == "siphon valve"), default=0.0)
    # with anything else beside the gulps it may be a full channel; what was opened may be taken back all the same, but
    # no closing leaps from there into what is less open than where it began
    cycled, was_opened = course.turns.cycled(), course.turns.was_opened()
    alone = diagnosis is not None and gulps_alone(diagnosis.reading, told=cycled or was_opened)
    first, helped = closed_most <= 0.0, course.turns.closing_helped()
    if alone and not first and opened <= 0.0:
        share = safety.MOST_TAKEN_AT_ONCE
    else:
        share = safety.MOST_TAKEN_AT_FIRST if alone or not first else safety.MOST_TAKEN_IN_DOUBT
    taken_back = min(opened, belief.most_closed(safety.MOST_TAKEN_AT_ONCE))
    in_vain = course.vainly or course.misheard or low
    heard = diagnosis.reading if diagnosis is not None and not in_vain else None
    return safety.Situation(
        emergency=emergency,
        opening=max(belief.least_opening(), counted_opening(rig, opened)),
        closed_so_far=-opened / rig.siphon.valve.full,
        slowest_percent=begun_percent + belief.slowest_change,
        speed_percent=begun_percent + course.turns.total("return pump"),
        worse_in_a_row=course.worse_in_a_row,
        flushing_much=diagnosis is not None and flushing_much(diagnosis.reading),
        opened_in_a_row=course.turns.opened_in_a_row(),
        gurgling_much=over or (heard is not None and overfull(heard, opened)),
        gurgles_beside=heard is not None and gurgles_beside(heard, opened),
        opened_too_far=diagnosis is not None and room > 0.0 and gulps_opened(diagnosis.reading, opened),
        flushing_most=heard is not None and flushing_most(heard),
        closed_in_vain=course.turns.closed_in_vain() and not low,
        opened_in_vain=course.vainly,
        may_be_full=heard is not None and may_be_full(heard, cycled=cycled) and not (was_opened or helped),
        room_to_close=room,
        most_closed=0.0 if by_opening else max(taken_back, belief.most_closed(share)),
        closed_most=closed_most,
        closed_ill=course.turns.closed_ill(),
        most_sped=belief.most_sped(share),
        proven=proven,
        known=known,
    )


def counted_opening(rig: Rig, opened: float) -> float:
    """Return how far the siphon's valve stands open at least by the keeper's own count, 0-1, 0 where none was noted.

    ``opened`` is by how much it was opened since, in the valve's unit. Of what was noted only a part is counted on.
    """
    valve = rig.siphon.valve
    if valve.setting is None or "siphon.valve.setting" in rig.assumed:
        return 0.0
    return max(COUNTED_ON * valve.setting + opened, 0.0) / valve.full


def room_to_known(course: Course) -> float:
    """Return by how much the siphon may be closed to stand where it did before, nothing else moved, and not overfull.

    In the valve's unit; 0 where there is no such setting.
    """
    return _room_to(course, {mark.moves for mark in course.marks if mark.too_much})


def roars_by_opening(course: Course) -> bool:
    """Tell whether a roar cannot be the emergency pipe's: what was silent with the siphon closer overflows no wider.

    Not where water is seen to run there: eyes go before ears.
    """
    return room_to_silence(course) > 0.0 and not course.seen_running


def room_to_silence(course: Course) -> float:
    """Return by how much the siphon may be closed to stand where it was always silent, nothing else moved since.

    In the valve's unit; 0 where there is no such setting.
    """
    return _room_to(course, {mark.moves for mark in course.marks if not mark.silent})


def _room_to(course: Course, but: Collection[int]) -> float:
    """Return how much further open it stands than at the least open setting since the tap and the pump were moved.

    Settings after so many moves as ``but`` holds do not count.
    """
    at, since = course.turns.openings(), course.turns.since("vent tap", "return pump")
    heard = {mark.moves for mark in course.marks if since <= mark.moves < len(course.moves)}
    return max(at[-1] - min((at[moves] for moves in heard.difference(but)), default=at[-1]), 0.0)
