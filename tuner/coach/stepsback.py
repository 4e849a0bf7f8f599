"""The moves back to the best setting heard so far, as far as the safety rules allow them."""

from __future__ import annotations

from tuner.coach import safety, wording
from tuner.coach.belief import Belief
from tuner.coach.course import Course
from tuner.coach.handwork import Hand, hand_for
from tuner.coach.shares import SPLASHING
from tuner.coach.splashing import sunk
from tuner.terms import CauseName, Control, Step

SETTLE_S = 60.0
LESS_LEFT: frozenset[CauseName] = frozenset({"siphon over-open", "vent too wide"})
MORE_LEFT: frozenset[CauseName] = frozenset(
    {"siphon over-closed", "emergency carrying flow", "vent too closed", "vent too wide"}
)
BROUGHT: dict[tuple[Control, int], frozenset[CauseName]] = {
    ("siphon valve", 1): LESS_LEFT, ("siphon valve", -1): MORE_LEFT, ("return pump", -1): LESS_LEFT,
    ("return pump", 1): MORE_LEFT, ("vent tap", 1): frozenset({"vent too wide"}),
    ("vent tap", -1): frozenset({"vent too closed"}),
}  # what a move may bring about in a silence: with less or more water left to the open channel, or other air


def steps_back(course: Course, hands: tuple[Hand, ...], now: safety.Situation) -> tuple[Step, ...]:
    """Return the moves back, the last moved control first; ``now`` is the situation in which they are made."""
    steps = []
    for control, amount in course.way_back():
        hand = hand_for(hands, control)
        if hand is not None:
            safe, _ = safety.make_safe(Step(control, amount, hand.unit, SETTLE_S, wording.WAY_BACK), hand, now)
            steps += [] if safe is None else [safe]
    return tuple(steps)


def step_back(course: Course, now: safety.Situation, why: str = wording.CAME_WITH_IT) -> Step | None:
    """Return the move that takes the last one back, or None where no safety rule allows the whole of it."""
    return _wholly(course.moves[-1].hand, -course.moves[-1].amount, now, why)


def contradicted(cause: CauseName, course: Course, now: safety.Situation) -> Step | None:
    """Return the move that takes the last one back where it broke a silence but cannot have brought ``cause``, or None.

    What is heard has been taken for something else then, and to turn for it would be a guess.
    """
    last = course.moves[-1]
    if cause in BROUGHT[(last.hand.control, 1 if last.amount > 0 else -1)]:
        return None
    return step_back(course, now)


def faint_since(course: Course, belief: Belief, now: safety.Situation) -> Step | None:
    """Return the move that takes the last one back where something too faint to name came into a silence with it.

    The ``belief`` is told that it is not quiet here.
    """
    back = step_back(course, now, wording.FAINT_SINCE) if course.turns.silent_before_last() else None
    if back:
        belief.not_quiet()
    return back


def taken_back(cause: CauseName, course: Course, now: safety.Situation, *, came: bool) -> Step | None:
    """Return what ends a noise of ``cause``, which no control mends but came with a move, or None.

    The last move is taken back where that noise ``came`` into a silence; of what opened the siphon, some is where a
    splash came.
    """
    if came:
        return step_back(course, now)
    if cause not in SPLASHING or not (low := sunk(course)):
        return None
    why = wording.SPLASH_CAME if low.by_opening else wording.SPLASH_STAYED
    hand = next(made.hand for made in course.moves if made.hand.control == "siphon valve")
    return _wholly(hand, -low.amount, now, why)


def _wholly(hand: Hand, amount: float, now: safety.Situation, why: str) -> Step | None:
    """Return the step by ``amount`` on a control, None where no safety rule allows all of it."""
    step = Step(hand.control, amount, hand.unit, SETTLE_S, why)
    return step if safety.make_safe(step, hand, now)[0] == step else None
