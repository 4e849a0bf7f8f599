"""The plain rule: the named cause says which control and which way; a reversal halves the step.

Where it would turn to and fro by the finest step, there is no silence between, so what is heard is misread: then the
control goes a clear way off in the direction that sends the open channel less.

It needs no measure of the installation, so it is what remains when the belief and the evidence disagree.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from tuner.coach.handwork import Hand, hand_for
from tuner.terms import Cause, CauseName, Control

Direction = int  # +1 opens or speeds up, -1 closes or slows down

# For each cause the controls that mend it, in the order in which they are tried.
REMEDIES: dict[CauseName, tuple[tuple[Control, Direction], ...]] = {
    "siphon over-open": (("siphon valve", -1), ("return pump", +1)),
    "siphon over-closed": (("siphon valve", +1), ("return pump", -1)),
    "vent too closed": (("vent tap", +1), ("siphon valve", +1)),
    "vent too wide": (("vent tap", -1), ("siphon valve", -1), ("return pump", +1)),
    "emergency carrying flow": (("return pump", -1), ("siphon valve", +1)),
}
CAUSE_COUNTS_FROM = 0.15  # causes below this do not steer
_GROWTH = 2.0
_SAFER: dict[Control, Direction] = {"siphon valve": +1, "vent tap": +1, "return pump": -1}
MOST_TURNS = 2  # reversals in a row by the finest step


def ways_for(cause: CauseName, causes: tuple[Cause, ...]) -> set[tuple[Control, Direction]]:
    """Return the moves that mend ``cause`` or, but beside a full emergency pipe, another of ``causes`` that counts."""
    also = {c.name for c in causes if c.probability >= CAUSE_COUNTS_FROM and cause != "emergency carrying flow"}
    return {way for name in {cause, *also} for way in REMEDIES.get(name, ())}


@dataclass(slots=True)
class Stroke:
    """The size and direction last used on one control; ``turns`` counts reversals in a row by the finest step."""

    direction: Direction
    size: float
    repeats: int
    turns: int = 0


class PlainRule:
    """Sizes of moves by rule of thumb, remembered for each control."""

    def __init__(self, hands: tuple[Hand, ...]) -> None:
        self._hands = hands
        self._strokes: dict[Control, Stroke] = {}

    def propose(
        self, cause: CauseName, declined: Collection[tuple[Control, Direction]] = frozenset()
    ) -> tuple[Hand, float] | None:
        """Return the control and signed amount for ``cause``, or None when no control of this rig mends it.

        What the keeper ``declined`` is proposed again only where nothing else mends it.

        A move in the same direction as before is twice as large from the second repeat on; a move against the last
        one is half its size, and never takes a full step back. Where a halved step is finer than a hand can do and
        the pump can be varied, the pump's own step takes over.
        """
        options = [(hand_for(self._hands, c), d) for c, d in REMEDIES.get(cause, ())]
        present = [(hand, d) for hand, d in options if hand is not None]
        present = [(hand, d) for hand, d in present if (hand.control, d) not in declined] or present
        if cause == "emergency carrying flow" and present:
            # Slowing the pump comes first, and once; then the siphon is opened.
            pumped = "return pump" in self._strokes and len(present) > 1
            hand, direction = present[1 if pumped and present[0][0].control == "return pump" else 0]
            return hand, direction * hand.rounded(max(hand.first, hand.finest * 2))
        for hand, direction in present:
            if self._dithers(hand, direction):
                return hand, _SAFER[hand.control] * hand.rounded(hand.first)
            size = self._size(hand, direction)
            if size >= hand.finest * 0.75 or (hand, direction) == present[-1]:
                return hand, direction * max(hand.finest, hand.rounded(size))
        return None

    def _size(self, hand: Hand, direction: Direction) -> float:
        stroke = self._strokes.get(hand.control)
        if stroke is None:
            return hand.first
        if stroke.direction != direction:
            return stroke.size / 2
        return stroke.size * (_GROWTH if stroke.repeats >= 2 else 1.0)

    def _dithers(self, hand: Hand, direction: Direction) -> bool:
        stroke = self._strokes.get(hand.control)
        return stroke is not None and stroke.turns >= MOST_TURNS and stroke.direction != direction

    def did(self, control: Control, amount: float) -> None:
        """Remember a move that was made."""
        if amount == 0:
            return
        direction = 1 if amount > 0 else -1
        last = self._strokes.get(control)
        repeats = last.repeats + 1 if last is not None and last.direction == direction else 1
        finest = next((hand.finest for hand in self._hands if hand.control == control), 0.0)
        turned = last is not None and last.direction != direction and abs(amount) <= finest + 1e-9
        turns = last.turns + 1 if last is not None and turned else 0
        self._strokes[control] = Stroke(direction, abs(amount), repeats, turns)
