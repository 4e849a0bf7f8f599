"""A splash that an open siphon makes: it takes so much that the box sinks, and the weir's water falls far into it.

No fault of the crest's, then, and a closer siphon ends it. That is so where it did not splash with the siphon closer,
and where it gulped before: a box that sinks to the siphon's inlet stands low still when it has just ceased to gulp.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

from tuner.causes.facts import presence
from tuner.coach.course import Course
from tuner.coach.planning import Prospect
from tuner.coach.shares import SPLASHING
from tuner.coach.signs import GULPS_LITTLE, SPLASH_CLEAR
from tuner.terms import Reading

SPLASH_TRACE = 0.1  # presence up to which it does not splash
SAME = 1e-9  # sums of turns that are one setting differ by no more
STAYS = 2  # hearings in a row of a splash that came later
MOST_CLOSINGS = 3  # for a splash, in a session: what is left then is no box's that sinks


@dataclass(frozen=True, slots=True)
class Sunk:
    """By how much, in the valve's unit, the siphon is to be closed for a splash, and whether one came by opening it."""

    amount: float
    by_opening: bool


def may_have_sunk(reading: Reading, course: Course) -> bool:
    """Tell whether a splash may come of the siphon at all: it gulps, or did, or was opened.

    What splashes from the first and never gulps is a fault of how the installation is built.
    """
    gulped = presence(reading, "slurp") > GULPS_LITTLE or any(mark.gulps > GULPS_LITTLE for mark in course.marks)
    return gulped or course.turns.was_opened()


def sunk(course: Course) -> Sunk | None:
    """Return what is to be done about a splash that the open siphon makes; None where it makes none, or it was tried.

    Half of the way back to where it did not splash, or of the last opening where it came later; a finest step after
    gulps.
    """
    hand = next((made.hand for made in course.moves if made.hand.control == "siphon valve"), None)
    tried = sum(made.cause in SPLASHING and made.amount < 0 for made in course.moves)
    if hand is None or not course.marks or tried >= MOST_CLOSINGS or course.marks[-1].splashes < SPLASH_TRACE:
        return None
    at, marks = course.turns.openings(), course.turns.marks_at_this_speed()
    calm_at = _calm_at(course)
    if any(abs(opening - at[-1]) < SAME for opening in calm_at):
        return _slowly(course)
    calm = max((opening for opening in calm_at if opening < at[-1]), default=None)
    if calm is not None:
        if course.marks[-1].splashes < SPLASH_CLEAR and not tried:
            return None
        way = at[-1] - calm
        return Sunk(hand.rounded(max(way / 2, hand.finest)), True) if way > 1.5 * hand.finest else None
    gulped = any(m.gulps > GULPS_LITTLE and at[m.moves] > at[-1] + SAME for m in marks)
    closed = course.moves[-1].hand == hand and course.moves[-1].amount < 0
    return Sunk(hand.finest, False) if gulped and closed and course.marks[-1].gulps <= GULPS_LITTLE else None


def _slowly(course: Course) -> Sunk | None:
    """Return what is to be done about a splash that came where it was silent at first, and stays.

    What falls at the sump falls at once. A box whose siphon was just opened a little too far takes minutes to sink.
    """
    turned = [made for made in course.moves if made.hand.control == "siphon valve"]
    here = course.turns.marks_here()
    began_silent = bool(here) and here[0].silent
    stays = len(here) > STAYS and all(mark.splashes >= SPLASH_CLEAR for mark in here[-STAYS:])
    if not (began_silent and stays and turned[-1].amount > 0):
        return None
    return Sunk(turned[-1].hand.rounded(max(turned[-1].amount / 2, turned[-1].hand.finest)), True)


def _calm_at(course: Course) -> list[float]:
    """Return how far the siphon stood open where it was listened to at this speed and once did not splash."""
    at = course.turns.openings()
    return [at[mark.moves] for mark in course.turns.marks_at_this_speed() if mark.splashes < SPLASH_TRACE]


def opens_into_splash(course: Course, move: Prospect) -> bool:
    """Tell whether a move opens the siphon to where it splashed, while it did not with the siphon closer."""
    if move.hand.control != "siphon valve" or move.amount <= 0:
        return False
    at, calm_at = course.turns.openings(), _calm_at(course)
    splashed_at = [at[m.moves] for m in course.turns.marks_at_this_speed() if m.splashes >= SPLASH_CLEAR]
    first = min((s for s in splashed_at if all(abs(s - opening) >= SAME for opening in calm_at)), default=inf)
    return any(opening < first for opening in calm_at) and at[-1] + move.amount > first - SAME
