"""Which of the planned moves the course of a session leaves open, and which of them come first."""

from __future__ import annotations

from tuner.coach.belief import Belief
from tuner.coach.course import Course
from tuner.coach.handwork import Hand, hand_for
from tuner.coach.planning import Plan, Prospect, plan
from tuner.coach.rule import ways_for
from tuner.coach.splashing import opens_into_splash
from tuner.coach.wording import CLEAR_CHANGE_DB
from tuner.rig import Rig
from tuner.terms import Cause, CauseName

SURELY_QUIET = 0.6  # chance of silence from which a move may turn back by more than half of the last one
BOLDER, BOLDER_COST = 1.5, 0.25  # the next move the same way is so much larger, where it costs no more worth than this


def candidates(
    cause: CauseName, causes: tuple[Cause, ...], belief: Belief, rig: Rig, hands: tuple[Hand, ...], course: Course,
    bearing_worth: float,
) -> tuple[Prospect, ...]:
    """Return the belief's moves against ``cause``, or another of ``causes`` that counts, in the order to be tried.

    ``bearing_worth`` is in moves, as ``planning.plan`` takes it. The pump comes first where the emergency pipe carries.
    """
    ways = ways_for(cause, causes)
    if cause == "emergency carrying flow" and not course.slowed_lately():
        ways = {way for way in ways if way[0] == "return pump" and hand_for(hands, way[0])} or ways
    return open_moves(plan(belief.few(), rig, hands, ways, bearing_worth), course)


def open_moves(found: Plan, course: Course) -> tuple[Prospect, ...]:
    """Return the moves that are open and worth more than none, in the order in which they are to be tried."""
    return bolder(course, tuple(move for move in found.moves if move.worth > found.stay and is_open(course, move)))


def is_open(course: Course, move: Prospect) -> bool:
    """Tell whether a move was not left out since the last one, turns not back too far, and does not make it splash."""
    left_out = (move.hand.control, 1 if move.amount > 0 else -1) in course.declined
    return not left_out and within_half(course, move) and not opens_into_splash(course, move)


def within_half(course: Course, move: Prospect) -> bool:
    """Tell whether a move that turns back stays within half of the last one on that control, or one finest step.

    One that most probably brings silence may go further: between two noises a finest step apart there is none.
    """
    last = next((m for m in reversed(course.moves) if m.hand.control == move.hand.control), None)
    if last is None or last.amount * move.amount > 0 or move.quiet >= SURELY_QUIET:
        return True
    return abs(move.amount) <= max(move.hand.finest, abs(last.amount) / 2) + 1e-9


def turns_back_in_silence(course: Course, move: Prospect) -> bool:
    """Tell whether a move turns back a control that was moved the other way in a silence which has held since.

    No edge was met on that way, so there is nothing to turn back from.
    """
    before = [i for i, made in enumerate(course.moves) if made.hand.control == move.hand.control]
    if not before or course.moves[before[-1]].amount * move.amount > 0:
        return False
    return all(mark.silent for mark in course.marks if mark.moves >= before[-1])


def leads_to_noise(course: Course, move: Prospect) -> bool:
    """Tell whether a move leads to where it was noisy, or beyond, with nothing else moved since."""
    ways = course.turns.noisy_ways(move.hand.control)
    return any(way * move.amount > 0 and abs(way) <= abs(move.amount) + 1e-9 for way in ways)


def bolder(course: Course, options: tuple[Prospect, ...]) -> tuple[Prospect, ...]:
    """After a move that changed nothing clearly, put a larger one of the same kind first that is nearly as good.

    A belief that is a little too narrow would otherwise creep towards an edge that lies far off.
    """
    levels_db, led = course.levels_db, course.led
    if not course.moves or len(levels_db) < 2 or not options or led[-1] != led[-2]:
        return options
    last = course.moves[-1]
    if abs(levels_db[-1] - levels_db[-2]) > CLEAR_CHANGE_DB:
        return options
    bold = [
        p for p in options
        if p.hand.control == last.hand.control and p.amount * last.amount > 0
        and abs(p.amount) >= BOLDER * abs(last.amount) and p.worth > options[0].worth - BOLDER_COST
    ]
    return tuple(sorted(bold, key=lambda p: -p.worth)) + options
