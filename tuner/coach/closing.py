"""The last words of a tuning: what its quiet does not bear, and which part would mend that.

Two things can make a quiet setting a poor one: a part-time loop that takes more of the flow, while it runs, than the
window is wide, and a window that the finest step of every control, or the pump's own wavering, steps over.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tuner.coach import wording
from tuner.coach.belief import Belief, Expected
from tuner.coach.guesses import after_move
from tuner.coach.handwork import Hand
from tuner.coach.instructions import LEFT, UNNAMED
from tuner.coach.standing import loop_share
from tuner.rig import Rig
from tuner.terms import CauseName

Floats = NDArray[np.float64]

PUMP_WAVERS = 0.02  # of the flow, with mains voltage, temperature and fouling within days; common practice, no source
LOOP_COUNTS = 0.002  # of the flow: a loop that takes less is not worth a word
CONTROL_WORDS = {"siphon valve": "siphon's valve", "vent tap": "vent's tap", "return pump": "pump's speed"}


@dataclass(frozen=True, slots=True)
class Closing:
    """Flow shares, medians over quiet guesses.

    ``width`` is that of the quiet window, ``finest`` what the finest step of the finest control moves and ``control``
    which that is; ``loop`` is what part-time loops take while they run, ``bears_loop`` the chance that it stays quiet
    then.
    """

    width: float
    finest: float
    control: str
    loop: float
    bears_loop: float


def closing_of(belief: Belief, rig: Rig, hands: tuple[Hand, ...]) -> Closing:
    """Return the figures of a quiet setting."""
    few = belief.few()
    o = few.outlook()
    quiet = np.broadcast_to(o.quiet, (few.n,)) > 0.5
    quiet = quiet if quiet.any() else np.ones(few.n, bool)
    width = np.broadcast_to(o.less_flow + o.more_flow, (few.n,))[quiet]
    steps: list[tuple[float, str]] = []
    for hand in hands:
        if hand.control == "vent tap":
            continue  # it moves the window, not the flow
        # Both ways: a siphon that takes all there is takes no more when it is opened, then closing tells.
        steps_both_ways = np.array([-hand.finest, hand.finest])
        moved = few.outlook(after_move(few, rig, hand.control, steps_both_ways))
        flow = moved.siphon - o.siphon if hand.control == "siphon valve" else moved.supply - o.supply
        size = np.abs(flow / o.supply).max(axis=0)
        steps.append((float(np.median(size[quiet])), hand.control))
    finest, control = min(steps)
    loop = loop_share(few.plumbing, o.supply)
    stays = np.broadcast_to(o.less_flow - loop, (few.n,))[quiet] > 0.0
    return Closing(
        float(np.median(width)), finest, control, float(np.median(np.broadcast_to(loop, (few.n,)))), float(stays.mean())
    )


def last_words(now: Expected, found: Closing, beside: CauseName | None, also: str) -> str:
    """Return the last words of a tuning that ends in silence of the drains.

    ``now`` and ``found`` are the figures of the setting, ``beside`` is a cause that no control mends and that is still
    heard, ``also`` what is to be said beside the margins.
    """
    margins = wording.margins(now.less_flow, now.more_flow) + remarks(found) + also
    if beside is None:
        return f"It is silent, {margins}."
    left = UNNAMED if beside == "unknown" else beside
    return f"The drains are silent, {margins}; {left} is still heard: {LEFT[beside][1]}"


def remarks(found: Closing) -> str:
    """Return what is to be said beside the margins, empty when nothing is."""
    said = []
    if found.loop > LOOP_COUNTS:
        takes = f"the part-time loop takes about {found.loop:.0%} of the flow while it runs"
        if found.bears_loop >= 0.5:
            said.append(f"{takes}, and both states should be quiet (about {found.bears_loop:.0%} sure): hear it run")
        else:
            said.append(
                f"{takes}, more than this quiet bears (about {found.bears_loop:.0%} sure that it does): let the loop"
                " run all the time, or give it a pump of its own"
            )
    if found.width < found.finest:
        said.append(
            f"the quiet window is about {max(found.width, 0.0):.1%} of the flow wide, no more than the"
            f" {found.finest:.1%} that the finest step of the {CONTROL_WORDS[found.control]} moves: a valve with more"
            " turns, or a pump with finer steps, would mend that"
        )
    elif found.width < PUMP_WAVERS:
        said.append(
            f"the quiet window is about {max(found.width, 0.0):.1%} of the flow wide, less than a pump wavers by"
            " itself: a wider pipe or vent for the open channel would widen it"
        )
    return "".join(f"; {text}" for text in said)
