"""What may sound beside the drains and follows no move: falling water, air in a pump or return, a steady hiss.

Each guess holds one of these, mostly none. What stays through moves that should have ended it speaks for one; what goes
with a move was the drains'. The shares of installations are a judgement, no source; the chances are near those measured
with the shipped ears on training draws.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from tuner.terms import SoundKind


@dataclass(frozen=True, slots=True)
class Beside:
    """One thing beside the drains: in which share of installations it sounds, and the chance of each sound from it."""

    name: str
    share: float
    makes: Mapping[SoundKind, float]


THINGS: tuple[Beside, ...] = (
    Beside("nothing", 0.8, {}),
    Beside("falling water", 0.06, {"splash": 0.9, "trickle": 0.3, "gurgle": 0.12, "roar": 0.2}),
    Beside("drawn air", 0.05, {"hiss": 0.85, "trickle": 0.9, "splash": 0.1}),
    Beside("steady hiss", 0.09, {"hiss": 0.8}),
)
MISSED = 0.05  # share of guesses that take another thing when guesses are drawn anew: none is ever ruled out


def drawn(rng: Generator, n: int) -> NDArray[np.intp]:
    """Return the places in ``THINGS`` of ``n`` draws by their shares."""
    return rng.choice(len(THINGS), size=n, p=[thing.share for thing in THINGS])
