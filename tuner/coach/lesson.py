"""The lesson: bring on one edge of the quiet window by small turns of the siphon's valve, and go back again.

The pump stays as it is. The slurp edge is found by opening, the gurgle edge by closing, a little at a time; after each
turn the water settles and the ears judge whether the sound is there. Every turn passes the safety rules (``safety``);
of these only the fifth, which stops after moves that made it louder, has no place here: louder is what is wanted. As
soon as the emergency pipe may carry water, the lesson opens the valve again and leaves the edge alone.
"""

from __future__ import annotations

from math import inf

import numpy as np

from tuner.causes.diagnosis import diagnose_reading
from tuner.coach import memory, safety
from tuner.coach.belief import Belief
from tuner.coach.handwork import Hand, hand_for, hands_of
from tuner.coach.hearing_odds import evidence_of
from tuner.coach.signs import flushing_most, flushing_much, gurgles_beside, overfull
from tuner.rig import Rig
from tuner.signatures.taught import Taught
from tuner.terms import Floor, Reading, Step

SETTLE_S = 60.0
MOST_OPENING = 0.5  # of the valve's travel; what more opening does not bring on, the valve does not govern
MOST_CLOSING = 0.2  # of the valve's travel, far within what the safety rules allow: nothing is to be gained beyond
GROW_AFTER = 3  # turns without effect, after which they are twice as large
HEARD_FROM = 0.15  # share of the time; a slurp may come back only twice a minute
ROAR_STOPS = 0.5  # probability of a roar, over two seconds, that ends listening at once
_STILL_AWAY = 1e-6
_WAY: dict[Taught, float] = {"slurp": 1.0, "gurgle": -1.0}
_WHY: dict[Taught, str] = {
    "slurp": "To bring on the slurp, the siphon is opened until its inlet just gulps air.",
    "gurgle": "To bring on the gurgle, the siphon is closed until the open channel just carries too much.",
}
_EXPECT: dict[Taught, str] = {
    "slurp": "Nothing yet, or gulps: rasping, in bouts.", "gurgle": "Nothing yet, or a bubbling in the open channel.",
}


class Lesson:
    """Guides to one edge and back.

    Parameters
    ----------
    rig
        The installation.
    away
        How far the valve stands from where teaching found it, in its own unit, + further open.
    floor
        The room with the pumps off, where it was measured.
    """

    def __init__(self, rig: Rig, away: float = 0.0, floor: Floor | None = None) -> None:
        self._rig = rig
        self._floor = floor
        hand = hand_for(hands_of(rig), "siphon valve")
        assert hand is not None  # every installation has the valve
        self._hand: Hand = hand
        self._belief = Belief(rig, np.random.default_rng(memory.seed_of(rig)), over_room=floor is not None)
        if away:
            self._belief.moved("siphon valve", away)
        self.away = away
        self._turns = 0
        self._emergency = 0.0
        self._reading: Reading | None = None
        self._roared = False
        self.ending = ""

    def begin(self) -> None:
        """Begin with an edge: nothing was tried for it yet."""
        self._turns = 0
        self.ending = ""

    def heard(self, part: Taught, reading: Reading) -> bool:
        """Take a reading and tell whether the sound of ``part`` is there."""
        self.reheard(reading)
        kind = reading.of("slurp" if part == "slurp" else "gurgle")
        return kind is not None and (kind.share >= HEARD_FROM or (part == "slurp" and kind.events >= 2))

    def reheard(self, reading: Reading) -> None:
        """Take a reading for the safety rules alone: what is heard now, and how far open the siphon may be."""
        over_room = self._floor is not None
        self._belief.heard(evidence_of(reading, 0.0, SETTLE_S, SETTLE_S, over_room=over_room))
        diagnosis = diagnose_reading(reading, rig=self._rig, floor=self._floor, in_a_row=True)
        chances = {c.name: c.probability for c in diagnosis.causes}
        self._emergency = chances.get("emergency carrying flow", 0.0)
        self._reading = reading

    @property
    def emergency(self) -> bool:
        """Whether the last reading makes it likely enough that the emergency pipe carries water."""
        return self._emergency >= safety.EMERGENCY_MAYBE

    @property
    def roaring(self) -> bool:
        """Whether a roar broke off the listening, and the valve was not opened again since."""
        return self._roared

    @property
    def unit(self) -> str:
        """The unit of the valve: "turn" or "degree"."""
        return self._hand.unit

    def roared(self) -> None:
        """Say that a roar was heard while listening: the emergency pipe is taken to carry water."""
        self._roared = True
        self._emergency = 1.0

    def towards(self, part: Taught) -> Step | None:
        """Return the next small turn towards an edge, or None when there is none to make (``ending`` says why)."""
        if self.emergency:
            self.ending = "the emergency pipe may be carrying water"
            return None
        hand = self._hand
        least = hand.finest * (2.0 if hand.unit == "turn" else 1.0)
        size = hand.rounded(_WAY[part] * least * 2.0 ** (self._turns // GROW_AFTER))
        step = Step("siphon valve", size, hand.unit, SETTLE_S, _WHY[part], _EXPECT[part])
        if part == "slurp" and self.away + size > MOST_OPENING * hand.full:
            self.ending = "the valve has been opened by half its travel without it"
            return None
        if part == "gurgle" and -self.away - size > MOST_CLOSING * hand.full:
            self.ending = "the valve has been closed by a fifth of its travel without it"
            return None
        return self._safe(step)

    def back(self) -> Step | None:
        """Return the next turn back to where the valve was found, or None when it is there or must not be turned."""
        if abs(self.away) < _STILL_AWAY:
            return None
        hand = self._hand
        limit = hand.limit(-self.away)
        size = max(-limit, min(limit, -self.away))
        why = "Back to where the valve was found."
        if self.emergency and size > 0:
            why = "The emergency pipe may be carrying water: open the siphon again at once."
        return self._safe(Step("siphon valve", size, hand.unit, SETTLE_S, why, "It should become quiet again."))

    def did(self, amount: float) -> None:
        """Tell how far the valve was turned."""
        self.away += amount
        self._turns += 1
        if amount:
            self._belief.moved("siphon valve", amount)
        if amount > 0 and self.away >= -_STILL_AWAY:
            self._emergency, self._roared = 0.0, False

    def _safe(self, step: Step) -> Step | None:
        safe, reason = safety.make_safe(step, self._hand, self._situation())
        if safe is None:
            self.ending = reason or ""
        return safe

    def _situation(self) -> safety.Situation:
        percent = 100.0 * max(pump.speed for pump in self._rig.pumps)
        reading = self._reading
        return safety.Situation(
            emergency=self._emergency, opening=self._belief.least_opening(),
            closed_so_far=-self.away / self._rig.siphon.valve.full,
            most_closed=self._belief.most_closed(safety.MOST_TAKEN_AT_ONCE),
            flushing_much=reading is not None and flushing_much(reading),
            # where it was opened, what is taken back sends the channel no more than it had when it was found
            flushing_most=reading is not None and self.away <= _STILL_AWAY and flushing_most(reading),
            gurgling_much=reading is not None and overfull(reading, self.away),
            gurgles_beside=reading is not None and gurgles_beside(reading, self.away),
            # the pump stays as it is, and the edges are met on purpose, one turn after the other
            speed_percent=percent, slowest_percent=percent, worse_in_a_row=0, opened_in_a_row=0, opened_too_far=False,
            closed_in_vain=False, opened_in_vain=False, may_be_full=False, room_to_close=inf,
            closed_most=inf, closed_ill=inf, most_sped=0.0, proven=0.0, known=0.0,
        )
