"""Probabilities of causes that are weighed anew and still sum to what they did."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from math import exp, log

from tuner.terms import Cause, CauseName

BELIEF_DOUBT = 0.015  # added to the belief's word, so that it never rules a cause out


def believed(causes: tuple[Cause, ...], belief: Mapping[CauseName, float]) -> tuple[Cause, ...]:
    """Return the causes with the belief's word on those that a control mends; it has none on the others.

    The probability of all mendable causes together stays what the rules made it.
    """
    mendable = tuple(c for c in causes if c.name in belief)
    if not mendable:
        return causes
    weighed = shifted(mendable, {name: log(p + BELIEF_DOUBT) for name, p in belief.items()})
    rest = tuple(c for c in causes if c.name not in belief)
    return tuple(sorted((*weighed, *rest), key=lambda c: -c.probability))


def shifted(causes: tuple[Cause, ...], odds: Mapping[CauseName, float]) -> tuple[Cause, ...]:
    """Return the causes with log-odds added to some, probabilities summing to what they did, best first."""
    total = sum(c.probability for c in causes)
    if total <= 0.0:
        return causes  # nothing was heard
    raw = [c.probability * exp(odds.get(c.name, 0.0)) for c in causes]
    scale = total / sum(raw)
    moved = [replace(c, probability=p * scale) for c, p in zip(causes, raw, strict=True)]
    return tuple(sorted(moved, key=lambda c: -c.probability))
