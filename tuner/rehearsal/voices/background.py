"""The household at rest: quiet room noise that falls with frequency, wanders slowly, with perhaps a fridge far away."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.voices.bed import OCTAVES_HZ
from tuner.rehearsal.voices.loudness import REFERENCE_PA, a_weighting_db
from tuner.rehearsal.voices.shaping import Convolver, drawn_curve, response_of_curve

Floats = NDArray[np.float64]

# Spectral density of a quiet room: between pink (-3 dB an octave) and brown (-6).
_ROOM_DB: Floats = np.array([15.0, 11.0, 6.0, 2.5, 0.0, -4.0, -8.0, -12.0, -18.0])

_WANDER_POINT_S = 0.25


class Background:
    """Steady room noise of ``level`` dB(A) (22 to 34 for a quiet home), in pascal at the microphone."""

    def __init__(self, rng: np.random.Generator, sample_rate: int, level: float, mains_hz: float = 50.0) -> None:
        self.level_db = level
        self._rate = sample_rate
        curve = drawn_curve(rng, OCTAVES_HZ, _ROOM_DB, 3.0)
        response = response_of_curve(OCTAVES_HZ, curve, sample_rate=sample_rate, taps=1024)
        bins = np.fft.rfftfreq(8192, 1.0 / sample_rate)[1:]
        power = np.abs(np.fft.rfft(response, 8192)[1:]) ** 2 * 10.0 ** (a_weighting_db(bins) / 10.0)
        wanted = REFERENCE_PA**2 * 10.0 ** (level / 10.0)
        self._filter = Convolver(response * np.sqrt(wanted / float(np.mean(power))))
        fridge = bool(rng.random() < 0.4)
        self._tones_hz = 2.0 * mains_hz * np.array([1.0, 2.0, 3.0])
        under_db = np.array([rng.uniform(2.0, 10.0), rng.uniform(8.0, 18.0), rng.uniform(12.0, 24.0)])
        tone_pa = REFERENCE_PA * 10.0 ** ((level - under_db - a_weighting_db(self._tones_hz)) / 20.0)
        self._tones_pa = tone_pa * np.sqrt(2.0) * 0.5 * fridge
        self._phases = rng.uniform(0.0, 2.0 * np.pi, 3)
        self._wander_db = float(rng.uniform(0.2, 0.8))
        self._noise_rng, self._wander_rng = rng.spawn(2)
        self._at = 0
        self._wander_state = 0.0
        self._from_db = 0.0
        self._to_db = 0.0

    def render(self, n_samples: int) -> Floats:
        """Return the next ``n_samples`` of the room."""
        out = self._filter.push(self._noise_rng.standard_normal(n_samples))
        at = np.arange(self._at, self._at + n_samples, dtype=np.float64)
        out = out * self._wander_gain(n_samples)
        if self._tones_pa.any():
            for tone_hz, tone_pa, phase in zip(self._tones_hz, self._tones_pa, self._phases, strict=True):
                out += tone_pa * np.sin(2.0 * np.pi * np.mod(at * (tone_hz / self._rate), 1.0) + phase)
        self._at += n_samples
        return out

    def _wander_gain(self, n_samples: int) -> Floats:
        point = int(_WANDER_POINT_S * self._rate)
        gain_db = np.empty(n_samples)
        done = 0
        while done < n_samples:
            within = (self._at + done) % point
            if within == 0:
                self._wander_state = 0.95 * self._wander_state + 0.31 * float(self._wander_rng.standard_normal())
                self._from_db, self._to_db = self._to_db, self._wander_db * self._wander_state
            take = min(point - within, n_samples - done)
            share = (within + np.arange(take)) / point
            gain_db[done : done + take] = self._from_db + (self._to_db - self._from_db) * share
            done += take
        gain: Floats = 10.0 ** (gain_db / 20.0)
        return gain
