"""What a hand can do: the controls of an installation, their finest step and the largest single move.

The sizes are common practice, no source: a gate valve's wheel is read to a sixteenth of a turn, a ball valve's
handle to about 2 degrees (an eighth of a turn near the working point does what 1.4 degrees do), an air tap
to an eighth of a turn; a pump goes by its own steps. One move stays within ``largest``; opening may go twice as far,
because an over-open siphon only gulps, while an over-closed one sends its water to the other pipes.
"""

from __future__ import annotations

from dataclasses import dataclass

from tuner.rig import Rig
from tuner.terms import Control, Unit

GATE_FINEST_TURN = 1 / 16
BALL_FINEST_DEGREE = 2.0
TAP_FINEST_TURN = 1 / 8
LARGEST_CLOSING_TURN = 1.0
LARGEST_CLOSING_DEGREE = 12.0
LARGEST_TAP_TURN, LARGEST_TAP_SHARE = 1.0, 0.25  # whichever is more; the share is of the tap's travel
LARGEST_PUMP_PERCENT = 15.0
OPENING_FACTOR = 2.0
NAMED_COUNTS = (1, 2, 3, 4, 6, 8, 10, 12, 16, 20, 24, 32)  # in sixteenths: 1/16, 1/8, 3/16, 1/4, 3/8, 1/2, 5/8 ...


@dataclass(frozen=True, slots=True)
class Hand:
    """One control as a hand meets it.

    ``finest`` and ``largest`` are in ``unit``; ``full`` is the whole travel in the same unit; ``first`` is the size
    to begin with when nothing is known.
    """

    control: Control
    unit: Unit
    finest: float
    largest: float
    first: float
    full: float

    def limit(self, amount: float) -> float:
        """Return the largest size that one move may have in the direction of ``amount``."""
        return self.largest * (OPENING_FACTOR if amount > 0 and self.control == "siphon valve" else 1.0)

    def rounded(self, amount: float) -> float:
        """Round to whole finest steps, within the limit; a wish of more than half a finest step is at least one.

        >>> gate = Hand("siphon valve", "turn", 1 / 16, 1.0, 0.25, 5.0)
        >>> gate.rounded(0.14), gate.rounded(-3.0), gate.rounded(0.02)
        (0.125, -1.0, 0.0)
        """
        steps = round(amount / self.finest)
        size = min(abs(steps) * self.finest, self._whole_limit(amount))
        return size if amount > 0 else -size if size else 0.0

    def _whole_limit(self, amount: float) -> float:
        """Return the limit in whole finest steps, at least one."""
        return max(1.0, self.limit(amount) // self.finest) * self.finest

    def choices(self) -> tuple[float, ...]:
        """Return the moves worth comparing, both ways, in counts of the finest step that a hand can name."""
        sizes = [n * self.finest for n in NAMED_COUNTS if n * self.finest <= self.largest * OPENING_FACTOR + 1e-9]
        opening = [s for s in sizes if s <= self._whole_limit(1.0) + 1e-9]
        closing = [-s for s in sizes if s <= self._whole_limit(-1.0) + 1e-9]
        return tuple(closing[::-1] + opening)


def hands_of(rig: Rig) -> tuple[Hand, ...]:
    """Return the controls at hand: the siphon valve, a vent tap where there is a vent, pump speed where it varies."""
    valve, channel = rig.siphon.valve, rig.channel
    hands: list[Hand] = []
    if valve.kind == "gate":
        hands.append(Hand("siphon valve", "turn", GATE_FINEST_TURN, LARGEST_CLOSING_TURN, 0.25, valve.full))
    else:
        hands.append(Hand("siphon valve", "degree", BALL_FINEST_DEGREE, LARGEST_CLOSING_DEGREE, 4.0, valve.full))
    if channel.vent_hole_m > 0:
        largest = max(LARGEST_TAP_TURN, LARGEST_TAP_SHARE * channel.vent_tap_turns)
        hands.append(Hand("vent tap", "turn", TAP_FINEST_TURN, largest, 0.5, channel.vent_tap_turns))
    step = max((pump.speed_step for pump in rig.pumps), default=0.0)
    if step > 0:
        finest = 100 * step
        hands.append(Hand("return pump", "percent", finest, max(finest, LARGEST_PUMP_PERCENT), finest, 100.0))
    return tuple(hands)


def hand_for(hands: tuple[Hand, ...], control: Control) -> Hand | None:
    """Return the hand of a control, or None where the installation lacks it."""
    return next((hand for hand in hands if hand.control == control), None)


def both_ways(hands: tuple[Hand, ...]) -> set[tuple[Control, int]]:
    """Return each control with both directions, -1 and 1."""
    return {(hand.control, way) for hand in hands for way in (-1, 1)}
