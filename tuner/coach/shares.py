"""Probabilities of causes that are weighed anew and still sum to what they did."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import exp, log

from tuner.coach import wording
from tuner.terms import Cause, CauseName

SPLASHING: frozenset[CauseName] = frozenset({"weir drop", "outlet above water"})
LEAST_GIVEN = 0.02  # probability that is worth giving
BELIEF_DOUBT = 0.015  # added to the belief's word, so that it never rules a cause out


@dataclass(frozen=True, slots=True)
class Word:
    """The belief's word: how probable the state behind each mendable cause is, and silence of the drains.

    ``sunk`` is how probable it is that the box stands so low that the weir's water splashes.
    """

    causes: Mapping[CauseName, float]
    quiet: float = 1.0
    sunk: float = 0.0


def believed(causes: tuple[Cause, ...], word: Word) -> tuple[Cause, ...]:
    """Return the causes with the belief's word on those that a control mends; it has none on the others.

    The probability of all mendable causes together stays what the rules made it, but for what splashes: that is
    the box that sank, as probably as ``word.sunk`` says.
    """
    causes = _of_a_sunk_box(causes, word.sunk)
    mendable = tuple(c for c in causes if c.name in word.causes)
    if not mendable:
        return causes
    weighed = shifted(mendable, {name: log(p + BELIEF_DOUBT) for name, p in word.causes.items()})
    rest = tuple(c for c in causes if c.name not in word.causes)
    return tuple(sorted((*weighed, *rest), key=lambda c: -c.probability))


def _of_a_sunk_box(causes: tuple[Cause, ...], sunk: float) -> tuple[Cause, ...]:
    """Return the causes with such a share of what splashes given to a siphon that takes too much."""
    splashing = sum(c.probability for c in causes if c.name in SPLASHING)
    if sunk * splashing < LEAST_GIVEN:
        return causes
    own = next((c for c in causes if c.name == "siphon over-open"), Cause("siphon over-open", 0.0, ()))
    because = own.because if own.probability > sunk * splashing else (wording.SUNK,)
    given = replace(own, probability=own.probability + sunk * splashing, because=because)
    kept = (replace(c, probability=(1.0 - sunk) * c.probability) if c.name in SPLASHING else c for c in causes)
    return given, *(c for c in kept if c.name != "siphon over-open")


def shifted(causes: tuple[Cause, ...], odds: Mapping[CauseName, float]) -> tuple[Cause, ...]:
    """Return the causes with log-odds added to some, probabilities summing to what they did, best first."""
    total = sum(c.probability for c in causes)
    if total <= 0.0:
        return causes  # nothing was heard
    raw = [c.probability * exp(odds.get(c.name, 0.0)) for c in causes]
    scale = total / sum(raw)
    moved = [replace(c, probability=p * scale) for c, p in zip(causes, raw, strict=True)]
    return tuple(sorted(moved, key=lambda c: -c.probability))
