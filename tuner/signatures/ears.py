"""Ears: slabs in, one ``Look`` every half second.

A look holds the named features of the newest second in its context and the plain powers of the newest half
second. The chain is texture, memory and long spectrum behind the framer; it is the only path, for a
microphone, a recording and the training alike.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tuner.signatures.features import NAMES, measure
from tuner.signatures.lines import LINE_NAMES, LineTracker
from tuner.signatures.memory import SLABS_PER_S, TRACE_SLABS, Memory
from tuner.sound.frames import Framer, LongSpectrum, Slab
from tuner.sound.texture import Texturer

FEATURE_NAMES: tuple[str, ...] = (*NAMES, *LINE_NAMES)
LOOK_SLABS = 5
LOOK_S = LOOK_SLABS / SLABS_PER_S


def columns_of(names: Iterable[str]) -> NDArray[np.intp]:
    """Return where features stand in a look, by their names."""
    return np.array([FEATURE_NAMES.index(name) for name in names], dtype=np.intp)


@dataclass(frozen=True, slots=True)
class Look:
    """What the ears know at one moment.

    ``end`` is the sample index just after the newest half second, ``features`` (len(FEATURE_NAMES),) the
    named numbers, ``thirds`` (22,) mean squares of the third-octaves over that half second, ``level`` its
    A-weighted mean square, ``clipped`` its samples at full scale.
    """

    end: int
    features: NDArray[np.float64]
    thirds: NDArray[np.float64]
    level: float
    clipped: int


class Ears:
    """The streaming chain from slabs to looks: ``push``, ``flush``, ``reset``. Memory is bounded by two minutes."""

    def __init__(self, sample_rate: int) -> None:
        self.sample_rate = sample_rate
        self._texturer = Texturer(sample_rate)
        self._long = LongSpectrum(sample_rate)
        self._memory = Memory()
        self._lines = LineTracker(sample_rate)
        self.usable = self._texturer.usable
        self.reset()

    def reset(self) -> None:
        """Forget everything; the next slab may start anywhere."""
        self._texturer.reset()
        self._long.reset()
        self._memory.reset()
        self._lines.reset()
        self._clipped = 0

    @property
    def thirds(self) -> NDArray[np.float32]:
        """Third-octave mean squares of the newest slabs, oldest first, shape (<= 1200, 22)."""
        return self._memory.trace(TRACE_SLABS)

    def push(self, slab: Slab) -> tuple[Look, ...]:
        """Take the next slab and return the look that it completes, if any; the first comes after a second."""
        for texture in self._texturer.push(slab):
            self._memory.add(texture)
            self._clipped += texture.clipped
        for frame in self._long.push(slab):
            self._lines.add(frame)
        if self._memory.slabs < SLABS_PER_S or self._memory.slabs % LOOK_SLABS:
            return ()
        look = Look(
            end=slab.start + slab.samples.size,
            features=self._features(),
            thirds=self._memory.trace(LOOK_SLABS).mean(axis=0, dtype=np.float64),
            level=float(self._memory.trace_level(LOOK_SLABS).mean(dtype=np.float64)),
            clipped=self._clipped,
        )
        self._clipped = 0
        return (look,)

    @property
    def since_look(self) -> int:
        """How many slabs came after the newest look; 0 before the first."""
        return self._memory.slabs % LOOK_SLABS if self._memory.slabs > SLABS_PER_S else 0

    def glance(self) -> NDArray[np.float64] | None:
        """Return the named features of the newest second between two looks; None before the first look, or at one.

        It changes nothing: what follows is as if nobody had asked.
        """
        return self._features() if self.since_look else None

    def _features(self) -> NDArray[np.float64]:
        return np.concatenate([measure(self._memory), self._lines.measure(self._memory)])

    def flush(self) -> tuple[Look, ...]:
        """End the stream and be as new; an unfinished half second is left out."""
        self.reset()
        return ()


def looks_of(samples: NDArray[np.floating], sample_rate: int) -> tuple[Look, ...]:
    """Return the looks of a whole recording: the stream read at once."""
    framer, ears = Framer(sample_rate), Ears(sample_rate)
    slabs = (*framer.push(samples), *framer.flush())
    return tuple(look for slab in slabs for look in ears.push(slab))
