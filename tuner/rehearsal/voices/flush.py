"""Flush: the open channel has turned into a siphon and dumps the box: a rise, a roaring body, a gasp at the end."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.voices.bed import OCTAVES_HZ, Bed
from tuner.rehearsal.voices.bubbles import drawn_sizes
from tuner.rehearsal.voices.bursts import BurstMix, Bursts
from tuner.rehearsal.voices.control import CONTROL_S, Ramp, Returns, Wander, step_samples
from tuner.rehearsal.voices.pipe import PipeColour
from tuner.rehearsal.voices.shaping import drawn_curve

Floats = NDArray[np.float64]

_BODY_DB: Floats = np.array([-12.0, -4.0, 6.0, 3.0, 0.0, -1.0, -4.0, -8.0, -16.0])
_GASP_DB: Floats = np.array([-25.0, -14.0, -4.0, 0.0, 3.0, 3.0, 0.0, -6.0, -14.0])


_STROKE_DB: Floats = np.array([-18.0, -10.0, -3.0, 0.0, 0.0, -1.0, -3.0, -7.0, -13.0])


def _drawn_mix(rng: np.random.Generator, rate_hz: float, per_burst: float) -> BurstMix:
    """Draw what the dump is made of: small bubbles over a throng of large ones that the pipe damps."""
    u = rng.uniform
    return BurstMix(
        rate_hz=rate_hz,
        small=drawn_sizes(
            rng,
            smallest_mm=(0.3, 0.5),
            largest_mm=(3.2, 6.0),
            exponent=(1.6, 2.3),
            growth=(0.7, 1.0),
            spread=(0.8, 1.1),
            rising=(0.1, 0.3),
            damping_factor=(1.6, 2.3),
        ),
        small_per_burst=per_burst,
        small_within_s=u(0.01, 0.03),
        small_share=1.0,
        large=drawn_sizes(
            rng,
            smallest_mm=(6.0, 9.0),
            largest_mm=(12.0, 15.0),
            exponent=(0.8, 1.6),
            growth=(0.4, 0.8),
            spread=(0.4, 0.7),
            rising=(0.1, 0.3),
            damping_factor=(2.4, 4.0),
        ),
        large_per_burst=u(4.0, 9.0),
        large_share=u(0.25, 1.0),
        cavity_hz=(u(90.0, 150.0), u(200.0, 400.0)),
        cavity_rise=(1.1, u(1.4, 2.5)),
        cavity_s=(0.05, u(0.1, 0.3)),
        cavity_per_burst=u(0.0, 0.05),
        cavity_share=u(0.0, 0.05),
        stroke_db=drawn_curve(rng, OCTAVES_HZ, _STROKE_DB, 3.0),
        stroke_s=(0.001, u(0.003, 0.008)),
        stroke_spread=u(0.5, 0.9),
        stroke_share=u(0.05, 0.2),
        bed_db=drawn_curve(rng, OCTAVES_HZ, _BODY_DB, 3.0),
        bed_rise_s=u(0.01, 0.05),
        bed_fall_s=u(0.05, 0.2),
        bed_share=u(0.05, 0.4),
    )


class Flush:
    """A torrent that swells in about 1.3 s, fades in about 1.6 s, and ends in a gasp of sucked air."""

    def __init__(self, *, sample_rate: int, rng: np.random.Generator) -> None:
        u = rng.uniform
        self._step = step_samples(sample_rate)
        self._sample_rate = sample_rate
        self._rise_s = float(u(0.7, 1.8))
        self._fall_s = float(u(0.9, 2.0))
        self._rate_hz = float(u(40.0, 90.0))
        self._body = float(u(0.1, 0.4))
        mix = _drawn_mix(rng, self._rate_hz, float(u(20.0, 40.0)))
        self._bursts = Bursts(mix, sample_rate=sample_rate, rng=rng.spawn(1)[0])
        self._bed = Bed(drawn_curve(rng, OCTAVES_HZ, _BODY_DB, 3.0), sample_rate=sample_rate, rng=rng.spawn(1)[0])
        self._gasp_bed = Bed(drawn_curve(rng, OCTAVES_HZ, _GASP_DB, 4.0), sample_rate=sample_rate, rng=rng.spawn(1)[0])
        self._spread = float(u(0.15, 0.4))
        self._gasp_s = float(u(0.3, 0.9))
        self._gasp = float(u(0.4, 1.2))
        self._returns = Returns(rng.spawn(1)[0], 1.0)
        self._wander = Wander(rng.spawn(1)[0], float(u(0.3, 1.2)), float(u(0.05, 0.2)))
        self._colour = PipeColour(sample_rate=sample_rate, rng=rng, most_db=float(u(0.5, 4.0)))
        self._ramp = Ramp(sample_rate)
        self._gasp_ramp = Ramp(sample_rate)
        self._rng = rng
        self._level = 0.0
        self._peak = 0.0
        self._gasping_s = 0.0

    def sound(self, drive: Floats) -> Floats:
        """Return the unscaled sound for the drive."""
        wander = self._wander.steps(len(drive))
        levels = np.zeros(len(drive))
        gasps = np.zeros(len(drive))
        for step, strength in enumerate(drive.tolist()):
            levels[step], gasps[step] = self._follow(strength)
            level = levels[step] * wander[step] ** 0.5
            for time_s in self._returns.step(self._rate_hz * min(1.5, level) ** 0.3 if level > 0.0 else 0.0):
                self._bursts.burst(step, time_s, level * float(np.exp(self._spread * self._rng.standard_normal())))
            if gasps[step] > 0.0:
                for _ in range(self._rng.poisson(20.0 * CONTROL_S)):
                    self._bursts.burst(step, float(self._rng.random()) * CONTROL_S, 1.2 * gasps[step])
        out = self._bursts.take(len(drive)) + self._body * self._bed.render(self._ramp.render(levels * wander**0.5))
        return self._colour.push(out + self._gasp_bed.render(self._gasp_ramp.render(gasps)))

    def _follow(self, strength: float) -> tuple[float, float]:
        """Return the level of the torrent and of the gasp after one control step."""
        if strength > 0.0:
            self._level += (strength - self._level) * (1.0 - np.exp(-3.0 * CONTROL_S / self._rise_s))
            self._peak, self._gasping_s = self._level, self._gasp_s
            return self._level, 0.0
        self._level *= float(np.exp(-4.0 * CONTROL_S / self._fall_s))
        if self._level < 0.003:
            self._level = 0.0
        if self._gasping_s <= 0.0:
            return self._level, 0.0
        self._gasping_s -= CONTROL_S
        done = 1.0 - max(0.0, self._gasping_s) / self._gasp_s
        rasp = 1.0 + 0.5 * float(self._rng.standard_normal())
        return self._level, self._gasp * self._peak * max(0.0, rasp) * float(np.sin(np.pi * done**0.6))
