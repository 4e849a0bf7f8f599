"""The voices: each noise of an overflow made from what makes it - bubbles, torn air, rushing water.

A voice takes the course of its own strength and is scaled to its level afterwards, so only its character matters here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from tests.bench.another_rig import noise
from tests.bench.another_rig.bubbles import MOSTLY_STEADY, Bubbles, radii_m
from tests.bench.another_rig.noise import Samples, band, peaks

SOUND_M_S = 343
TINY = 1e-9


@dataclass(frozen=True)
class Timbre:
    """The character of one installation's voices, the same for its life."""

    glugs_s: float
    chug_hz: float
    chug_depth: float
    largest_bubble_m: float
    bubble_slope: float
    pipe_length_m: float
    pipe_gain_db: float
    rasp_hz: float
    rasp_formants_hz: tuple[float, ...]
    gulp_hz: float
    surge_db: float  # of the air at the siphon's outlet, against the slurp
    trickle_drops_s: float
    trickle_slope: float
    flush_top_hz: float
    roar_top_hz: float
    damping: float
    hiss_tilt_db: float
    splash_drops_s: float


def draw_timbre(rng: np.random.Generator) -> Timbre:
    u = rng.uniform
    return Timbre(
        glugs_s=u(12, 28), chug_hz=u(0.6, 3.0), chug_depth=u(0.3, 0.9), largest_bubble_m=u(0.007, 0.014),
        bubble_slope=u(1.2, 2.2), pipe_length_m=u(0.35, 1.2), pipe_gain_db=u(2, 5), rasp_hz=u(22, 60),
        rasp_formants_hz=tuple(np.sort(u([250, 700, 1600], [600, 1500, 3500])).tolist()), gulp_hz=u(1.5, 4.5),
        surge_db=u(-10, 0), trickle_drops_s=u(300, 1000), trickle_slope=u(2.2, 3.2), flush_top_hz=u(2500, 6500),
        roar_top_hz=u(1500, 4000), damping=u(1.4, 2.2), hiss_tilt_db=u(-3, 3), splash_drops_s=u(200, 600),
    )


@dataclass(frozen=True)
class Take:
    """One rendering: its length and rate, its chance, and what the installation sounds like."""

    n: int
    rate_hz: int
    rng: np.random.Generator
    timbre: Timbre
    bubbles: Bubbles

    def shaped(self, *points: tuple[float, float]) -> Samples:
        return noise.shaped(self.rng, self.n, self.rate_hz, points)

    def slow(self, hz: float) -> Samples:
        return noise.slow(self.rng, self.n, self.rate_hz, hz)

    def bubbling(
        self, rate_s: Samples, sizes_m: tuple[float, float], slope: float, spread: float, loud_m: float,
        odds: tuple[float, ...] = MOSTLY_STEADY,
    ) -> Samples:
        """Return bubbles of ``sizes_m`` as often as ``rate_s`` says; one of radius ``loud_m`` has about unit height."""
        out = np.zeros(self.n)
        at = noise.moments(self.rng, rate_s, self.rate_hz)
        radius_m = radii_m(self.rng, len(at), *sizes_m, slope)
        height = self.rng.lognormal(0, spread, len(at)) * (radius_m / loud_m) ** 0.9
        self.bubbles.throw(out, at, radius_m, height, self.rng, odds)
        return out

    def in_pipe(self, x: Samples, modes: Sequence[int], quality: float) -> Samples:
        """Return the sound with the resonances of the standpipe, closed at one end."""
        quarter_hz = SOUND_M_S / 4 / self.timbre.pipe_length_m
        return peaks(x, self.rate_hz, [(quarter_hz * m, quality) for m in modes], self.timbre.pipe_gain_db)


def gurgle(take: Take, on: Samples, strength: Samples) -> Samples:
    """Plugs that fall and drag air: glugs of a large bubble, its cloud and a stroke, over a bed of rushing."""
    t, rng, n, rate_hz = take.timbre, take.rng, take.n, take.rate_hz
    chug = np.clip(1 + t.chug_depth * take.slow(t.chug_hz), 0.05, 3) * on
    glugs = noise.moments(rng, t.glugs_s * chug * (0.5 + np.clip(strength, 0, 1.5)), rate_hz)
    out = np.zeros(n)
    large_m = radii_m(rng, len(glugs), 0.003, t.largest_bubble_m, 1.3)
    size = rng.lognormal(0, 0.7, len(glugs))
    take.bubbles.throw(out, glugs, large_m, size * (large_m / 0.005) ** 0.9, rng, (0.3, 0.3, 0.25, 0.15))
    cloud = rng.poisson(18, len(glugs))
    at = np.repeat(glugs, cloud) + (rng.gamma(1.5, 0.022, cloud.sum()) * rate_hz).astype(int)
    small_m = radii_m(rng, len(at), 0.0006, 0.006, t.bubble_slope)
    height = np.repeat(size, cloud) * rng.lognormal(-0.3, 0.9, len(at)) * (small_m / 0.005) ** 0.85
    take.bubbles.throw(out, at, small_m, height, rng)
    strokes = _strokes(take, glugs.tolist(), size.tolist())
    bed = take.shaped((80, -12), (250, 0), (800, -2), (2500, -12), (8000, -28))
    loudness = signal.lfilter([1 - 0.9995], [1, -0.9995], np.abs(out))
    bed *= loudness / (loudness.mean() + TINY) * 0.25 * np.std(out)
    x = out + 0.25 * strokes * (np.std(out) / (np.std(strokes) + TINY)) + bed
    return take.in_pipe(x, (1, 3, 5, 7), 4)


def rasp(take: Take, on: Samples, pitch: Samples) -> Samples:
    """Air torn through a collapsing core: irregular puffs that excite wide formants."""
    t, rng, rate_hz = take.timbre, take.rng, take.rate_hz
    puffs_hz = np.clip(t.rasp_hz * pitch * (1 + 0.3 * take.slow(6)), 8, 120)
    phase = np.cumsum(puffs_hz * (1 + 0.25 * take.slow(40))) / rate_hz
    tooth = np.exp(-3.5 * (phase % 1.0))  # opens sharply, closes slowly
    puff = np.floor(phase).astype(int)
    size = rng.lognormal(0, 0.5, puff[-1] + 1)
    source = rng.standard_normal(take.n) * (0.25 + tooth * size[puff]) * on
    x = np.zeros(take.n)
    for hz, gain in zip(t.rasp_formants_hz, (1.0, 0.9, 0.6), strict=True):
        x += gain * band(source, rate_hz, hz / 1.45, hz * 1.45, 1)
    return x


def slurp(take: Take, on: Samples) -> Samples:
    """The siphon's core: rasping gulps whose pitch rises as the core widens, and the bubbles it takes along."""
    t, samples = take.timbre, np.arange(take.n)
    swing = np.sin(np.cumsum(2 * np.pi * t.gulp_hz * (1 + 0.35 * take.slow(2))) / take.rate_hz)
    gulps = np.clip(0.35 + 0.9 * swing + 0.35 * take.slow(8), 0, 2) * on
    began = np.maximum.accumulate(np.where(np.diff(on, prepend=0) > 0.02, samples, 0))
    x = rasp(take, gulps, 1 + 0.5 * np.clip((samples - began) / take.rate_hz / 1.5, 0, 1))
    x /= _spread(x, on > 0.5)
    out = take.bubbling(260 * gulps, (0.0008, 0.010), 1.6, 0.8, 0.005, (0.4, 0.25, 0.2, 0.15))
    return x * 0.8 + out / _spread(out, on > 0.5)


def surge(take: Take, air: Samples) -> Samples:
    """Swallowed air that leaves the siphon's outlet under the sump's surface."""
    rate = air * np.clip(1 + 0.8 * take.slow(5), 0, 3)
    out = take.bubbling(420 * rate, (0.001, 0.013), 1.5, 0.8, 0.005, (0.35, 0.3, 0.25, 0.1))
    bed = take.shaped((80, -6), (200, 0), (900, -4), (3000, -16), (9000, -34)) * rate
    return out + bed / (np.std(bed) + TINY) * 0.6 * np.std(out)


def trickle(take: Take, on: Samples) -> Samples:
    """A film that tears: many small drops."""
    t = take.timbre
    wobble = np.clip(1 + 0.25 * take.slow(1.5) + 0.15 * take.slow(9), 0.1, 3) * on
    out = take.bubbling(t.trickle_drops_s * wobble, (0.0004, 0.0024), t.trickle_slope, 0.9, 0.001)
    bed = take.shaped((300, -24), (1200, -6), (3000, 0), (6500, -3), (11000, -14)) * wobble
    return out + bed * 0.45 * np.std(out)


def hiss(take: Take, air_m_s: Samples, bore_m: float) -> Samples:
    """Air through the vent tap: noise about a pitch that the speed and the bore set."""
    audible = air_m_s[air_m_s > 3]
    peak_hz = float(np.clip(0.2 * np.median(audible) / max(bore_m, 4e-4) if audible.size else 3000, 1500, 7000))
    tilt_db = take.timbre.hiss_tilt_db
    x = take.shaped(
        (300, -32), (peak_hz / 2.5, -9), (peak_hz, 0), (peak_hz * 2.2, -5 + tilt_db), (15000, -14 + tilt_db)
    )
    return x * (1 + 0.05 * take.slow(10))


def flush(take: Take, full: Samples, gasp: Samples) -> Samples:
    """The channel running full: a rush with bubbles, and a gasp of air, as loud as its envelope says, at its end."""
    body = take.shaped((60, -8), (180, -2), (500, 0), (1500, -3), (take.timbre.flush_top_hz, -10), (12000, -30))
    body = body + 0.5 * take.shaped((40, -4), (90, 0), (250, -8), (800, -30))
    x = body * np.clip(full * (1 + 0.12 * take.slow(12)), 0, None)
    out = take.bubbling(350 * full, (0.001, 0.009), 1.9, 0.7, 0.004)
    x = take.in_pipe(x + 0.5 * out / _spread(out, full > 0.05) * full, (1, 3, 5), 3)
    gasping = gasp > 0.05
    if gasping.any():
        air = rasp(take, gasp, np.full(take.n, 1.4))
        x = x + air * np.std(body[: take.rate_hz]) * gasp.max() / _spread(air, gasping)
    return x


def roar(take: Take, on: Samples) -> Samples:
    """Water down the dry emergency: a broad rush with many bubbles."""
    swing = np.clip(1 + 0.2 * take.slow(1.0) + 0.1 * take.slow(7), 0.2, 2) * on
    top_hz = take.timbre.roar_top_hz
    x = take.shaped((50, -3), (120, 0), (400, 0), (top_hz, -6), (4 * top_hz, -20), (16000, -36)) * swing
    out = take.bubbling(1400 * swing, (0.0008, 0.008), 2.2, 0.8, 0.003)
    return x + out / (np.std(out) + TINY) * 0.7 * np.std(x)


def splash(take: Take, on: Samples) -> Samples:
    """The nappe from the weir onto the box's surface."""
    wobble = np.clip(1 + 0.35 * take.slow(6) + 0.2 * take.slow(1), 0.05, 3) * on
    x = take.shaped((200, -14), (700, -3), (2000, 0), (5000, -4), (12000, -18)) * wobble
    out = take.bubbling(take.timbre.splash_drops_s * wobble, (0.0006, 0.005), 2.0, 0.9, 0.002)
    return x * 0.8 + out / (np.std(out) + TINY) * np.std(x) * 0.8


def _strokes(take: Take, at: list[int], size: list[float]) -> Samples:
    """Return the short knock of water that closes over each glug."""
    out = np.zeros(take.n)
    long = int(0.004 * take.rate_hz)
    decay = np.exp(-np.arange(long) / (0.0012 * take.rate_hz))
    for start, height in zip(at, size, strict=True):
        if start + long < take.n:
            out[start : start + long] += height * decay * take.rng.standard_normal(long)
    return band(out, take.rate_hz, 300, 5000)


def _spread(x: Samples, where: NDArray[np.bool_]) -> float:
    """Return the standard deviation of a stretch, 1 where there is none, to divide by."""
    return float(np.std(x[where])) + TINY if where.any() else 1.0
