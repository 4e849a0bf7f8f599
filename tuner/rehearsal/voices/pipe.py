"""The weak colour of a pipe: its odd quarter-wave modes stand out a little."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

SOUND_SPEED_M_S = 346.0  # air at 25 °C


def quarter_wave_modes(length_m: float, *, below_hz: float) -> list[float]:
    """Return the odd modes of a pipe closed at one end, f = (2 k + 1) c / (4 L), below a frequency.

    >>> [round(f) for f in quarter_wave_modes(0.5, below_hz=600.0)]
    [173, 519]
    """
    first = SOUND_SPEED_M_S / (4.0 * length_m)
    count = int((below_hz / first + 1.0) // 2)
    return [first * (2 * k + 1) for k in range(count)]


def _peak(frequency_hz: float, gain_db: float, sharpness: float, sample_rate: int) -> list[float]:
    # Peaking section of R. Bristow-Johnson's audio equaliser cookbook.
    w = 2.0 * np.pi * frequency_hz / sample_rate
    a = 10.0 ** (gain_db / 40.0)
    alpha = np.sin(w) / (2.0 * sharpness)
    b = np.array([1.0 + alpha * a, -2.0 * np.cos(w), 1.0 - alpha * a])
    c = np.array([1.0 + alpha / a, -2.0 * np.cos(w), 1.0 - alpha / a])
    row: list[float] = np.concatenate((b / c[0], c / c[0])).tolist()
    return row


class PipeColour:
    """A cascade of gentle peaks at the modes of a pipe of drawn length."""

    def __init__(self, *, sample_rate: int, rng: np.random.Generator, most_db: float) -> None:
        length_m = float(rng.uniform(0.15, 1.3))
        rows = []
        for mode in quarter_wave_modes(length_m, below_hz=min(2500.0, 0.4 * sample_rate))[:6]:
            gain_db = float(rng.uniform(0.2, 1.0)) * most_db
            shift = float(np.exp(0.04 * rng.standard_normal()))
            rows.append(_peak(mode * shift, gain_db, float(rng.uniform(3.0, 9.0)), sample_rate))
        self._sections = np.array(rows)
        self._state = np.zeros((len(rows), 2))

    def push(self, samples: Floats) -> Floats:
        """Return the samples with the pipe's colour."""
        if not samples.any() and not self._state.any():
            return samples
        from scipy.signal import sosfilt

        coloured, self._state = sosfilt(self._sections, samples, zi=self._state)
        self._state[np.abs(self._state) < 1e-15] = 0.0
        out: Floats = coloured
        return out
