"""Weave: how the narrow bands of a sound go together.

A bubble or a drop rings in one narrow band, at a moment of its own; a knock, a scrape or a voice starts in many bands
at once. So water shows in the likeness between the fast envelopes of bands half an octave to three octaves
apart, and in how many bands start together. (Correlations between the envelopes of cochlear bands are among the
statistics by which listeners recognise sound textures, water above all: McDermott and Simoncelli, Neuron 71, 2011.)

Names: ``weave`` likeness of the amplitude envelopes, ``detail`` likeness of what changes within an eighth of a
second, both for bands so many half octaves apart in the lower and the upper half; ``onsets`` logarithm of the
starts a second of a band; ``onset width`` how many bands start together; ``onset alone`` share of the starts that one
band makes alone.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tuner.signatures.memory import SLABS_PER_S, Memory
from tuner.sound.texture import NARROW_EDGES_HZ, NARROW_PER_SLAB

Vector = NDArray[np.float64]

SPAN_SLABS = 2 * SLABS_PER_S
_BANDS = len(NARROW_EDGES_HZ) - 1
_RATE_HZ = NARROW_PER_SLAB * SLABS_PER_S
_APART = (1, 2, 4, 6)  # half octaves
_SLOW = _RATE_HZ // 8  # envelope values in the eighth of a second that counts as slow
_RISE_DB = 6.0  # within 10 ms: noise of a half octave rises so about ten times a second, a bubble always does
_REGIONS = (("low", 0, 4), ("mid", 4, 7), ("high", 7, _BANDS))

WEAVE_NAMES: tuple[str, ...] = (
    *(f"{what} {apart} {half}" for what in ("weave", "detail") for apart in _APART for half in ("low", "high")),
    *(f"onsets {name}" for name, _, _ in _REGIONS), "onset width", "onset alone",
)


def weave(memory: Memory) -> Vector:
    """Return the features, shape (len(WEAVE_NAMES),), of the newest two seconds; bands without sound are left out."""
    power = memory.narrow(SPAN_SLABS).astype(np.float64)
    level_db = 10.0 * np.log10(power)
    alive = level_db.std(axis=0) > 1e-3
    amplitude = np.sqrt(power)
    sums = np.cumsum(level_db, axis=0)
    slow = (sums[_SLOW:] - sums[:-_SLOW]) / _SLOW
    begin = _SLOW // 2
    detail = level_db[begin : begin + len(slow)] - slow
    return np.concatenate([_likeness(amplitude, alive), _likeness(detail, alive), _onsets(level_db)])


def _likeness(series: Vector, alive: NDArray[np.bool_]) -> Vector:
    """Mean correlation of columns so many apart, in the lower and the upper half; 0 where none are alive."""
    centred = series - series.mean(axis=0)
    centred /= centred.std(axis=0) + 1e-12
    table = centred.T @ centred / len(centred)
    found = []
    for apart in _APART:
        pairs = np.diagonal(table, apart)
        both = alive[:-apart] & alive[apart:]
        half = len(pairs) // 2
        for part in (slice(None, half), slice(half, None)):
            count = np.count_nonzero(both[part])
            found.append(float(pairs[part] @ both[part]) / count if count else 0.0)
    return np.array(found)


def _onsets(level_db: Vector) -> Vector:
    rise = level_db[2:] - level_db[:-2]
    starts = (rise[1:-1] > _RISE_DB) & (rise[1:-1] >= rise[2:]) & (rise[1:-1] > rise[:-2])
    rates = [np.log(starts[:, a:b].mean() * _RATE_HZ + 0.5) for _, a, b in _REGIONS]
    together = starts.sum(axis=1)
    together = together[together > 0]
    if not together.size:
        return np.array([*rates, 1.0, 0.5])
    return np.array([*rates, float(together.mean()), float(np.mean(together == 1))])
