"""Roar: the emergency pipe carries water, which falls loud and broad, with thousands of bubbles a second."""

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

_BED_DB: Floats = np.array([-10.0, -3.0, 0.0, 2.0, 1.0, 0.0, -3.0, -7.0, -14.0])
_STROKE_DB: Floats = np.array([-16.0, -8.0, -2.0, 0.0, 0.0, -1.0, -4.0, -8.0, -14.0])


def _drawn_mix(rng: np.random.Generator, rate_hz: float, per_burst: float) -> BurstMix:
    """Draw what a torrent in a pipe is made of."""
    u = rng.uniform
    return BurstMix(
        rate_hz=rate_hz,
        small=drawn_sizes(
            rng,
            smallest_mm=(0.35, 0.6),
            largest_mm=(3.0, 7.0),
            exponent=(1.7, 2.5),
            growth=(0.7, 1.0),
            spread=(0.9, 1.2),
            rising=(0.1, 0.3),
            damping_factor=(1.6, 2.3),
        ),
        small_per_burst=per_burst,
        small_within_s=u(0.015, 0.05),
        small_share=1.0,
        large=drawn_sizes(
            rng,
            smallest_mm=(2.5, 4.0),
            largest_mm=(8.0, 14.0),
            exponent=(1.0, 1.8),
            growth=(0.4, 0.9),
            spread=(0.6, 0.9),
            rising=(0.1, 0.3),
            damping_factor=(1.8, 2.6),
        ),
        large_per_burst=u(0.2, 0.8),
        large_share=u(0.02, 0.1),
        cavity_hz=(u(90.0, 150.0), u(200.0, 400.0)),
        cavity_rise=(1.1, u(1.4, 2.5)),
        cavity_s=(0.05, u(0.1, 0.3)),
        cavity_per_burst=u(0.0, 0.05),
        cavity_share=u(0.0, 0.05),
        stroke_db=drawn_curve(rng, OCTAVES_HZ, _STROKE_DB, 3.0),
        stroke_s=(0.001, u(0.003, 0.008)),
        stroke_spread=u(0.5, 0.9),
        stroke_share=u(0.05, 0.3),
        bed_db=drawn_curve(rng, OCTAVES_HZ, _BED_DB, 3.0),
        bed_rise_s=u(0.01, 0.05),
        bed_fall_s=u(0.05, 0.2),
        bed_share=u(0.1, 0.5),
    )


class Roar:
    """Bursts so dense that they run into one another, with a slow swing."""

    def __init__(self, *, sample_rate: int, rng: np.random.Generator) -> None:
        bubbles_hz = float(np.exp(rng.uniform(np.log(2500.0), np.log(5000.0))))
        per_burst = float(rng.uniform(25.0, 45.0))
        self._rate_hz = bubbles_hz / per_burst
        self._spread = float(rng.uniform(0.1, 0.4))
        mix = _drawn_mix(rng, self._rate_hz, per_burst)
        self._bursts = Bursts(mix, sample_rate=sample_rate, rng=rng.spawn(1)[0])
        self._returns = Returns(rng.spawn(1)[0], 1.0)
        self._wander = Wander(rng.spawn(1)[0], float(rng.uniform(0.5, 2.0)), float(rng.uniform(0.03, 0.15)))
        self._colour = PipeColour(sample_rate=sample_rate, rng=rng, most_db=float(rng.uniform(0.5, 4.0)))
        self._rng = rng

    def sound(self, drive: Floats) -> Floats:
        """Return the unscaled sound for the drive."""
        wander = self._wander.steps(len(drive))
        for step, strength in enumerate(drive.tolist()):
            for time_s in self._returns.step(self._rate_hz * min(strength, 1.5) ** 0.3 * wander[step]):
                size = float(np.exp(self._spread * self._rng.standard_normal()))
                self._bursts.burst(step, time_s, size * strength**0.8)
        return self._colour.push(self._bursts.take(len(drive)))
