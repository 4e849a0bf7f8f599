"""A figure that is not known exactly: where it lies, and whether its formula was meant for the case."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

BAND_SHARE = 0.90  # share of draws inside a band


@dataclass(frozen=True, slots=True)
class Band:
    """A 90 % band with its median."""

    low: float
    middle: float
    high: float

    @property
    def width(self) -> float:
        """High end less low end."""
        return self.high - self.low

    def scaled(self, factor: float) -> Band:
        """Return the band in another unit (a positive factor)."""
        return Band(self.low * factor, self.middle * factor, self.high * factor)


@dataclass(frozen=True, slots=True)
class Estimate:
    """The result of one formula with the band of its physics and whether the case lies within its limits."""

    value: float
    low: float
    high: float
    within_limits: bool
    note: str = ""


def band_of(samples: ArrayLike, weights: NDArray[np.float64] | None = None) -> Band | None:
    """Return the 90 % band of samples of shape (n,); draws that are not finite are left out, None when all are.

    ``weights`` (n,), not negative, count draws by how well they agree with measured facts.

    >>> band_of(np.arange(101.0))
    Band(low=5.0, middle=50.0, high=95.0)
    """
    values = np.atleast_1d(np.asarray(samples, float))
    counted = np.isfinite(values)
    if weights is not None:
        counted &= weights > 0
    if not counted.any():
        return None
    kept = values[counted]
    wanted = np.array([(1 - BAND_SHARE) / 2, 0.5, (1 + BAND_SHARE) / 2])
    if weights is None:
        low, middle, high = np.quantile(kept, wanted)
    else:
        order = np.argsort(kept)
        mass = weights[counted][order]
        place = (np.cumsum(mass) - 0.5 * mass) / mass.sum()
        low, middle, high = np.interp(wanted, place, kept[order])
    return Band(float(low), float(middle), float(high))


def share_of(condition: Any, weights: NDArray[np.float64] | None = None) -> float:
    """Return the share of draws in which a condition holds."""
    return float(np.average(np.atleast_1d(np.asarray(condition, float)), weights=weights))
