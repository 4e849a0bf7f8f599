"""The turbulence under the bubbles: shaped noise whose level follows the bubble rate."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.voices.control import CONTROL_S, step_samples
from tuner.rehearsal.voices.grains import GrainBank
from tuner.rehearsal.voices.shaping import Convolver, response_of_curve

Floats = NDArray[np.float64]

OCTAVES_HZ: Floats = np.array([63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0, 16000.0])
"""Centres of the octaves in which beds, strokes and rooms are drawn."""

_POINTS = 20  # envelope points in a control step
_SILENT = 3e-4  # envelopes below this are off


class Bed:
    """Noise with the spectrum of a curve (dB per octave band centre, spectral density) and unit power at gain 1."""

    def __init__(
        self, curve_db: Floats, *, sample_rate: int, rng: np.random.Generator, frequencies_hz: Floats = OCTAVES_HZ
    ) -> None:
        self._step = step_samples(sample_rate)
        response = response_of_curve(frequencies_hz, curve_db, sample_rate=sample_rate, taps=sample_rate // 64)
        self._filter = Convolver(response / np.sqrt(np.sum(response**2)))
        self._rng = rng

    def render(self, gain: Floats) -> Floats:
        """Return noise times ``gain`` (shape (n,), whole control steps); silent steps cost and draw nothing."""
        steps = gain.reshape(-1, self._step)
        active = np.any(steps > 0.0, axis=1)
        noise = np.zeros(steps.shape)
        noise[active] = self._rng.standard_normal((int(active.sum()), self._step))
        shaped = self._filter.push(noise.ravel())
        out: Floats = shaped * gain
        return out


class Follower:
    """An envelope that rises with every event and falls after it: power in, amplitude out."""

    def __init__(self, sample_rate: int, rise_s: float, fall_s: float) -> None:
        self._step = step_samples(sample_rate)
        point_s = CONTROL_S / _POINTS
        self._poles = (float(np.exp(-point_s / rise_s)), float(np.exp(-point_s / fall_s)))
        self._state = np.zeros((2, 1))
        self._last = 0.0

    def render(self, times_s: Floats, powers: Floats, n_steps: int) -> Floats:
        """Return the amplitude envelope of the next ``n_steps`` control steps.

        An event of power p per second of its rate keeps, in the mean, the power p: ``n`` events a second of
        power p give the mean square n p.
        """
        from scipy.signal import lfilter

        points = np.zeros(n_steps * _POINTS)
        if len(times_s):
            at = np.minimum((times_s / CONTROL_S * _POINTS).astype(np.int64), len(points) - 1)
            np.add.at(points, at, powers * (_POINTS / CONTROL_S))
        for number, pole in enumerate(self._poles):
            points, self._state[number] = lfilter([1.0 - pole], [1.0, -pole], points, zi=self._state[number])
        values = np.maximum(np.sqrt(np.maximum(points, 0.0)) - _SILENT, 0.0)
        marks = np.arange(0, n_steps * _POINTS + 1) * (self._step / _POINTS)
        out: Floats = np.interp(np.arange(1, n_steps * self._step + 1), marks, np.concatenate(([self._last], values)))
        self._last = float(values[-1]) if len(values) else self._last
        return out


def stroke_bank(
    curve_db: Floats,
    *,
    sample_rate: int,
    rng: np.random.Generator,
    shortest_s: float,
    longest_s: float,
    count: int = 64,
) -> GrainBank:
    """Return a bank of broadband strokes: bursts of shaped noise that start at once and die away."""
    response = response_of_curve(OCTAVES_HZ, curve_db, sample_rate=sample_rate, taps=sample_rate // 128)
    strokes = []
    for _ in range(count):
        length_s = float(np.exp(rng.uniform(np.log(shortest_s), np.log(longest_s))))
        n = max(8, int(4.0 * length_s * sample_rate))
        t = np.arange(n) / sample_rate
        attack = float(rng.uniform(0.05, 0.4)) * length_s
        shape = (1.0 - np.exp(-t / attack)) * np.exp(-t / length_s)
        stroke = np.convolve(rng.standard_normal(n) * shape, response)[: n + len(response) // 2]
        stroke[-n // 4 :] *= np.linspace(1.0, 0.0, len(stroke[-n // 4 :]))
        strokes.append(stroke / np.sqrt(np.sum(stroke**2)))
    return GrainBank(strokes)
