"""Splash: water that falls onto a surface, a patter of blows with the bubbles that each one drives under."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.voices.bed import OCTAVES_HZ
from tuner.rehearsal.voices.bubbles import drawn_sizes
from tuner.rehearsal.voices.bursts import BurstMix, Bursts
from tuner.rehearsal.voices.control import Returns, Wander
from tuner.rehearsal.voices.shaping import drawn_curve

Floats = NDArray[np.float64]

_BED_DB: Floats = np.array([-20.0, -12.0, -5.0, -1.0, 0.0, -1.0, -4.0, -8.0, -15.0])
_STROKE_DB: Floats = np.array([-22.0, -14.0, -6.0, -1.0, 0.0, 0.0, -2.0, -5.0, -11.0])


def _drawn_mix(rng: np.random.Generator, rate_hz: float) -> BurstMix:
    u = rng.uniform
    return BurstMix(
        rate_hz=rate_hz,
        small=drawn_sizes(
            rng,
            smallest_mm=(0.35, 0.6),
            largest_mm=(3.0, 6.0),
            exponent=(1.6, 2.4),
            growth=(0.7, 1.0),
            spread=(0.9, 1.2),
            rising=(0.1, 0.4),
            damping_factor=(1.5, 2.2),
        ),
        small_per_burst=u(20.0, 40.0),
        small_within_s=u(0.015, 0.05),
        small_share=1.0,
        large=drawn_sizes(
            rng,
            smallest_mm=(2.0, 3.0),
            largest_mm=(6.0, 10.0),
            exponent=(1.0, 1.8),
            growth=(0.4, 0.9),
            spread=(0.6, 0.9),
            rising=(0.2, 0.5),
            damping_factor=(1.6, 2.4),
        ),
        large_per_burst=u(0.2, 0.8),
        large_share=u(0.03, 0.25),
        cavity_hz=(u(150.0, 250.0), u(350.0, 600.0)),
        cavity_rise=(1.1, u(1.4, 2.5)),
        cavity_s=(0.04, u(0.1, 0.2)),
        cavity_per_burst=u(0.02, 0.15),
        cavity_share=u(0.0, 0.08),
        stroke_db=drawn_curve(rng, OCTAVES_HZ, _STROKE_DB, 3.0),
        stroke_s=(0.001, u(0.004, 0.012)),
        stroke_spread=u(0.6, 1.0),
        stroke_share=u(0.15, 0.6),
        bed_db=drawn_curve(rng, OCTAVES_HZ, _BED_DB, 3.0),
        bed_rise_s=u(0.005, 0.02),
        bed_fall_s=u(0.05, 0.2),
        bed_share=u(0.3, 1.0),
    )


class Splash:
    """Blows at a rate of some tens a second; the drive makes them more frequent and harder."""

    def __init__(self, *, sample_rate: int, rng: np.random.Generator) -> None:
        self._rate_hz = float(np.exp(rng.uniform(np.log(15.0), np.log(50.0))))
        self._spread = float(rng.uniform(0.3, 0.7))
        self._bursts = Bursts(_drawn_mix(rng, self._rate_hz), sample_rate=sample_rate, rng=rng.spawn(1)[0])
        self._returns = Returns(rng.spawn(1)[0], float(rng.uniform(0.8, 2.0)))
        self._wander = Wander(rng.spawn(1)[0], float(rng.uniform(0.2, 1.2)), float(rng.uniform(0.15, 0.45)))
        self._rng = rng

    def sound(self, drive: Floats) -> Floats:
        """Return the unscaled sound for the drive."""
        wander = self._wander.steps(len(drive))
        for step, strength in enumerate(drive.tolist()):
            for time_s in self._returns.step(self._rate_hz * strength**0.5 * wander[step]):
                size = float(np.exp(self._spread * self._rng.standard_normal()))
                self._bursts.burst(step, time_s, size * strength**0.7)
        return self._bursts.take(len(drive))
