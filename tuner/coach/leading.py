"""Which of the likely causes to act on."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from tuner.coach.rule import REMEDIES
from tuner.terms import Cause, CauseName

NEXT_COUNTS_FROM, NEXT_LEADS = 0.04, 0.4  # when the best cause is none to act on: absolute, and of what is left
TURN_FROM = 0.25  # no control is turned for a cause less likely than this while another one leads
BELIEVED_FROM = 0.5
AT_THE_VALVE: frozenset[CauseName] = frozenset({"siphon over-open", "siphon over-closed"})


def leading_cause(
    causes: tuple[Cause, ...], instructed: Collection[CauseName], believed: Mapping[CauseName, float]
) -> Cause:
    """Return the cause to act on: the best one, or the next where its instruction was given and did not help.

    ``believed`` is the belief's word: a cause at the siphon's valve that it takes for likely counts even where the
    rules put it behind another.
    """
    def is_open(place: int, cause: Cause) -> bool:
        if cause.name in ("unknown", "outside noise"):
            return False
        if cause.name not in REMEDIES:
            return cause.name not in instructed
        return (
            place == 0 or cause.probability >= TURN_FROM or causes[0].name == "unknown"
            or (cause.name in AT_THE_VALVE and believed.get(cause.name, 0.0) >= BELIEVED_FROM)
        )

    open_ones = [cause for place, cause in enumerate(causes) if is_open(place, cause)]
    left = sum(cause.probability for cause in open_ones)
    if open_ones and open_ones[0].probability >= max(NEXT_COUNTS_FROM, NEXT_LEADS * left):
        return open_ones[0]
    return causes[0]
