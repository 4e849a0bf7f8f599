"""Slurp: a siphon inlet gulps air, two or three times a second, and a surge of bubbles follows each gulp."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.voices.bed import OCTAVES_HZ, Bed
from tuner.rehearsal.voices.bubbles import drawn_sizes
from tuner.rehearsal.voices.bursts import BurstMix, Bursts
from tuner.rehearsal.voices.control import CONTROL_S, Returns, step_samples
from tuner.rehearsal.voices.pipe import PipeColour
from tuner.rehearsal.voices.shaping import drawn_curve

Floats = NDArray[np.float64]

_SUCTION_DB: Floats = np.array([-25.0, -14.0, -5.0, 0.0, 3.0, 2.0, -2.0, -8.0, -16.0])
_STROKE_DB: Floats = np.array([-14.0, -6.0, 0.0, 2.0, 2.0, 0.0, -3.0, -9.0, -16.0])
_BED_DB: Floats = np.array([-12.0, -2.0, 3.0, 3.0, 0.0, -4.0, -9.0, -16.0, -25.0])


def _drawn_mix(rng: np.random.Generator, rate_hz: float) -> BurstMix:
    u = rng.uniform
    return BurstMix(
        rate_hz=rate_hz,
        small=drawn_sizes(
            rng,
            smallest_mm=(0.35, 0.65),
            largest_mm=(3.0, 6.0),
            exponent=(1.2, 2.2),
            growth=(0.6, 1.0),
            spread=(0.8, 1.2),
            rising=(0.1, 0.4),
            damping_factor=(1.5, 2.3),
        ),
        small_per_burst=u(10.0, 25.0),
        small_within_s=u(0.015, 0.04),
        small_share=1.0,
        large=drawn_sizes(
            rng,
            smallest_mm=(2.5, 4.0),
            largest_mm=(8.0, 15.0),
            exponent=(0.8, 1.6),
            growth=(0.4, 0.9),
            spread=(0.6, 0.9),
            rising=(0.1, 0.4),
            damping_factor=(1.6, 2.6),
        ),
        large_per_burst=u(0.2, 1.0),
        large_share=u(0.05, 0.4),
        cavity_hz=(u(90.0, 150.0), u(200.0, 450.0)),
        cavity_rise=(1.2, u(1.8, 5.0)),
        cavity_s=(0.05, u(0.15, 0.35)),
        cavity_per_burst=u(0.05, 0.3),
        cavity_share=u(0.02, 0.15),
        stroke_db=drawn_curve(rng, OCTAVES_HZ, _STROKE_DB, 3.0),
        stroke_s=(0.001, u(0.003, 0.008)),
        stroke_spread=u(0.6, 1.0),
        stroke_share=u(0.05, 0.3),
        bed_db=drawn_curve(rng, OCTAVES_HZ, _BED_DB, 3.0),
        bed_rise_s=u(0.01, 0.04),
        bed_fall_s=u(0.06, 0.25),
        bed_share=u(0.1, 0.6),
    )


class Slurp:
    """Gulps with a rasping suction that breaks off, each answered by bubbles about a tenth of a second later.

    Gulps that have begun are finished (and answered) after the drive has fallen to 0.
    """

    def __init__(self, *, sample_rate: int, rng: np.random.Generator) -> None:
        u = rng.uniform
        self._step = step_samples(sample_rate)
        self._sample_rate = sample_rate
        self._gulps_hz = float(u(1.7, 3.2))
        self._gulp_s = (float(u(0.15, 0.25)), float(u(0.3, 0.7)))
        self._lag_s = float(u(0.05, 0.16))
        self._bubbles_hz = float(u(25.0, 60.0))
        self._rasp_hz = (float(u(18.0, 35.0)), float(u(35.0, 80.0)))
        self._rasp_depth = float(u(0.3, 0.9))
        self._suction = 10.0 ** (float(u(-20.0, -6.0)) / 20.0)
        self._bed = Bed(drawn_curve(rng, OCTAVES_HZ, _SUCTION_DB, 4.0), sample_rate=sample_rate, rng=rng.spawn(1)[0])
        self._bursts = Bursts(_drawn_mix(rng, self._bubbles_hz), sample_rate=sample_rate, rng=rng.spawn(1)[0])
        self._colour = PipeColour(sample_rate=sample_rate, rng=rng, most_db=float(u(1.0, 6.0)))
        self._returns = Returns(rng.spawn(1)[0], float(u(4.0, 15.0)))
        self._rng = rng
        self._due: list[tuple[float, float]] = []  # bursts to come: seconds from the next chunk's start, strength
        self._envelope = np.zeros(0)

    def sound(self, drive: Floats) -> Floats:
        """Return the unscaled sound for the drive."""
        n = len(drive) * self._step
        for step, strength in enumerate(drive.tolist()):
            for time_s in self._returns.step(self._gulps_hz if strength > 0.0 else 0.0):
                self._gulp(step * CONTROL_S + time_s, strength)
        coming = []
        for at_s, strength in sorted(self._due):
            if at_s < len(drive) * CONTROL_S - 1e-9:
                step = int(at_s / CONTROL_S + 1e-9)
                self._bursts.burst(step, max(0.0, at_s - step * CONTROL_S), strength)
            else:
                coming.append((at_s - len(drive) * CONTROL_S, strength))
        self._due = coming
        if len(self._envelope) < n:
            self._envelope = np.concatenate((self._envelope, np.zeros(n - len(self._envelope))))
        envelope, self._envelope = self._envelope[:n], self._envelope[n:]
        return self._colour.push(self._bursts.take(len(drive)) + self._bed.render(envelope))

    def _gulp(self, at_s: float, strength: float) -> None:
        rng = self._rng
        length_s = min(float(rng.uniform(*self._gulp_s)), 0.9 / self._gulps_hz)
        size = strength * float(np.exp(0.3 * rng.standard_normal()))
        self._suck(at_s, length_s, size)
        surge_s = length_s * float(rng.uniform(0.7, 1.3))
        count = int(rng.poisson(self._bubbles_hz * surge_s / max(0.2, self._gulps_hz * 0.5 * sum(self._gulp_s))))
        # Bubbles come in a swell: early ones are many, late ones few.
        for share in np.sort(rng.beta(1.5, 2.5, count)).tolist():
            burst = size**0.8 * float(np.exp(0.5 * rng.standard_normal()))
            self._due.append((at_s + self._lag_s + 1.3 * surge_s * share, burst))

    def _suck(self, at_s: float, length_s: float, size: float) -> None:
        rng = self._rng
        first = round(at_s * self._sample_rate)
        n = int(length_s * self._sample_rate)
        share = np.arange(n) / n
        rasp_from, rasp_to = self._rasp_hz
        phase = 2.0 * np.pi * length_s * (rasp_from * share + 0.5 * (rasp_to - rasp_from) * share**2)
        phase = phase + 0.8 * np.cumsum(rng.standard_normal(n)) / np.sqrt(self._sample_rate / 30.0)
        rasp = 1.0 - self._rasp_depth * (0.5 + 0.5 * np.cos(phase))
        swell = share**0.7 * np.minimum(1.0, (1.0 - share) / 0.12)
        if len(self._envelope) < first + n:
            self._envelope = np.concatenate((self._envelope, np.zeros(first + n - len(self._envelope))))
        self._envelope[first : first + n] += self._suction * 2.0 * size * rasp * swell
