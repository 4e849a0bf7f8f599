"""How loud a voice is: pascal at 1 m, set by its A-weighted level at drive 1.

Each kind has a typical A-weighted sound pressure level at 1 m, and each drawn voice lies some decibels off it. A
voice is rendered once for a few seconds at drive 1 (a copy, so the stream is untouched) and scaled to its level.
"""

from __future__ import annotations

from copy import deepcopy
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.voices.control import CONTROL_S, checked_drive, step_samples

Floats = NDArray[np.float64]

REFERENCE_PA = 20e-6
_TRIAL_S = 4.0


class RawVoice(Protocol):
    """A voice before it is scaled."""

    def sound(self, drive: Floats) -> Floats:
        """Return the unscaled sound for the drive."""
        ...


def a_weighting_db(frequency_hz: NDArray[np.floating]) -> Floats:
    """Return the A-weighting in dB after IEC 61672-1 (frequencies > 0).

    >>> [round(v, 1) for v in a_weighting_db(np.array([100.0, 1000.0])).tolist()]
    [-19.1, 0.0]
    """
    s = np.asarray(frequency_hz, dtype=np.float64) ** 2
    ratio = 12194.0**2 * s**2 / ((s + 20.6**2) * np.sqrt((s + 107.7**2) * (s + 737.9**2)) * (s + 12194.0**2))
    out: Floats = 20.0 * np.log10(ratio) + 2.0
    return out


def a_level_db(pressure_pa: Floats, *, sample_rate: int) -> float:
    """Return the A-weighted equivalent level of the whole signal, dB re 20 µPa; -inf for silence."""
    n = len(pressure_pa)
    power = np.abs(np.fft.rfft(pressure_pa)[1:]) ** 2
    bins = np.fft.rfftfreq(n, 1.0 / sample_rate)[1:]
    square = 2.0 * float(np.sum(power * 10.0 ** (a_weighting_db(bins) / 10.0))) / n**2
    return float(10.0 * np.log10(square / REFERENCE_PA**2)) if square > 0.0 else float("-inf")


class Levelled:
    """A raw voice at a set level: pascal at 1 m, ``level_db`` (A-weighted, re 20 µPa) at drive 1."""

    def __init__(self, raw: RawVoice, *, sample_rate: int, level_db: float) -> None:
        self._raw = raw
        self._step = step_samples(sample_rate)
        self._rate = sample_rate
        self.level_db = level_db
        self._gain: float | None = None

    def render(self, drive: Floats) -> NDArray[np.float32]:
        """Return the pressure in pascal at 1 m; shape (len(drive) * step,)."""
        curve = checked_drive(drive)
        out = np.zeros(len(curve) * self._step, dtype=np.float32)
        begins = 0
        if self._gain is None:
            # The voice's own time begins with the first drive, so that silence before it costs nothing.
            if not curve.any():
                return out
            begins = int(np.flatnonzero(curve)[0])
            self._gain = self._trial()
        if begins < len(curve):
            out[begins * self._step :] = self._gain * self._raw.sound(curve[begins:])
        return out

    def _trial(self) -> float:
        heard = deepcopy(self._raw).sound(np.ones(round(_TRIAL_S / CONTROL_S)))
        heard = heard[len(heard) // 5 :]
        return float(10.0 ** ((self.level_db - a_level_db(heard, sample_rate=self._rate)) / 20.0))
