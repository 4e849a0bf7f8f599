"""Bursts: what one slug of air or one blow of water sets off, and how its parts are mixed.

A burst is a cloud of small bubbles that come within some hundredths of a second, now and then a large bubble,
a weak rising cavity note, a broadband stroke, and a swell of the turbulence under them all. The large notes alone
are heard as birds or music; the cloud and the bed carry the water.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.voices.bed import Bed, Follower, stroke_bank
from tuner.rehearsal.voices.bubbles import BubbleSizes, bubble_cloud
from tuner.rehearsal.voices.control import CONTROL_S, step_samples
from tuner.rehearsal.voices.grains import GrainBank, GrainStream

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class BurstMix:
    """What a burst is made of. Shares are parts of the power at the nominal rate; they need not add to 1."""

    rate_hz: float
    small: BubbleSizes
    small_per_burst: float
    small_within_s: float
    small_share: float
    large: BubbleSizes
    large_per_burst: float
    large_share: float
    cavity_hz: tuple[float, float]
    cavity_rise: tuple[float, float]
    cavity_s: tuple[float, float]
    cavity_per_burst: float
    cavity_share: float
    stroke_db: Floats
    stroke_s: tuple[float, float]
    stroke_spread: float
    stroke_share: float
    bed_db: Floats
    bed_rise_s: float
    bed_fall_s: float
    bed_share: float


def cavity_bank(mix: BurstMix, *, sample_rate: int, rng: np.random.Generator) -> GrainBank:
    """Return rising notes: the air column of a slug that shortens, faster and faster, while the slug passes."""
    notes = []
    for _ in range(48):
        length_s = _between(rng, mix.cavity_s)
        share = np.arange(1, int(length_s * sample_rate)) / (length_s * sample_rate)
        bend = float(rng.uniform(1.0, 2.2))
        pitch_hz = _between(rng, mix.cavity_hz) * _between(rng, mix.cavity_rise) ** (share**bend)
        swell = np.sin(np.pi * share ** float(rng.uniform(0.6, 2.0))) ** 2
        notes.append(np.sin(2.0 * np.pi * np.cumsum(pitch_hz) / sample_rate) * swell)
    return GrainBank(notes)


def _between(rng: np.random.Generator, ends: tuple[float, float]) -> float:
    return float(np.exp(rng.uniform(np.log(ends[0]), np.log(ends[1]))))


class Bursts:
    """A stream of bursts after one mix."""

    def __init__(self, mix: BurstMix, *, sample_rate: int, rng: np.random.Generator) -> None:
        self._mix = mix
        self._rate = sample_rate
        self._step = step_samples(sample_rate)
        self._rng, bank_rng, bed_rng, cavity_rng, stroke_rng = rng.spawn(5)
        self._small = bubble_cloud(mix.small, sample_rate=sample_rate, rng=bank_rng)
        self._large = bubble_cloud(mix.large, sample_rate=sample_rate, rng=bank_rng)
        cavities = cavity_bank(mix, sample_rate=sample_rate, rng=cavity_rng)
        self._cavities = GrainStream(cavities, cavity_rng, 0.4)
        strokes = stroke_bank(
            mix.stroke_db,
            sample_rate=sample_rate,
            rng=stroke_rng,
            shortest_s=mix.stroke_s[0],
            longest_s=mix.stroke_s[1],
        )
        self._strokes = GrainStream(strokes, stroke_rng, mix.stroke_spread)
        self._bed = Bed(mix.bed_db, sample_rate=sample_rate, rng=bed_rng)
        self._follower = Follower(sample_rate, mix.bed_rise_s, mix.bed_fall_s)
        self._times: list[float] = []
        self._powers: list[float] = []

    def _gain(self, share: float, per_burst: float) -> float:
        return float(np.sqrt(share * self._rate / (self._mix.rate_hz * max(per_burst, 1e-9))))

    def burst(self, step: int, time_s: float, strength: float) -> None:
        """Set off a burst ``time_s`` after the start of control step ``step`` of the coming chunk."""
        mix, rng = self._mix, self._rng
        at_s = step * CONTROL_S + time_s
        start = round(at_s * self._rate)
        parts = (
            (self._small, mix.small_per_burst, mix.small_share, mix.small_within_s),
            (self._large, mix.large_per_burst, mix.large_share, 0.4 * mix.small_within_s),
            (self._cavities, mix.cavity_per_burst, mix.cavity_share, 0.2 * mix.small_within_s),
            (self._strokes, 1.0, mix.stroke_share, 0.2 * mix.small_within_s),
        )
        for stream, per_burst, share, within_s in parts:
            count = int(rng.poisson(per_burst))
            if count and share > 0.0:
                delay = rng.exponential(within_s, count)
                starts = start + (np.minimum(delay, 6.0 * within_s) * self._rate).astype(np.int64)
                stream.scatter(starts, np.full(count, strength * self._gain(share, per_burst)))
        self._times.append(at_s)
        self._powers.append(strength**2 / mix.rate_hz)

    def take(self, n_steps: int) -> Floats:
        """Return the next ``n_steps`` control steps of the stream."""
        n = n_steps * self._step
        out = self._small.take(n) + self._large.take(n) + self._cavities.take(n) + self._strokes.take(n)
        follow = self._follower.render(np.array(self._times), np.array(self._powers), n_steps)
        self._times, self._powers = [], []
        out += np.sqrt(self._mix.bed_share) * self._bed.render(follow)
        return out
