"""Rounding: is a recording so quiet that it lies within a step or two of 16-bit samples?

What a step cannot tell apart was lost when the file was written: such a recording is neither silent nor noisy.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tuner.errors import ConfigError

STEP = 2.0**-15  # full scale 1
LEAST_STEPS = 1.0  # root mean square; below it causes were no longer told, on draws that served for setting it
_NEAR = 1e-3  # of a step: what float32 makes of a whole number of them


class Rounding:
    """Watches samples for whole steps of 16 bits: ``update`` with each block, then ``refuse``."""

    def __init__(self) -> None:
        self._square = self._sum = 0.0
        self._count = 0
        self._whole = True

    def update(self, samples: NDArray[np.floating]) -> None:
        """Take the next samples, float in [-1, 1]."""
        steps = np.asarray(samples, dtype=np.float64) / STEP
        self._whole = self._whole and bool(np.all(np.abs(steps - np.round(steps)) < _NEAR))
        self._square += float(steps @ steps)
        self._sum += float(steps.sum())
        self._count += steps.size

    @property
    def steps(self) -> float | None:
        """Root mean square in steps of 16 bits, the mean left out; None when the samples are finer or none came."""
        if not self._whole or not self._count:
            return None
        mean = self._sum / self._count
        return float(np.sqrt(max(0.0, self._square / self._count - mean * mean)))

    def refuse(self) -> None:
        """Raise ConfigError when so little is left that nothing can be told."""
        steps = self.steps
        if steps is not None and 0.0 < steps < LEAST_STEPS:
            raise ConfigError(
                f"samples={steps:.2f} steps of 16 bits must be at least {LEAST_STEPS:g} (root mean square): the"
                " recording is too quiet to tell silence from rounding; raise the gain, go nearer, or use 24 bits"
            )


def refuse_rounded(samples: NDArray[np.floating]) -> None:
    """Raise ConfigError when a whole recording is too quiet for its 16 bits; see ``Rounding``."""
    rounding = Rounding()
    rounding.update(samples)
    rounding.refuse()
