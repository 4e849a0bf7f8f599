"""Drains that sound without a pause: gurgle, trickle, splash, hiss and roar, each built in two or three ways."""

from __future__ import annotations

import numpy as np
from scipy import signal

from tests.bench.another_hand.bubbles import MINNAERT_HZ_M, bubble_cloud, radii_m
from tests.bench.another_hand.events import add_at, poisson_times, renewal_times
from tests.bench.another_hand.noise import (
    TAU,
    Floats,
    Rng,
    amplitude,
    band_noise,
    hump,
    log_uniform,
    moving_noise,
    resonance,
    steady_noise,
    unit,
    wander,
)
from tests.bench.another_hand.pipes import SOUND_M_S, in_standpipe, ringing


def gurgle(rng: Rng, n: int, rate: int) -> Floats:
    return (_glugs, _pinch_offs, _beating_bands)[rng.integers(3)](rng, n, rate)


def _glugs(rng: Rng, n: int, rate: int) -> Floats:
    """Return large bubbles in bouts, each with a cloud of small ones behind it, in a pipe."""
    bouts_hz = log_uniform(rng, 0.3, 2.5)
    per_s = log_uniform(rng, 4, 20) * np.exp(rng.uniform(0.3, 0.9) * wander(rng, n, rate, bouts_hz))
    at_s = poisson_times(rng, n, rate, per_s)
    at_s = at_s[np.concatenate([[True], np.diff(at_s) > 0.012])] if at_s.size else at_s
    median_m = log_uniform(rng, 0.004, 0.009)
    radius = np.clip(median_m * np.exp(rng.normal(0, 0.4, at_s.size)), 0.0022, 0.016)
    level = (radius / 0.006) ** rng.uniform(0.7, 1.3) * np.exp(rng.normal(0, 0.7, at_s.size))
    y = bubble_cloud(rng, n, rate, at_s, radius, level, rise=(0, 0.5), attack=(0.2, 1.0), damping=(1.0, 2.5))
    small = rng.poisson(log_uniform(rng, 5, 30), at_s.size)
    count = small.sum()
    small_s = np.repeat(at_s, small) + rng.gamma(1.5, rng.uniform(0.012, 0.04), count)
    small_m = radii_m(rng, 0.0006, 0.004, rng.uniform(1.2, 2.5), count)
    small_level = np.repeat(level, small) * (small_m / 0.006) ** 0.8 * np.exp(rng.normal(0, 0.8, count))
    y = y + bubble_cloud(rng, n, rate, small_s, small_m, small_level * rng.uniform(0.4, 1.1))
    y = in_standpipe(rng, y, rate, rng.uniform(0.1, 0.5))
    bed = steady_noise(rng, n, rate, lambda f: hump(f, log_uniform(rng, 250, 700), 1, rng.uniform(0.8, 1.4)))
    return y + bed * amplitude(rng.uniform(-24, -12))


def _pinch_offs(rng: Rng, n: int, rate: int) -> Floats:
    """Return pinch-offs that excite a pipe whose column of air keeps changing."""
    y = np.zeros(n)
    per_s = log_uniform(rng, 3, 14)
    at_s = renewal_times(rng, n / rate, per_s, rng.uniform(0.35, 0.8))
    bout = 0.15 + (wander(rng, n, rate, log_uniform(rng, 0.3, 1.2)) > rng.uniform(-0.9, 0.0))
    median_m = log_uniform(rng, 0.1, 0.45)
    change = wander(rng, n, rate, rng.uniform(0.5, 2.0)) * rng.uniform(0.08, 0.25)
    breath_hz = log_uniform(rng, 500, 1600)
    breath = steady_noise(rng, int(2 * rate), rate, lambda f: hump(f, breath_hz, 1.5, 1.2))
    for start in (at_s * rate).astype(int):
        length_m = median_m * np.exp(change[start] + rng.normal(0, 0.08))
        grain = _pinch_off(rng, rate, length_m, breath)
        add_at(y, start, grain * bout[start] * np.exp(rng.normal(0, 0.5)))
    small_s = poisson_times(rng, n, rate, log_uniform(rng, 40, 250) * bout)
    small_m = radii_m(rng, 0.0008, 0.006, 1.8, small_s.size)
    share = 0.5 * rng.uniform(0.3, 1)
    small_level = (small_m / 0.003) * np.exp(rng.normal(0, 0.8, small_s.size))
    y = unit(y) + share * unit(bubble_cloud(rng, n, rate, small_s, small_m, small_level))
    return y + steady_noise(rng, n, rate, lambda f: hump(f, 400, 1, 1)) * amplitude(rng.uniform(-26, -14))


def _pinch_off(rng: Rng, rate: int, length_m: float, breath: Floats) -> Floats:
    length_s = rng.uniform(0.06, 0.2)
    t = np.arange(int(length_s * rate)) / rate
    grain = np.zeros(t.size)
    glide = rng.uniform(0.1, 0.7) / length_s  # water climbs in the pipe: the note rises
    for k in range(1, 5):
        f_hz = SOUND_M_S / 4 / length_m * (2 * k - 1)
        if f_hz > 5000:
            break
        grain += np.exp(-t * rng.uniform(14, 40) * k**0.6) * np.sin(
            TAU * f_hz * (t + 0.5 * glide * t * t) + rng.uniform(0, TAU)
        ) / k ** rng.uniform(0.6, 1.5)
    flutter_hz = log_uniform(rng, 15, 40)
    o = rng.integers(0, breath.size - t.size)
    grain += rng.uniform(0.2, 0.8) * breath[o : o + t.size] * np.exp(-t * rng.uniform(10, 35)) * (
        1 + 0.8 * np.sin(TAU * flutter_hz * t + rng.uniform(0, TAU))
    )
    return grain * (np.minimum(1, t / rng.uniform(0.003, 0.012)) * np.minimum(1, (length_s - t) / 0.015))


def _beating_bands(rng: Rng, n: int, rate: int) -> Floats:
    """Return bands of noise, each with a heavy-tailed envelope of its own, in one rhythm of glugs."""
    y = np.zeros(n)
    common = wander(rng, n, rate, log_uniform(rng, 0.8, 3))
    centre_hz, width_octaves = log_uniform(rng, 280, 560), rng.uniform(0.7, 1.2)
    for f_hz in 130 * 2 ** np.arange(0, 5, 0.33):
        band = _beating_band(rng, n, rate, f_hz, common)
        y += band * np.exp(-0.5 * (np.log2(f_hz / centre_hz) / width_octaves) ** 2)
    at_s = poisson_times(rng, n, rate, log_uniform(rng, 8, 30) * np.exp(0.7 * common))
    radius = np.exp(rng.normal(np.log(MINNAERT_HZ_M / centre_hz), 0.35, at_s.size))
    level = np.exp(rng.normal(0, 0.7, at_s.size))
    notes = bubble_cloud(rng, n, rate, at_s, radius, level, rise=(0, 0.4), damping=(1, 2))
    return unit(y) + rng.uniform(0.5, 1.2) * unit(notes)


def _beating_band(rng: Rng, n: int, rate: int, centre_hz: float, common: Floats) -> Floats:
    q = rng.uniform(6, 16)
    band = steady_noise(rng, n, rate, lambda f: resonance(f, centre_hz * rng.uniform(0.9, 1.1), q) ** 2)
    beat = rng.uniform(0.8, 1.4) * wander(rng, n, rate, log_uniform(rng, 7, 20))
    return band * np.exp(beat + 0.6 * common - 0.8)


def trickle(rng: Rng, n: int, rate: int) -> Floats:
    build, bed_db = ((_small_bubbles, (-18, -6)), (_rivulets, (-16, -6)), (_clicks, (-14, -4)))[rng.integers(3)]
    bed_hz = log_uniform(rng, 2000, 6000)
    bed = steady_noise(rng, n, rate, lambda f: hump(f, bed_hz, 1.0, rng.uniform(0.8, 2)))
    return unit(build(rng, n, rate)) + bed * amplitude(rng.uniform(*bed_db))


def _small_bubbles(rng: Rng, n: int, rate: int) -> Floats:
    mean_per_s = log_uniform(rng, 250, 1600)
    per_s = mean_per_s * np.exp(rng.uniform(0.1, 0.35) * wander(rng, n, rate, rng.uniform(0.4, 3)))
    at_s = poisson_times(rng, n, rate, per_s)
    smallest_m, largest_m = log_uniform(rng, 0.0003, 0.0006), log_uniform(rng, 0.0016, 0.003)
    radius = radii_m(rng, smallest_m, largest_m, rng.uniform(2, 3.5), at_s.size)
    level = (radius / 0.001) ** rng.uniform(0.6, 1.4) * np.exp(rng.normal(0, rng.uniform(0.5, 1.0), at_s.size))
    return bubble_cloud(rng, n, rate, at_s, radius, level)


def _rivulets(rng: Rng, n: int, rate: int) -> Floats:
    """Return a few quasi-regular drippers: a tick, then the bubble that it trapped."""
    y = np.zeros(n)
    for _ in range(rng.integers(5, 14)):
        at_s = renewal_times(rng, n / rate, log_uniform(rng, 12, 60), rng.uniform(0.25, 0.7))
        level = np.exp(rng.normal(0, 0.4)) * np.exp(rng.normal(0, 0.6, at_s.size))
        median_m = log_uniform(rng, 0.0005, 0.0018)
        ticks = np.zeros(n)
        start = (at_s * rate).astype(int)
        np.add.at(ticks, start[start < n], (level * rng.choice([-1, 1], level.size))[start < n])
        tick_hz = log_uniform(rng, 2500, 8000)
        loud = rng.uniform(1.0, 3)
        pitches_hz = np.array([tick_hz, tick_hz * rng.uniform(1.4, 1.9)])
        y += loud * ringing(ticks, rate, pitches_hz, rng.uniform(1.5, 4, 2), np.array([1, 0.6]))
        traps = rng.random(at_s.size) < rng.uniform(0.35, 0.95)
        count = traps.sum()
        note_s = at_s[traps] + rng.uniform(0.002, 0.02) + np.abs(rng.normal(0, 0.004, count))
        radius = median_m * np.exp(rng.normal(0, rng.uniform(0.12, 0.35), count))
        y += bubble_cloud(rng, n, rate, note_s, radius, level[traps], rise=(-0.05, 0.3))
    return y


def _clicks(rng: Rng, n: int, rate: int) -> Floats:
    """Return sparse random clicks through a bank of bands such as bubbles ring in."""
    y = np.zeros(n)
    tilt = rng.uniform(-0.6, 0.5)
    centre_hz = log_uniform(rng, 1800, 4200)
    for f_hz in 900 * 2 ** np.arange(0, 3.4, 0.28):
        if f_hz > 0.42 * rate:
            break
        at_s = poisson_times(rng, n, rate, log_uniform(rng, 25, 120) * (f_hz / 2000) ** rng.uniform(0.2, 1))
        clicks = np.zeros(n)
        strength = rng.standard_normal(at_s.size) * np.exp(rng.normal(0, 0.6, at_s.size))
        np.add.at(clicks, np.minimum((at_s * rate).astype(int), n - 1), strength)
        pitches_hz = f_hz * rng.uniform(0.93, 1.07, 3)
        band = unit(ringing(clicks, rate, pitches_hz, rng.uniform(12, 30, 3), rng.uniform(0.3, 1, 3)))
        y += band * (
            np.exp(-0.5 * (np.log2(f_hz / centre_hz) / rng.uniform(0.6, 1.1)) ** 2) * (f_hz / centre_hz) ** tilt
            * np.exp(0.15 * wander(rng, n, rate, 1.5))
        )
    return y


def splash(rng: Rng, n: int, rate: int) -> Floats:
    return (_plunging_jet, _lumps)[rng.integers(2)](rng, n, rate)


def _plunging_jet(rng: Rng, n: int, rate: int) -> Floats:
    """Return surface noise torn by the lumps of a jet, with its plume of bubbles and its spray."""
    centre_hz = log_uniform(rng, 500, 1800)
    fast = rng.uniform(0.25, 0.6) * wander(rng, n, rate, log_uniform(rng, 4, 14))
    lumps = np.exp(fast + rng.uniform(0.1, 0.3) * wander(rng, n, rate, 0.7))
    jet = unit(steady_noise(rng, n, rate, lambda f: hump(f, centre_hz, 1, rng.uniform(0.5, 1.1))) * lumps)
    spray = steady_noise(rng, n, rate, lambda f: hump(f, log_uniform(rng, 3500, 7000), 2, 1.2))
    spray = unit(spray * np.roll(lumps, int(0.03 * rate)) ** 2)
    at_s = poisson_times(rng, n, rate, log_uniform(rng, 500, 2000) * lumps)
    radius = radii_m(rng, 0.0006, log_uniform(rng, 0.004, 0.008), rng.uniform(1.4, 2.4), at_s.size)
    level = (radius / 0.002) ** rng.uniform(0.6, 1.1) * np.exp(rng.normal(0, 0.7, at_s.size))
    plume = unit(bubble_cloud(rng, n, rate, at_s, radius, level))
    return jet * rng.uniform(0.5, 1.1) + plume * rng.uniform(0.6, 1.2) + spray * rng.uniform(0.1, 0.45)


def _lumps(rng: Rng, n: int, rate: int) -> Floats:
    """Return separate lumps of water: the slap, the note of the cavity, the spray of droplets."""
    per_s = log_uniform(rng, 5, 22)
    at_s = renewal_times(rng, n / rate, per_s, rng.uniform(0.3, 0.8))
    level = np.exp(rng.normal(0, 0.5, at_s.size))
    sources = [_slap_source(rng, rate) for _ in range(3)]
    y = np.zeros(n)
    for t_s, loud in zip(at_s, level, strict=True):
        decay_s = log_uniform(rng, 0.02, 0.09)
        t = np.arange(int(5 * decay_s * rate)) / rate
        source = sources[rng.integers(3)]
        o = rng.integers(0, source.size - t.size)
        slap = source[o : o + t.size] * (np.exp(-t / decay_s) - np.exp(-t / rng.uniform(0.001, 0.006))) * loud
        add_at(y, int(t_s * rate), slap)
    y = unit(y)
    hollow = rng.random(at_s.size) < rng.uniform(0.4, 0.9)
    count = hollow.sum()
    radius = np.clip(log_uniform(rng, 0.004, 0.009) * np.exp(rng.normal(0, 0.35, count)), 0.002, 0.02)
    share, note_s = rng.uniform(0.2, 0.7), at_s[hollow] + rng.uniform(0.01, 0.04, count)
    note_level = level[hollow] * np.exp(rng.normal(0, 0.4, count))
    y += share * unit(bubble_cloud(rng, n, rate, note_s, radius, note_level, rise=(0, 0.5), damping=(1.2, 3)))
    drops = rng.poisson(log_uniform(rng, 12, 50) * level)
    count = drops.sum()
    drop_s = np.repeat(at_s, drops) + rng.gamma(2, rng.uniform(0.02, 0.06), count)
    drop_m = radii_m(rng, 0.0005, 0.003, 2.2, count)
    share = rng.uniform(0.4, 0.9)
    drop_level = np.repeat(level, drops) * (drop_m / 0.001) ** 0.7 * np.exp(rng.normal(0, 0.7, count))
    y += share * unit(bubble_cloud(rng, n, rate, drop_s, drop_m, drop_level))
    return y + rng.uniform(0.2, 0.6) * steady_noise(rng, n, rate, lambda f: hump(f, 1200, 0.8, 0.7))


def _slap_source(rng: Rng, rate: int) -> Floats:
    centre_hz = log_uniform(rng, 600, 2500)
    return steady_noise(rng, 3 * rate, rate, lambda f: hump(f, centre_hz, 0.8, rng.uniform(0.5, 1.0)))


def hiss(rng: Rng, n: int, rate: int) -> Floats:
    build = (_free_jet, _throttled_tap)[rng.integers(2)]
    drift = rng.uniform(0.01, 0.05) * wander(rng, n, rate, rng.uniform(0.2, 1.0))
    drift = drift + rng.uniform(0, 0.03) * wander(rng, n, rate, rng.uniform(2, 6))
    return build(rng, n, rate) * np.exp(drift)


def _free_jet(rng: Rng, n: int, rate: int) -> Floats:
    """Return the noise of a jet of air, which peaks at a Strouhal number of 0.2."""
    width_m, speed_m_s = log_uniform(rng, 0.0008, 0.003), rng.uniform(12, 40)
    peak_hz = np.clip(0.2 * speed_m_s / width_m, 2200, 9000)
    rise, fall = rng.uniform(0.9, 1.6), rng.uniform(0.5, 1.3)
    return steady_noise(rng, n, rate, lambda f: hump(f, peak_hz, rise, fall))


def _throttled_tap(rng: Rng, n: int, rate: int) -> Floats:
    """Return turbulence through several leaky passages and small cavities, its pitch drifting a little."""
    source = steady_noise(rng, n, rate, lambda f: hump(f, log_uniform(rng, 2500, 7000), 1.2, 0.6))
    passages = rng.integers(2, 6)
    pitches_hz = log_uniform(rng, 2000, 9000, passages)
    qs, gains = rng.uniform(1.2, 6, passages), rng.uniform(0.3, 1, passages)
    drift = wander(rng, n, rate, 0.3)[::500]
    drift_s = (np.arange(n) / rate)[::500]

    def gain(t_s: Floats, f_hz: Floats) -> Floats:
        pitch = 1 + 0.02 * np.interp(t_s, drift_s, drift)
        through = sum(g * resonance(f_hz, p * pitch, q) for p, q, g in zip(pitches_hz, qs, gains, strict=True))
        return through * np.minimum(1, f_hz / 1500)

    y = unit(moving_noise(rng, n, rate, gain)) + rng.uniform(0.2, 0.8) * source
    cavity_hz, cavity_q = log_uniform(rng, 300, 900, 1), rng.uniform(3, 8, 1)
    cavity = ringing(source, rate, cavity_hz, cavity_q, np.ones(1))
    return y + unit(cavity) * amplitude(rng.uniform(-26, -16))


def roar(rng: Rng, n: int, rate: int) -> Floats:
    return (_pipe_flow, _waterfall)[rng.integers(2)](rng, n, rate)


def _pipe_flow(rng: Rng, n: int, rate: int) -> Floats:
    """Return turbulent flow in a pipe: a low broad bed, the pipe's modes, clouds of large bubbles."""
    centre_hz, fall = log_uniform(rng, 120, 380), rng.uniform(0.6, 1.1)
    swing = rng.uniform(0.08, 0.25) * wander(rng, n, rate, log_uniform(rng, 0.3, 1.5))
    swing = np.exp(swing + rng.uniform(0.1, 0.25) * wander(rng, n, rate, log_uniform(rng, 4, 10)))
    bed = steady_noise(rng, n, rate, lambda f: hump(f, centre_hz, 1, fall))
    bed = in_standpipe(rng, bed, rate, rng.uniform(0.1, 0.4))
    at_s = poisson_times(rng, n, rate, log_uniform(rng, 500, 1800) * swing)
    radius = radii_m(rng, 0.0008, log_uniform(rng, 0.006, 0.014), rng.uniform(1.2, 2.0), at_s.size)
    level = (radius / 0.003) ** rng.uniform(0.6, 1.1) * np.exp(rng.normal(0, 0.6, at_s.size))
    notes = bubble_cloud(rng, n, rate, at_s, radius, level, damping=(1.5, 4))
    return unit(bed * swing) + rng.uniform(0.4, 1.2) * unit(notes)


def _waterfall(rng: Rng, n: int, rate: int) -> Floats:
    """Return octave bands that swing on their own, with tumbling thumps."""
    y = np.zeros(n)
    peak_hz, rise, fall = log_uniform(rng, 160, 600), rng.uniform(0.4, 1), rng.uniform(0.25, 0.8)
    for f_hz in 62.5 * 2.0 ** np.arange(0, 8):
        if f_hz > 0.4 * rate:
            break
        band = band_noise(rng, n, rate, f_hz, 1.4) * hump(f_hz, peak_hz, rise, fall)
        swing = rng.uniform(0.1, 0.25) * wander(rng, n, rate, log_uniform(rng, 0.5, 3))
        y += band * np.exp(swing + rng.uniform(0.1, 0.3) * wander(rng, n, rate, 2 * f_hz**0.35))
    y = unit(y)
    at_s = poisson_times(rng, n, rate, log_uniform(rng, 6, 20))
    blows = np.zeros(n)
    strength = rng.standard_normal(at_s.size) * np.exp(rng.normal(0, 0.4, at_s.size))
    np.add.at(blows, (at_s * rate).astype(int), strength)
    decay = np.exp(-np.arange(int(0.06 * rate)) / rate / 0.015)
    thumps = signal.oaconvolve(blows, decay * rng.standard_normal(decay.size))[:n]
    thumps = ringing(thumps, rate, log_uniform(rng, 80, 400, 4), rng.uniform(2, 5, 4), rng.uniform(0.4, 1, 4))
    return y + rng.uniform(0.15, 0.5) * unit(thumps)
