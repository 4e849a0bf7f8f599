"""Where the installation is believed to stand between the two edges of its quiet window, and how sure that is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tuner.coach.belief import Belief
from tuner.water import laws

Floats = NDArray[np.float64]
OUTER_SHARE = 0.1  # of the guesses beyond each end of a band


@dataclass(frozen=True, slots=True)
class Gauge:
    """The belief in figures.

    ``place`` counts along the quiet window: 0 is the edge at which the siphon begins to gulp air, 1 the one at which
    the open channel grows loud; the low and high values hold eight of ten guesses between them. ``below``, ``inside``
    and ``above`` are the shares of the guesses short of the first edge, between them, and beyond the second. Levels
    are of the water in the box, in metres above its floor: of the water itself, and of the two edges.
    """

    place_low: float
    place: float
    place_high: float
    below: float
    inside: float
    above: float
    level_low_m: float
    level_m: float
    level_high_m: float
    low_edge_m: float
    high_edge_m: float


def gauge_of(belief: Belief) -> Gauge:
    """Return the gauge of a belief; levels are medians over the guesses."""
    o, p, w = belief.outlook(), belief.guesses.plumbing, belief.weights
    n = len(w)
    width = np.maximum(o.high - o.low, 1e-9)
    place = np.broadcast_to((o.channel - o.low) / width, (n,))
    low, middle, high = quantiles(place, w)
    level_low, level, level_high = quantiles(np.broadcast_to(o.level_m, (n,)), w)
    edges = [
        quantiles(np.broadcast_to(laws.channel_level_m(p, np.maximum(edge, 0.0), 0.0), (n,)), w)[1]
        for edge in (o.low, o.high)
    ]
    below, above = float(w @ (place < 0.0)), float(w @ (place > 1.0))
    return Gauge(
        low, middle, high, below, max(0.0, 1.0 - below - above), above, level_low, level, level_high, *edges
    )


def quantiles(values: Floats, weights: Floats) -> tuple[float, float, float]:
    """Return the weighted quantiles that hold the middle eight of ten, and the median, in rising order.

    >>> quantiles(np.arange(11.0), np.full(11, 1 / 11))
    (1.0, 5.0, 9.0)
    """
    order = np.argsort(values)
    total = np.cumsum(weights[order])
    at = np.searchsorted(total / total[-1], (OUTER_SHARE, 0.5, 1.0 - OUTER_SHARE))
    low, middle, high = (float(values[order][min(int(i), len(values) - 1)]) for i in at)
    return low, middle, high
