"""The level of a single block, for a meter that has to move at once."""

from __future__ import annotations

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from tuner.sound.decibels import level_db
from tuner.sound.frames import hann_window, power_scale
from tuner.sound.weighting import a_weighting_power


class QuickLevel:
    """A-weighted level of blocks, each by one windowed spectrum; windows are kept for the lengths that come.

    ``offset_db`` is the calibration (dB to add to dB re full scale), None when there is none.
    """

    def __init__(self, sample_rate: int, offset_db: float | None = None) -> None:
        self.sample_rate = sample_rate
        self._offset_db = offset_db or 0.0
        self._length = 0

    def __call__(self, samples: NDArray[np.floating]) -> float | None:
        """Return the level (dB) of one block of at least 32 samples, or None of a shorter one."""
        length = samples.size // 2 * 2
        if length < 32:
            return None
        if length != self._length:
            self._length = length
            self._window = hann_window(length).astype(np.float32)
            frequencies_hz = np.arange(length // 2 + 1) * (self.sample_rate / length)
            self._gain = power_scale(hann_window(length)) * a_weighting_power(frequencies_hz)
        spectrum = scipy.fft.rfft(np.asarray(samples[-length:], dtype=np.float32) * self._window)
        power = spectrum.real.astype(np.float64) ** 2 + spectrum.imag.astype(np.float64) ** 2
        return level_db(float(power @ self._gain)) + self._offset_db
