"""How sure a mean level is, or the difference of two: the block bootstrap of energy means over series with a memory.

A room's level wanders over seconds, so neighbouring seconds say partly the same. Whole blocks, several memories long,
are drawn with replacement; the studentised mean of the draws gives the bound (Hall 1992; Politis and Romano 1992,
circular blocks). Works on powers (mean squares), since Leq is their mean.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tuner.errors import ConfigError

Floats = NDArray[np.float64]

LEAST_CELLS = 16
LEAST_BLOCKS = 8
_MEMORIES = 3.0  # a block is so many times as long as the series remembers itself
_DRAWS = 999
_MOST_CELLS = 1024
_RESERVE = 1.05  # measured: without it, bounds of strongly skewed series cover 1 to 2 % less than they say


@dataclass(frozen=True, slots=True)
class MeanBounds:
    """Energy means of columns (dB, shape (n_columns,)) with one-sided bounds, and the block length in cells.

    ``low_db`` is -inf where the series is too unsteady for a lower bound.
    """

    mean_db: Floats
    low_db: Floats
    high_db: Floats
    block_cells: int


def memory_cells(series: Floats) -> float:
    """Return how long a series, shape (n,), remembers itself, in cells: 1 + 2 x the sum of its autocorrelation.

    The sum ends at the first value below 0.05. That the mean is estimated too is allowed for (each value is taken to
    be 1/n of the memory too low).
    """
    n = series.size
    centred = series - series.mean()
    variance = float(centred @ centred)
    if variance <= 0.0:
        return 1.0
    memory = 1.0
    for lag in range(1, n // 3):
        value = float(centred[lag:] @ centred[:-lag]) / variance * n / (n - lag) + memory / n
        if value < 0.05:
            break
        memory += 2.0 * value
    return memory


def energy_mean_bounds(power: Floats, confidence: float, rng: np.random.Generator) -> MeanBounds:
    """Return energy means of ``power``, shape (n_cells, n_columns), with one-sided bounds at ``confidence``.

    All columns share the blocks, whose length follows the memory of the first column's logarithm. A bound covers the
    true mean in at least ``confidence`` minus 2 % of series that remember themselves over up to a twentieth of their
    length.

    Raises ConfigError with fewer than 16 cells or powers that are negative.
    """
    power = _checked(power)
    blocks = _draw_blocks(power, rng)
    with np.errstate(divide="ignore", invalid="ignore"):
        studentised = np.where(blocks.drawn_error > 0.0, (blocks.drawn - blocks.mean) / blocks.drawn_error, 0.0)
    low_t, high_t = np.quantile(studentised, [1.0 - confidence, confidence], axis=0)
    mean = blocks.mean
    high = mean - low_t * blocks.error
    low = mean - high_t * blocks.error
    with np.errstate(divide="ignore"):
        return MeanBounds(
            _db(mean), np.where(low > 0.0, _db(np.maximum(low, 1e-30)), -np.inf), _db(np.maximum(high, mean)),
            blocks.length,
        )


@dataclass(frozen=True, slots=True)
class DifferenceBounds:
    """Second energy means minus first ones, by columns (dB, shape (n_columns,)), with one-sided bounds of each."""

    difference_db: Floats
    low_db: Floats
    high_db: Floats


def energy_difference_bounds(
    first: Floats, second: Floats, confidence: float, rng: np.random.Generator
) -> DifferenceBounds:
    """Return how far the energy means of ``second`` lie over those of ``first``, with bounds at ``confidence``.

    Both are powers of shape (n_cells, n_columns), of times that have nothing to do with each other. Longer series than
    1024 cells are put together to coarser cells first; less than one of them is left over. Columns without any power in
    one of the two have no difference: NaN.

    Raises ConfigError as ``energy_mean_bounds``, and when the columns are not as many.
    """
    if first.ndim == 2 and second.ndim == 2 and first.shape[1] != second.shape[1]:
        raise ConfigError(f"columns={second.shape[1]} must be {first.shape[1]}: compare the same bands")
    before, after = (_draw_blocks(_coarse(_checked(power)), rng) for power in (first, second))
    with np.errstate(divide="ignore", invalid="ignore"):
        # In logarithms, where the error of a mean is its relative error.
        difference = np.log(after.mean) - np.log(before.mean)
        drawn = np.log(after.drawn) - np.log(before.drawn) - difference
        drawn_error = np.hypot(after.drawn_error / after.drawn, before.drawn_error / before.drawn)
        error = np.hypot(after.error / after.mean, before.error / before.mean)
        studentised = np.where(drawn_error > 0.0, drawn / drawn_error, 0.0)
    known = np.isfinite(difference)
    low_t, high_t = np.quantile(np.where(known, studentised, 0.0), [1.0 - confidence, confidence], axis=0)
    low = np.minimum(difference - high_t * error, difference)
    high = np.maximum(difference - low_t * error, difference)
    db = 10.0 / np.log(10.0)
    return DifferenceBounds(*(np.where(known, db * value, np.nan) for value in (difference, low, high)))


@dataclass(frozen=True, slots=True)
class _Blocks:
    """Means of columns with their errors, and those of the draws, shape (draws, n_columns)."""

    mean: Floats
    error: Floats
    drawn: Floats
    drawn_error: Floats
    length: int


def _draw_blocks(power: Floats, rng: np.random.Generator) -> _Blocks:
    n = power.shape[0]
    memory = memory_cells(np.log(power[:, 0] + 1e-30))
    length = int(np.clip(round(_MEMORIES * memory), round(n ** (1.0 / 3.0)), n // LEAST_BLOCKS))
    blocks = n // length
    sums = np.cumsum(np.concatenate([np.zeros((1, power.shape[1])), power, power[: length - 1]]), axis=0)
    means = (sums[length : length + n] - sums[:n]) / length
    # Circular blocks overlap: their spread is that of independent blocks.
    # What a block forgets at its ends, and what the estimated mean hides, make that spread too small.
    hidden = (1.0 - min(0.7, memory / (2.0 * length))) * (1.0 - length / n)
    error = _RESERVE * means.std(axis=0) * np.sqrt(1.0 / (blocks - 1) / hidden)
    drawn = means[rng.integers(0, n, (_DRAWS, blocks))]
    return _Blocks(power.mean(axis=0), error, drawn.mean(axis=1), drawn.std(axis=1) / np.sqrt(blocks - 1), length)


def _checked(power: Floats) -> Floats:
    power = np.asarray(power, dtype=np.float64)
    if power.ndim != 2 or power.shape[0] < LEAST_CELLS or not bool(np.all(power >= 0.0)):
        raise ConfigError(f"power of shape {power.shape} must hold at least {LEAST_CELLS} cells: listen longer")
    return power


def _coarse(power: Floats) -> Floats:
    """Return the means of as few neighbours as leave no more than ``_MOST_CELLS`` cells, and no odd one over."""
    step = -(-power.shape[0] // _MOST_CELLS)
    cells = power.shape[0] // step
    coarse: Floats = power[: cells * step].reshape(cells, step, power.shape[1]).mean(axis=1)
    return coarse


def _db(power: Floats) -> Floats:
    level: Floats = 10.0 * np.log10(power + 1e-30)
    return level


def widened_db(on_half_db: Floats, on_s: float, floor_s: float) -> Floats:
    """Return the half width (dB) of the bound of on minus floor, from that of on alone.

    The floor was measured in the same unsteady room for ``floor_s``: its own uncertainty grows as the root of the
    ratio of the times, and the two add in squares.

    Raises ConfigError unless both times are positive.
    """
    if not (on_s > 0.0 and floor_s > 0.0):
        raise ConfigError(f"floor_s={floor_s:g} and on_s={on_s:g} must be positive: measure the room first")
    wider: Floats = on_half_db * np.sqrt(1.0 + on_s / floor_s)
    return wider
