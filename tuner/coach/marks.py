"""What a session notes of each move that was made, and of each setting that was listened to."""

from __future__ import annotations

from dataclasses import dataclass

from tuner.coach.handwork import Hand
from tuner.coach.hearing_odds import PAUSED_AT
from tuner.terms import CauseName, Unit


@dataclass(frozen=True, slots=True)
class Made:
    """A move that was made, and the cause that it was made for."""

    hand: Hand
    amount: float
    cause: CauseName | None

    @property
    def unit(self) -> Unit:
        """The unit of ``amount``."""
        return self.hand.unit


@dataclass(frozen=True, slots=True)
class Mark:
    """A setting that was listened to: after how many moves, whether it was silent, how loud, what was heard.

    ``gulps``, ``gurgles``, ``splashes`` and ``flushes`` are presences; ``overfull`` tells that the open channel gurgled
    much, ``roars`` that the emergency pipe may carry, ``falls`` that water is heard to fall, and nothing bubbles.
    ``pauses`` is the share of the time in pauses between bouts, ``cycle_s`` the period at which gulps return; None
    where it is not known.
    """

    moves: int
    silent: bool
    level_db: float
    gulps: float = 0.0
    gurgles: float = 0.0
    overfull: bool = False
    pauses: float | None = None
    splashes: float = 0.0
    roars: bool = False
    falls: bool = False
    flushes: float = 0.0
    cycle_s: float | None = None

    @property
    def rests(self) -> bool:
        """Whether what was heard came and went, with pauses between."""
        return self.pauses is not None and self.pauses >= PAUSED_AT

    @property
    def flushes_most(self) -> bool:
        """Whether it flushed for as much of the time as it gulped, or more."""
        return self.flushes > 0.0 and self.flushes >= self.gulps

    @property
    def too_much(self) -> bool:
        """Whether more came than the open channel takes: it gurgled much, or the emergency pipe may have carried."""
        return self.overfull or self.roars


@dataclass(frozen=True, slots=True)
class Told:
    """What the turns of the siphon's valve tell of what is heard, whatever it is taken for.

    What grew, or stayed, as it was closed (``closed_in_vain``) is no gulps; what goes on as it is opened again and
    again (``opened_in_vain``) is, whatever else is heard; a splash that follows the siphon (``splash_follows``) is that
    of a box that sinks.
    """

    closed_in_vain: bool = False
    opened_in_vain: bool = False
    splash_follows: bool = False

    @property
    def anything(self) -> bool:
        """Whether the turns tell anything at all."""
        return self.closed_in_vain or self.opened_in_vain or self.splash_follows
