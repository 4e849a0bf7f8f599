"""Memory: the last textures, in rings of fixed size, as the feature functions want them.

Three spans are kept: the last 5 s at full detail (what a sound is like), and the last two minutes as one
level a slab (how it comes and goes). Nothing else of the sound is kept.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tuner.sound.frames import FRAMES_PER_SLAB
from tuner.sound.texture import (
    FAST_OCTAVES_HZ,
    FAST_PER_SLAB,
    NARROW_EDGES_HZ,
    NARROW_PER_SLAB,
    THIRD_CENTRES_HZ,
    Texture,
)

SLABS_PER_S = 10
DETAIL_SLABS = 5 * SLABS_PER_S
TRACE_SLABS = 120 * SLABS_PER_S

Array = NDArray[np.float32]


class Memory:
    """The newest textures. Arrays grow until their span is reached, then the oldest values leave."""

    def __init__(self) -> None:
        self.reset()

    def reset(self) -> None:
        """Forget everything."""
        self._count = 0
        self._bands = np.zeros((DETAIL_SLABS * FRAMES_PER_SLAB, len(THIRD_CENTRES_HZ)), dtype=np.float32)
        self._level = np.zeros(DETAIL_SLABS * FRAMES_PER_SLAB, dtype=np.float32)
        self._fast = np.zeros((DETAIL_SLABS * FAST_PER_SLAB, len(FAST_OCTAVES_HZ)), dtype=np.float32)
        self._narrow = np.zeros((DETAIL_SLABS * NARROW_PER_SLAB, len(NARROW_EDGES_HZ) - 1), dtype=np.float32)
        self._notes = np.zeros((DETAIL_SLABS, 6), dtype=np.float32)
        self._trace = np.zeros((TRACE_SLABS, len(THIRD_CENTRES_HZ)), dtype=np.float32)
        self._trace_level = np.zeros(TRACE_SLABS, dtype=np.float32)

    @property
    def slabs(self) -> int:
        """How many slabs were added since the reset."""
        return self._count

    def add(self, texture: Texture) -> None:
        """Take the next texture."""
        for ring, rows in (
            (self._bands, texture.bands), (self._level, texture.level), (self._fast, texture.fast),
            (self._narrow, texture.narrow),
            (self._notes, np.concatenate([texture.peaks, texture.persistence, [texture.pitch]])[None]),
            (self._trace, texture.thirds[None]), (self._trace_level, texture.level.mean(keepdims=True)),
        ):
            step = len(rows)
            ring[:-step] = ring[step:]
            ring[-step:] = rows
        self._count += 1

    def _newest(self, ring: Array, slabs: int, per_slab: int) -> Array:
        return ring[len(ring) - min(slabs, self._count) * per_slab :]

    def bands(self, slabs: int) -> Array:
        """Third-octave powers of the newest frames, shape (<= 10 slabs, 22)."""
        return self._newest(self._bands, slabs, FRAMES_PER_SLAB)

    def level(self, slabs: int) -> Array:
        """A-weighted mean squares of the newest frames, shape (<= 10 slabs,)."""
        return self._newest(self._level, slabs, FRAMES_PER_SLAB)

    def fast(self, slabs: int) -> Array:
        """Fast octave powers, shape (<= 40 slabs, 5)."""
        return self._newest(self._fast, slabs, FAST_PER_SLAB)

    def narrow(self, slabs: int) -> Array:
        """Half-octave powers of short windows, shape (<= 20 slabs, 11)."""
        return self._newest(self._narrow, slabs, NARROW_PER_SLAB)

    def notes(self, slabs: int) -> Array:
        """Peaks (3), persistence (2) and pitch of the newest slabs, shape (<= slabs, 6)."""
        return self._newest(self._notes, slabs, 1)

    def trace(self, slabs: int) -> Array:
        """Third-octave powers of the newest slabs, shape (<= slabs, 22)."""
        return self._newest(self._trace, slabs, 1)

    def trace_level(self, slabs: int) -> Array:
        """A-weighted mean squares of the newest slabs, shape (<= slabs,)."""
        return self._newest(self._trace_level, slabs, 1)
