"""Change points of a slow series: where it steps to another level, or begins to drift.

Between two change points the series is a straight line with noise; a new piece has to pay a penalty (a multiple of the
noise's variance times ln n), so that chance rarely makes one. The best pieces are found by the PELT algorithm (Killick,
Fearnhead and Eckley 2012) of the ruptures library, in a series that is thinned to medians of neighbours when it is
long; the place of each change is then sought among the values themselves.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LEAST_POINTS = 12
LEAST_PIECE = 4
MOST_CELLS = 120
_PENALTY = 10.0  # set on simulated series without a change, some of which remember the day before; see the bench
_OUTLIER = 4.0  # standard deviations from the running median beyond which a value is drawn in
_ROUNDING = 1e-3  # of the whole span: figures are kept with four digits
_LEAST_STEP = 2.0  # standard deviations of the noise: a smaller step is a bend, if anything


@dataclass(frozen=True, slots=True)
class Piece:
    """Values ``first`` to ``last`` (both included), and the line through them: value at both ends."""

    first: int
    last: int
    start: float
    end: float


def pieces_of(time: Floats, value: Floats) -> tuple[Piece, ...]:
    """Return the straight pieces of a series, in the order of time; one piece when nothing changed.

    ``time`` rises, both have shape (n,). Series of fewer than ``LEAST_POINTS`` values are one piece.
    """
    n = value.size
    if n < LEAST_POINTS:
        return (_fitted(time, value, 0, n),) if n else ()
    sigma = noise(value)
    tamed = _tamed(value, sigma)
    step = -(-n // MOST_CELLS)
    cells = n // step
    # The oldest values that fill no cell go to the first one.
    cut = n - cells * step
    middle = np.median(tamed[cut:].reshape(cells, step), axis=1)
    when = time[cut:].reshape(cells, step).mean(axis=1)
    bounds = [0]
    if sigma > 0.0:
        bounds += [_refined(time, tamed, cut + step * b, step) for b in _breaks(when, middle, noise(middle))]
    bounds = sorted({*bounds, n})
    return tuple(_fitted(time, tamed, a, b) for a, b in itertools.pairwise(bounds))


def _breaks(time: Floats, value: Floats, sigma: float) -> list[int]:
    import ruptures  # slow to load: only who looks for changes waits for it

    if sigma <= 0.0:
        return []
    scaled = (time - time[0]) / max(float(np.ptp(time)), 1e-12)
    signal = np.column_stack([value / sigma, scaled, np.ones_like(value)])
    search = ruptures.Pelt(model="linear", min_size=LEAST_PIECE, jump=1).fit(signal)
    found = search.predict(pen=_PENALTY * float(np.log(value.size)))
    return [int(b) for b in found[:-1]]


def _refined(time: Floats, value: Floats, about: int, step: int) -> int:
    """Return where within ``step`` values of ``about`` two lines leave the least squares."""
    if step == 1:
        return about
    reach = 4 * LEAST_PIECE * step
    low, high = max(0, about - reach), min(value.size, about + reach)
    candidates = range(max(low + 3, about - step), min(high - 3, about + step) + 1)
    return min(
        candidates, default=about,
        key=lambda b: _left_over(time[low:b], value[low:b]) + _left_over(time[b:high], value[b:high]),
    )


def _left_over(time: Floats, value: Floats) -> float:
    t, v = time - time.mean(), value - value.mean()
    spread = float(t @ t)
    return float(v @ v) - (float(t @ v) ** 2 / spread if spread > 0.0 else 0.0)


def _fitted(time: Floats, value: Floats, first: int, stop: int) -> Piece:
    t, v = time[first:stop], value[first:stop]
    centred = t - t.mean()
    spread = float(centred @ centred)
    slope = float(centred @ (v - v.mean())) / spread if spread > 0.0 else 0.0
    return Piece(
        first, stop - 1, float(v.mean() + slope * centred[0]), float(v.mean() + slope * centred[-1])
    )


def noise(value: Floats) -> float:
    """Return the standard deviation of a series about its slow course, by second differences; outliers hardly count.

    A series that repeats itself from value to value is noisier than its differences say: what the running median
    leaves is looked at too, and the larger counts.
    """
    if value.size < 3:
        return 0.0
    second = np.abs(np.diff(value, 2))
    left = np.abs(value - _running_median(value))
    # 1.4826 turns a median deviation into a standard deviation (normal noise); a running median of nine follows the
    # noise a little, hence 1.1. Figures that come in steps often repeat themselves: then the rarer deviations count.
    found = max(1.4826 * float(np.median(second)) / np.sqrt(6.0), 1.63 * float(np.median(left)))
    if found < _ROUNDING * float(np.ptp(value)):
        found = max(float(np.quantile(left, 0.9)) / 1.645, _ROUNDING * float(np.ptp(value)))
    return float(found)


def _running_median(value: Floats, reach: int = 4) -> Floats:
    # Odd: a line goes on beyond its ends, where a mirror would bend it.
    padded = np.pad(value, reach, mode="reflect", reflect_type="odd") if value.size > reach else np.pad(
        value, reach, mode="edge"
    )
    median: Floats = np.median(np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1), axis=1)
    return median


def _tamed(value: Floats, sigma: float) -> Floats:
    """Return the series with lone outliers drawn in: one loud evening is no change."""
    middle = _running_median(value, 2)
    return np.clip(value, middle - _OUTLIER * sigma, middle + _OUTLIER * sigma)


def is_step(before: Piece, after: Piece, sigma: float) -> bool:
    """Tell whether the value jumps between two pieces; otherwise only its drift changes."""
    return abs(after.start - before.end) >= _LEAST_STEP * sigma
