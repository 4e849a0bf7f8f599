"""Trickle: a film that breaks up and falls as hundreds of small drops a second, steady and bright."""

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

_BED_DB: Floats = np.array([-40.0, -32.0, -24.0, -15.0, -6.0, 0.0, 0.0, -3.0, -12.0])
_STROKE_DB: Floats = np.array([-30.0, -24.0, -16.0, -8.0, -2.0, 1.0, 1.0, -2.0, -10.0])


def _drawn_mix(rng: np.random.Generator, rate_hz: float, per_burst: float) -> BurstMix:
    u = rng.uniform
    return BurstMix(
        rate_hz=rate_hz,
        small=drawn_sizes(
            rng,
            smallest_mm=(0.35, 0.5),
            largest_mm=(1.6, 3.4),
            exponent=(2.1, 3.0),
            growth=(0.7, 1.1),
            spread=(0.9, 1.2),
            rising=(0.1, 0.4),
            damping_factor=(1.5, 2.2),
        ),
        small_per_burst=per_burst,
        small_within_s=u(0.005, 0.02),
        small_share=1.0,
        large=drawn_sizes(
            rng,
            smallest_mm=(1.6, 3.0),
            largest_mm=(3.2, 7.0),
            exponent=(1.5, 2.5),
            growth=(0.4, 0.9),
            spread=(0.7, 1.0),
            rising=(0.2, 0.5),
            damping_factor=(1.6, 2.4),
        ),
        large_per_burst=u(0.1, 0.6),
        large_share=u(0.03, 0.4),
        cavity_hz=(300.0, 700.0),
        cavity_rise=(1.1, 1.7),
        cavity_s=(0.04, 0.1),
        cavity_per_burst=0.0,
        cavity_share=0.0,
        stroke_db=drawn_curve(rng, OCTAVES_HZ, _STROKE_DB, 3.0),
        stroke_s=(0.0005, u(0.0015, 0.004)),
        stroke_spread=u(0.6, 1.0),
        stroke_share=u(0.03, 0.25),
        bed_db=drawn_curve(rng, OCTAVES_HZ, _BED_DB, 3.0),
        bed_rise_s=u(0.01, 0.03),
        bed_fall_s=u(0.04, 0.15),
        bed_share=u(0.1, 0.6),
    )


class Trickle:
    """Small drops in small groups; the drive makes them more frequent and stronger."""

    def __init__(self, *, sample_rate: int, rng: np.random.Generator) -> None:
        drops_hz = float(np.exp(rng.uniform(np.log(500.0), np.log(1300.0))))
        per_burst = float(rng.uniform(4.0, 20.0))
        self._rate_hz = drops_hz / per_burst
        self._spread = float(rng.uniform(0.3, 0.8))
        mix = _drawn_mix(rng, self._rate_hz, per_burst)
        self._bursts = Bursts(mix, sample_rate=sample_rate, rng=rng.spawn(1)[0])
        self._returns = Returns(rng.spawn(1)[0], 1.0)
        self._wander = Wander(rng.spawn(1)[0], float(rng.uniform(0.2, 1.0)), float(rng.uniform(0.1, 0.4)))
        self._colour = PipeColour(sample_rate=sample_rate, rng=rng, most_db=float(rng.uniform(0.5, 3.0)))
        self._rng = rng

    def sound(self, drive: Floats) -> Floats:
        """Return the unscaled sound for the drive."""
        wander = self._wander.steps(len(drive))
        for step, strength in enumerate(drive.tolist()):
            for time_s in self._returns.step(self._rate_hz * strength**0.6 * wander[step]):
                size = float(np.exp(self._spread * self._rng.standard_normal()))
                self._bursts.burst(step, time_s, size * strength**0.5)
        return self._colour.push(self._bursts.take(len(drive)))
