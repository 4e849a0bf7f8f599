"""What the makes draw with: even, log-even and log-normal numbers, odds, and the stretches in which a drive sounds."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


class Drawn:
    """Something that is drawn: it holds the generator ``rng`` of all its chances."""

    rng: np.random.Generator

    def flat(self, low: float, high: float) -> float:
        """Return a number drawn evenly."""
        return float(self.rng.uniform(low, high))

    def log(self, low: float, high: float) -> float:
        """Return a number drawn evenly on a logarithmic scale."""
        return float(np.exp(self.rng.uniform(np.log(low), np.log(high))))

    def chance(self, share: float) -> bool:
        """Return True so often."""
        return bool(self.rng.random() < share)

    def varied(self, count: int, low: float, high: float) -> Floats:
        """Return log-normal factors whose spread lies from ``low`` to ``high`` nepers."""
        return np.asarray(np.exp(self.log(low, high) * self.rng.standard_normal(count)))


def stretches(on: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return first place, and that after the last, of each unbroken stretch of True.

    >>> stretches(np.array([False, True, True, False, True]))
    [(1, 3), (4, 5)]
    """
    edges = np.flatnonzero(np.diff(np.concatenate(([0], on.astype(np.int8), [0]))))
    return [(a, b) for a, b in edges.reshape(-1, 2).tolist()]
