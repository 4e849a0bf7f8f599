"""The moves back to the best setting heard so far, as far as the safety rules allow them."""

from __future__ import annotations

from tuner.coach import safety, wording
from tuner.coach.course import Course, Made
from tuner.coach.handwork import Hand, hand_for
from tuner.terms import CauseName, Step

SETTLE_S = 60.0
SPLASHING: frozenset[CauseName] = frozenset({"weir drop", "outlet above water"})


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
    return _wholly(course.moves[-1], -course.moves[-1].amount, now, why)


def taken_back(cause: CauseName, course: Course, now: safety.Situation, *, came: bool) -> Step | None:
    """Return what takes the last move back where a noise of ``cause``, which no control mends, came with it, or None.

    The whole of it where that noise ``came`` into a silence; half of it where it opened the siphon and a splash came:
    an open siphon empties the box until the water falls far from the weir, which is no fault of the crest's.
    """
    if came:
        return step_back(course, now)
    if cause not in SPLASHING or not course.splashed_by_opening():
        return None
    last = course.moves[-1]
    return _wholly(last, -last.hand.rounded(max(last.amount / 2, last.hand.finest)), now, wording.SPLASH_CAME)


def _wholly(last: Made, amount: float, now: safety.Situation, why: str) -> Step | None:
    """Return the step by ``amount`` on the control of the last move, None where no safety rule allows all of it."""
    step = Step(last.hand.control, amount, last.unit, SETTLE_S, why)
    return step if safety.make_safe(step, last.hand, now)[0] == step else None
