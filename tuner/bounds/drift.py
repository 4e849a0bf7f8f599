"""How fast a series drifts, and when its line will cross a threshold: a robust slope with an honest interval.

The slope is the median of the slopes of all pairs (Theil 1950, Sen 1968), which a few wild values do not move. Its
interval comes from drawing the residuals in blocks, so that a series that remembers itself is not taken for more
evidence than it is.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tuner.bounds.bootstrap import memory_cells

Floats = NDArray[np.float64]

LEAST_POINTS = 10
MOST_CELLS = 80
_DRAWS = 399
_RESERVE = 1.25  # set on simulated series: without it the interval covers a few percent less than it says


@dataclass(frozen=True, slots=True)
class Drift:
    """A line through a series: its slope per unit of time with a two-sided interval, and its value at the last time.

    ``drawn_slope`` and ``drawn_last`` are the draws of both, shape (399,), for what is computed from them.
    """

    slope: float
    low: float
    high: float
    last: float
    drawn_slope: Floats
    drawn_last: Floats

    @property
    def is_sure(self) -> bool:
        """Whether the interval leaves no doubt that the series drifts."""
        return self.low > 0.0 or self.high < 0.0


def drift_theil_sen(time: Floats, value: Floats, confidence: float, rng: np.random.Generator) -> Drift | None:
    """Return the drift of a series, both of shape (n,); None with too few values, or all of one time.

    Long series are thinned to medians of neighbours first.
    """
    n = value.size
    if n < LEAST_POINTS or not float(np.ptp(time)) > 0.0:
        return None
    step = -(-n // MOST_CELLS)
    cells = n // step
    cut = n - cells * step
    t = time[cut:].reshape(cells, step).mean(axis=1) - time[-1]
    v = np.median(value[cut:].reshape(cells, step), axis=1)
    first, second = np.triu_indices(cells, 1)
    span = t[second] - t[first]
    first, second, span = first[span > 0.0], second[span > 0.0], span[span > 0.0]
    slope = float(np.median((v[second] - v[first]) / span))
    last = float(np.median(v - slope * t))
    residual = v - (last + slope * t)
    residual = residual - residual.mean()
    length = int(np.clip(round(2.0 * memory_cells(residual)), 1, max(1, cells // 5)))
    starts = rng.integers(0, cells, (_DRAWS, -(-cells // length)))
    places = (starts[:, :, None] + np.arange(length)).reshape(_DRAWS, -1)[:, :cells] % cells
    # A fit takes two degrees of freedom from its residuals, and blocks forget what is longer than they are.
    grown = _RESERVE * np.sqrt(cells / (cells - 2.0) / (1.0 - min(0.5, length / cells)))
    drawn = grown * residual[places]
    slopes = np.median((drawn[:, second] - drawn[:, first]) / span, axis=1)
    lasts = np.median(drawn - slopes[:, None] * t, axis=1)
    tail = (1.0 - confidence) / 2.0
    low, high = np.quantile(slopes, [tail, 1.0 - tail])
    return Drift(slope, slope - float(high), slope - float(low), last, slope - slopes, last - lasts)


@dataclass(frozen=True, slots=True)
class Crossing:
    """When a line crosses a threshold, in units of time after the last value: likely, and with each bound's confidence.

    ``late`` is infinite when a line that the data allow never crosses.
    """

    likely: float
    early: float
    late: float


def crossing_of(drift: Drift, threshold: float, confidence: float) -> Crossing | None:
    """Return when the line will reach a threshold; None when it leads away from it or has passed it already."""
    ahead = threshold - drift.last
    if drift.slope == 0.0 or ahead / drift.slope <= 0.0:
        return None
    sign = 1.0 if drift.slope > 0.0 else -1.0
    left = np.maximum(sign * (threshold - drift.drawn_last), 0.0)
    pace = sign * drift.drawn_slope
    with np.errstate(divide="ignore", invalid="ignore"):
        times = np.where(pace > 0.0, left / pace, np.inf)
    times.sort()
    early, late = times[int((1.0 - confidence) * times.size)], times[min(times.size - 1, int(confidence * times.size))]
    return Crossing(ahead / drift.slope, float(early), float(late))
