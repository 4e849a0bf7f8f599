"""Hiss: air rushes through a starved vent tap, steady and bright, without bubbles."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.voices.bed import Bed
from tuner.rehearsal.voices.control import Ramp, Wander

Floats = NDArray[np.float64]

_THIRDS_HZ: Floats = 1000.0 * 2.0 ** (np.arange(-9, 13) / 3.0)


class Hiss:
    """Jet noise: a broad hump at 0.2 times air speed over hole width, rising 6 dB an octave below it.

    The Strouhal number 0.2 of a small jet is common practice; the peak is drawn from 2.8 to 7 kHz.
    """

    def __init__(self, *, sample_rate: int, rng: np.random.Generator) -> None:
        u = rng.uniform
        peak_hz = min(float(np.exp(u(np.log(2800.0), np.log(7000.0)))), 0.35 * sample_rate)
        octaves = np.log2(_THIRDS_HZ / peak_hz)
        rising, falling = float(u(6.0, 12.0)), float(u(3.0, 7.0))
        curve = np.where(octaves < 0.0, rising * octaves, -falling * octaves) + rng.normal(0.0, 1.0, len(_THIRDS_HZ))
        self._bed = Bed(curve, sample_rate=sample_rate, rng=rng.spawn(1)[0], frequencies_hz=_THIRDS_HZ)
        self._wander = Wander(rng.spawn(1)[0], float(u(0.3, 2.0)), float(u(0.01, 0.05)))
        self._ramp = Ramp(sample_rate)

    def sound(self, drive: Floats) -> Floats:
        """Return the unscaled sound for the drive."""
        return self._bed.render(self._ramp.render(drive * self._wander.steps(len(drive))))
