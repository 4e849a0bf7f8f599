"""Gurgle: air that an overfull open channel drags down, in irregular trains of glugs."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.voices.bed import OCTAVES_HZ
from tuner.rehearsal.voices.bubbles import drawn_sizes
from tuner.rehearsal.voices.bursts import BurstMix, Bursts
from tuner.rehearsal.voices.control import Returns, Wander
from tuner.rehearsal.voices.pipe import PipeColour
from tuner.rehearsal.voices.shaping import drawn_curve

Floats = NDArray[np.float64]

_BED_DB: Floats = np.array([-8.0, 0.0, 3.0, 2.0, -2.0, -7.0, -13.0, -20.0, -30.0])
_STROKE_DB: Floats = np.array([-20.0, -12.0, -4.0, -1.0, 0.0, 0.0, -1.0, -3.0, -8.0])


def _drawn_mix(rng: np.random.Generator, rate_hz: float) -> BurstMix:
    """Draw what a glug of this drain is made of."""
    u = rng.uniform
    return BurstMix(
        rate_hz=rate_hz,
        small=drawn_sizes(
            rng,
            smallest_mm=(0.45, 0.75),
            largest_mm=(3.5, 6.0),
            exponent=(1.4, 2.1),
            growth=(0.7, 1.0),
            spread=(0.9, 1.2),
            rising=(0.1, 0.35),
            damping_factor=(1.5, 2.1),
        ),
        small_per_burst=u(14.0, 28.0),
        small_within_s=u(0.012, 0.035),
        small_share=1.0,
        large=drawn_sizes(
            rng,
            smallest_mm=(2.5, 4.0),
            largest_mm=(8.0, 14.0),
            exponent=(0.8, 1.6),
            growth=(0.4, 0.9),
            spread=(0.6, 0.9),
            rising=(0.1, 0.4),
            damping_factor=(1.6, 2.4),
        ),
        large_per_burst=u(0.4, 1.2),
        large_share=u(0.1, 0.5),
        cavity_hz=(u(90.0, 140.0), u(200.0, 380.0)),
        cavity_rise=(1.2, u(1.8, 5.0)),
        cavity_s=(0.05, u(0.15, 0.35)),
        cavity_per_burst=u(0.2, 0.8),
        cavity_share=float(np.exp(u(np.log(0.03), np.log(0.5)))),
        stroke_db=drawn_curve(rng, OCTAVES_HZ, _STROKE_DB, 3.0),
        stroke_s=(0.0008, u(0.003, 0.006)),
        stroke_spread=u(0.6, 1.0),
        stroke_share=u(0.05, 0.35),
        bed_db=drawn_curve(rng, OCTAVES_HZ, _BED_DB, 3.0),
        bed_rise_s=u(0.01, 0.03),
        bed_fall_s=u(0.06, 0.25),
        bed_share=u(0.02, 0.15),
    )


class Gurgle:
    """Glugs at a rate that wanders slowly; the drive makes them more frequent and stronger."""

    def __init__(self, *, sample_rate: int, rng: np.random.Generator) -> None:
        self._rate_hz = float(np.exp(rng.uniform(np.log(11.0), np.log(30.0))))
        self._spread = float(rng.uniform(0.3, 0.7))
        self._bursts = Bursts(_drawn_mix(rng, self._rate_hz), sample_rate=sample_rate, rng=rng.spawn(1)[0])
        self._returns = Returns(rng.spawn(1)[0], float(rng.uniform(0.7, 2.5)))
        self._wander = Wander(rng.spawn(1)[0], float(rng.uniform(0.3, 1.5)), float(rng.uniform(0.2, 0.5)))
        self._colour = PipeColour(sample_rate=sample_rate, rng=rng, most_db=float(rng.uniform(1.0, 6.0)))
        self._rng = rng

    def sound(self, drive: Floats) -> Floats:
        """Return the unscaled sound for the drive."""
        wander = self._wander.steps(len(drive))
        for step, strength in enumerate(drive.tolist()):
            rate = self._rate_hz * strength**0.5 * wander[step]
            for time_s in self._returns.step(rate):
                size = float(np.exp(self._spread * self._rng.standard_normal()))
                self._bursts.burst(step, time_s, size * strength**0.6)
        return self._colour.push(self._bursts.take(len(drive)))
