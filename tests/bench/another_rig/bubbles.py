"""Bubbles: a bank of notes, each as deep as its bubble is large (Minnaert), thrown into a buffer."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from tests.bench.another_rig.noise import Samples

MINNAERT_HZ_M = 3.26  # pitch times radius
RISES = (0.0, 0.05, 0.15, 0.4)  # of the pitch while a note dies away
RADII_M = np.geomspace(0.0003, 0.018, 90)
MOSTLY_STEADY = (0.55, 0.2, 0.15, 0.1)  # odds of the rises


class Bubbles:
    """The notes of some radii with some courses of pitch, for one sample rate and one damping."""

    def __init__(self, rate_hz: int, damping: float, rng: np.random.Generator) -> None:
        self.notes = [self._notes(float(radius), rate_hz, damping, rng) for radius in RADII_M]

    @staticmethod
    def _notes(radius_m: float, rate_hz: int, damping: float, rng: np.random.Generator) -> list[Samples]:
        pitch_hz = MINNAERT_HZ_M / radius_m
        if pitch_hz > 0.42 * rate_hz:
            return [np.zeros(4)] * len(RISES)
        decay_s = damping * (0.13 / radius_m + 0.0072 * radius_m**-1.5)
        t = np.arange(int(min(5.5 / decay_s, 0.25) * rate_hz) + 8) / rate_hz
        notes = []
        for rise in RISES:
            detuned_hz = pitch_hz * (1 + rng.normal(0, 0.02))
            phase = 2 * np.pi * detuned_hz * (t + rise * t * t * decay_s / 3)
            notes.append(np.sin(phase) * np.exp(-decay_s * t) * (1 - np.exp(-t * pitch_hz * 1.5)))
        return notes

    def throw(
        self, out: Samples, at: NDArray[np.int64], radius_m: Samples, amplitude: Samples, rng: np.random.Generator,
        odds: tuple[float, ...] = MOSTLY_STEADY,
    ) -> None:
        """Add a note for each bubble; those that would sound past the end are left out."""
        which = np.clip(np.searchsorted(RADII_M, radius_m), 0, len(RADII_M) - 1)
        rise = rng.choice(len(RISES), len(at), p=odds)
        for start, size, course, a in zip(at.tolist(), which.tolist(), rise.tolist(), amplitude.tolist(), strict=True):
            note = self.notes[size][course]
            end = start + len(note)
            if end < len(out):
                out[start:end] += a * note


@lru_cache(maxsize=1)
def bank(rate_hz: int, damping: float, seed: int) -> Bubbles:
    """Return an installation's notes; they are dear to make and stay the same."""
    return Bubbles(rate_hz, damping, np.random.default_rng(seed))


def radii_m(rng: np.random.Generator, n: int, low_m: float, high_m: float, slope: float) -> Samples:
    """Return radii by a power law of exponent ``-slope`` whose edges are blurred."""
    e = 1 - slope
    drawn = (low_m**e + rng.random(n) * (high_m**e - low_m**e)) ** (1 / e)
    return drawn * np.exp(rng.normal(0, 0.22, n))
