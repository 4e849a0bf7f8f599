"""What a session came to: where it ended, how far the edges of the quiet window are, and what to do beside turning."""

from __future__ import annotations

from dataclasses import dataclass

from tuner.terms import CauseName


@dataclass(frozen=True, slots=True)
class Summary:
    """The end, or the state so far, of a tuning session.

    ``found`` lists the causes in the order in which they were named; ``text`` says in plain sentences where things
    stand. The margins are flow changes of the pumps, as shares (0.04: 4 %), that the quiet is believed to bear before
    the open channel runs dry (``less_flow``) and before it gurgles (``more_flow``); None before they can be told.
    """

    tuned: bool
    moves: int
    found: tuple[CauseName, ...]
    text: str
    less_flow: float | None = None
    more_flow: float | None = None
