"""Hum: a pump's tones, at twice the mains frequency and its harmonics, at the shaft speed and at the blade pass."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tuner.errors import ConfigError
from tuner.rehearsal.voices.bed import OCTAVES_HZ, Bed
from tuner.rehearsal.voices.control import Ramp, Wander
from tuner.rehearsal.voices.shaping import drawn_curve

Floats = NDArray[np.float64]

_WHIRR_DB: Floats = np.array([0.0, 2.0, 2.0, 0.0, -5.0, -10.0, -18.0, -26.0, -34.0])


def check_pump(mains_hz: float, shaft_hz: float) -> None:
    """Raise ConfigError unless mains and shaft are those of a pump."""
    if mains_hz not in (50.0, 60.0):
        raise ConfigError(f"mains_hz={mains_hz} must be 50 or 60: the household supply")
    if not 5.0 <= shaft_hz <= 150.0:
        raise ConfigError(f"shaft_hz={shaft_hz} must be 5 to 150: rotor revolutions per second")


class Hum:
    """Lines with steady phases; each slowly swells, and the mains line may beat against a close neighbour."""

    def __init__(self, *, sample_rate: int, rng: np.random.Generator, mains_hz: float, shaft_hz: float) -> None:
        check_pump(mains_hz, shaft_hz)
        u = rng.uniform
        mains = 2.0 * mains_hz * np.arange(1, 11)
        blades = int(rng.integers(5, 9))
        shaft = shaft_hz * np.array([1.0, 2.0, blades, 2.0 * blades])
        falling = float(u(3.0, 9.0))
        mains_db = -falling * np.log2(np.arange(1, 11)) + rng.normal(0.0, 4.0, 10)
        mains_db[0] = float(u(0.0, 4.0))
        shaft_db = np.array([u(-14.0, -2.0), u(-22.0, -8.0), u(-14.0, -4.0), u(-26.0, -12.0)])
        beat_hz = float(u(0.15, 1.2))
        self._lines_hz = np.concatenate((mains, shaft, [mains[0] + beat_hz]))
        beat_db = mains_db[0] - float(u(3.0, 20.0))
        self._gains = 10.0 ** (np.concatenate((mains_db, shaft_db, [beat_db])) / 20.0)
        self._gains[self._lines_hz > 0.45 * sample_rate] = 0.0
        self._phases = u(0.0, 2.0 * np.pi, len(self._gains))
        self._sample_rate = sample_rate
        self._at = 0
        self._ramp = Ramp(sample_rate)
        self._wander = Wander(rng.spawn(1)[0], float(u(1.0, 4.0)), float(u(0.01, 0.08)))
        self._whirr = 10.0 ** (float(u(-22.0, -8.0)) / 20.0)
        self._bed = Bed(drawn_curve(rng, OCTAVES_HZ, _WHIRR_DB, 3.0), sample_rate=sample_rate, rng=rng.spawn(1)[0])

    def sound(self, drive: Floats) -> Floats:
        """Return the unscaled sound for the drive."""
        gain = self._ramp.render(drive * self._wander.steps(len(drive)))
        out: Floats = self._whirr * self._bed.render(gain)
        if gain.any():
            # Reduced to whole turns first: phases stay exact after days.
            samples = np.arange(self._at, self._at + len(gain), dtype=np.float64)
            for line_hz, line_gain, phase in zip(self._lines_hz, self._gains, self._phases, strict=True):
                if line_gain > 0.0:
                    turns = np.mod(samples * (line_hz / self._sample_rate), 1.0)
                    out += line_gain * gain * np.sin(2.0 * np.pi * turns + phase)
        self._at += len(gain)
        return out
