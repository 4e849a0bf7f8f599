"""Drains that come and go while nothing is touched: the slurp and the flush, each built in three ways.

Both are drawn with a lead before what is heard, so that a cycle may already be under way when the hearing starts.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.bench.another_hand.bubbles import MINNAERT_HZ_M, bubble_cloud, bubble_note, radii_m
from tests.bench.another_hand.events import add_at, cycle_times, poisson_times, pulse_train
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
from tests.bench.another_hand.pipes import SOUND_M_S, in_standpipe


@dataclass(frozen=True, slots=True)
class Suction:
    """What the gulps of one slurp have in common; pulses and formants glide from the start of a gulp to its end."""

    first_per_s: float
    last_per_s: float
    jitter: float
    pulse_s: float
    formants_hz: Floats
    formant_gains: Floats
    formant_qs: Floats
    sweep: float
    pipe_m: float
    breath: Floats


def slurp(rng: Rng, n: int, rate: int, heard_s: float, lead_s: float) -> Floats:
    """Return rows of gulps, each with a surge of bubbles after it."""
    period_s = log_uniform(rng, 2.5, 30)
    build = (_breath_gulp, _grain_gulp, _vortex_gulp)[rng.integers(3)]
    gulps = rng.integers(1, 7)
    gulps_per_s = rng.uniform(1.6, 4.5)
    length_s = min(gulps / gulps_per_s + 0.8, 0.75 * period_s)
    starts_s = cycle_times(rng, heard_s, lead_s, period_s, length_s)
    pulses = (log_uniform(rng, 14, 45), log_uniform(rng, 20, 75), rng.uniform(0.1, 0.4), rng.uniform(0.004, 0.014))
    formants_hz = np.array([log_uniform(rng, 220, 650), log_uniform(rng, 800, 2000), log_uniform(rng, 2300, 5000)])
    gains = np.array([1, rng.uniform(0.4, 1.0), rng.uniform(0.15, 0.7)])
    qs, sweep, pipe_m = rng.uniform(2, 6, 3), rng.uniform(0.2, 1.0), log_uniform(rng, 0.12, 0.5)
    surge_lag_s, surge = rng.uniform(0.05, 0.3), rng.uniform(0.3, 1.2)
    breath = steady_noise(rng, 3 * rate, rate, lambda f: hump(f, formants_hz[1], 1.2, 0.9))
    suction = Suction(*pulses, formants_hz, gains, qs, sweep, pipe_m, breath)
    y = np.zeros(n)
    surge_s, surge_levels = [], []
    for start_s in starts_s:
        at_s = start_s
        for _ in range(max(1, gulps + rng.integers(-1, 2))):
            if at_s - start_s > length_s:
                break
            gulp_s = np.clip(rng.uniform(0.3, 0.9) / gulps_per_s, 0.12, 0.7)
            level = np.exp(rng.normal(0, 0.3))
            u = np.arange(int(gulp_s * rate)) / int(gulp_s * rate)
            envelope = np.minimum(1, u / rng.uniform(0.1, 0.4)) ** 1.5
            envelope = envelope * np.minimum(1, (1 - u) / rng.uniform(0.03, 0.2))
            add_at(y, int(at_s * rate), build(rng, rate, gulp_s, envelope, suction) * level)
            count = rng.poisson(rng.uniform(20, 90))
            surge_s.append(at_s + gulp_s * 0.5 + surge_lag_s + rng.gamma(2, gulp_s / 3, count))
            surge_levels.append(np.full(count, level))
            at_s += np.exp(rng.normal(0, 0.25)) / gulps_per_s
    at, level = np.concatenate(surge_s), np.concatenate(surge_levels)
    radius = radii_m(rng, 0.0009, rng.uniform(0.005, 0.012), rng.uniform(1.2, 2), at.size)
    level = level * (radius / 0.004) ** 0.9 * np.exp(rng.normal(0, 0.7, at.size))
    y = unit(y) + surge * unit(bubble_cloud(rng, n, rate, at, radius, level, rise=(0, 0.4)))
    if rng.random() < 0.4:  # a little water noise in between
        y += amplitude(rng.uniform(-32, -22)) * steady_noise(rng, n, rate, lambda f: hump(f, 900, 1, 0.9))
    return y


def _breath_gulp(rng: Rng, rate: int, gulp_s: float, envelope: Floats, suction: Suction) -> Floats:
    """Return pulsed breath through gliding formants, like those of a mouth."""
    glide = suction.sweep * rng.uniform(0.6, 1.3)
    formants = list(zip(suction.formants_hz, suction.formant_gains, suction.formant_qs, strict=True))

    def gain(t_s: Floats, f_hz: Floats) -> Floats:
        pitch = 1 + glide * np.clip(t_s / gulp_s, 0, 1)
        return sum(g * resonance(f_hz, centre_hz * pitch, q) for centre_hz, g, q in formants) + 0.05

    breath = unit(moving_noise(rng, envelope.size, rate, gain))
    between = rng.uniform(0.05, 0.3)
    pulses = pulse_train(
        rng, envelope.size, rate, suction.first_per_s, suction.last_per_s, suction.jitter, suction.pulse_s
    )
    return breath * (between + unit(pulses)) * envelope


def _grain_gulp(rng: Rng, rate: int, gulp_s: float, envelope: Floats, suction: Suction) -> Floats:
    """Return a row of pinch-offs, each a ring of the pipe, a puff of breath and a bubble."""
    gulp = np.zeros(envelope.size)
    at_s = 0.0
    while at_s < gulp_s:
        size = int(rng.uniform(0.012, 0.06) * rate)
        t = np.arange(size) / rate
        window = np.minimum(1, t / 0.001) * np.exp(-t * rng.uniform(60, 160))
        pipe_hz = SOUND_M_S / 4 / suction.pipe_m * (1 + suction.sweep * at_s / gulp_s)
        ring = sum(np.sin(TAU * pipe_hz * (2 * j + 1) * t + rng.uniform(0, TAU)) / (j + 1) ** 0.7 for j in range(4))
        grain = ring * rng.uniform(0.2, 0.7)
        o = rng.integers(0, suction.breath.size - size)
        grain = grain + suction.breath[o : o + size] * rng.uniform(0.5, 1.4)
        radius = log_uniform(rng, 0.002, 0.008)
        grain = grain + 0.8 * np.sin(TAU * MINNAERT_HZ_M / radius * t) * np.exp(-t * 0.2 / radius)
        add_at(gulp, int(at_s * rate), grain * window * np.exp(rng.normal(0, 0.5)))
        per_s = suction.first_per_s + (suction.last_per_s - suction.first_per_s) * at_s / gulp_s
        at_s += np.exp(rng.normal(0, suction.jitter + 0.15)) / per_s
    gulp *= 0.3 + 0.7 * envelope
    return gulp * envelope


def _vortex_gulp(rng: Rng, rate: int, gulp_s: float, envelope: Floats, suction: Suction) -> Floats:
    """Return a surface vortex: whistling, torn suction with a chaotic throttle, then the snap of its end."""
    n = envelope.size
    opening, knots = rng.uniform(0.2, 0.8), np.empty(int(gulp_s * 4 * suction.first_per_s) + 2)
    for i in range(knots.size):
        opening = 3.86 * opening * (1 - opening)
        knots[i] = opening
    throttle = np.interp(np.arange(n) / n * (knots.size - 1), np.arange(knots.size), knots) ** 1.5
    whistle_hz = suction.formants_hz[1] * rng.uniform(0.8, 1.2)
    glide = rng.choice([-0.4, 1]) * suction.sweep

    def gain(t_s: Floats, f_hz: Floats) -> Floats:
        pitch_hz = whistle_hz * np.maximum(0.3, 1 + glide * np.clip(t_s / gulp_s, 0, 1))
        overtone = 0.4 * resonance(f_hz, pitch_hz * 2.1, 4)
        return resonance(f_hz, pitch_hz, 5) + 0.5 * hump(f_hz, 700, 1, 0.8) + overtone

    gulp = unit(moving_noise(rng, n, rate, gain)) * throttle * 2
    s = np.arange(min(n, int(0.06 * rate))) / rate
    snap = np.exp(-s * 70) * np.sin(TAU * SOUND_M_S / 4 / suction.pipe_m * s * (1 + 4 * s))
    gulp[n - s.size :] += snap * rng.uniform(0.5, 2)
    envelope = envelope.copy()
    envelope[n - s.size :] = np.maximum(envelope[n - s.size :], 0.7 * np.linspace(1, 0, s.size) ** 0.5)
    return gulp * envelope


@dataclass(frozen=True, slots=True)
class Swell:
    """How the flow of one flush grows and ends: its envelope, how far each flush has come (0-1), and its colour.

    The noise brightens from ``low_hz`` to ``high_hz`` as the pipe fills, while its air shrinks from ``long_m`` to
    ``short_m``.
    """

    envelope: Floats
    progress: Floats
    low_hz: float
    high_hz: float
    fall: float
    long_m: float
    short_m: float
    flutter: Floats


def flush(rng: Rng, n: int, rate: int, heard_s: float, lead_s: float) -> Floats:
    """Return flushes that swell, stand and end in a gasp."""
    period_s = log_uniform(rng, 8, 40)
    rise_s, body_s, fall_s = rng.uniform(0.6, 3.5), rng.uniform(0.8, 6), rng.uniform(0.3, 2)
    fit = min(1, 0.7 * period_s / (rise_s + body_s + fall_s))
    rise_s, body_s, fall_s = rise_s * fit, body_s * fit, fall_s * fit
    length_s = rise_s + body_s + fall_s
    starts_s = cycle_times(rng, heard_s, lead_s, period_s, length_s + 1)
    build = (_filling_noise, _following_bubbles, _opening_bands)[rng.integers(3)]
    t = np.arange(n) / rate
    steepness = rng.uniform(1, 2.5)
    envelope, progress = np.zeros(n), np.zeros(n)
    for start_s in starts_s:
        u = t - start_s
        levels = [0, 1, rng.uniform(0.7, 1.1), 0]
        once = np.interp(u, [0, rise_s, rise_s + body_s, length_s], levels, left=0, right=0) ** steepness
        envelope = np.maximum(envelope, once)
        progress = np.where((u >= 0) & (u <= length_s), np.clip(u / length_s, 0, 1), progress)
    colour = (log_uniform(rng, 200, 450), log_uniform(rng, 500, 1300), rng.uniform(0.5, 1.1))
    air_m = (log_uniform(rng, 0.3, 1.0), log_uniform(rng, 0.1, 0.3))
    flutter = np.exp(rng.uniform(0.1, 0.35) * wander(rng, n, rate, rng.uniform(5, 18)))
    y = unit(build(rng, n, rate, Swell(envelope, progress, *colour, *air_m, flutter)))
    standing = envelope > 0.5
    y = y / (np.sqrt(np.mean(y[standing] ** 2)) if standing.any() else 1)
    _add_gasps(rng, y, rate, starts_s + length_s, fall_s)
    return y


def _filling_noise(rng: Rng, n: int, rate: int, swell: Swell) -> Floats:
    """Return noise that brightens as the pipe fills, with the moving comb of its air."""
    depth = rng.uniform(0.2, 0.7)
    t = (np.arange(n) / rate)[::256]
    envelope, progress = swell.envelope[::256], swell.progress[::256]

    def gain(t_s: Floats, f_hz: Floats) -> Floats:
        centre_hz = swell.low_hz * (swell.high_hz / swell.low_hz) ** np.interp(t_s, t, envelope)
        come = np.minimum(1, np.interp(t_s, t, progress) * 1.3)
        air_m = swell.long_m * (swell.short_m / swell.long_m) ** come
        echo = depth * np.exp(-2j * TAU * f_hz * air_m / SOUND_M_S) * np.exp(-f_hz / 2500)
        return hump(f_hz, centre_hz, 1, swell.fall) * (1 / np.abs(1 + echo))

    return unit(moving_noise(rng, n, rate, gain)) * swell.envelope * swell.flutter


def _following_bubbles(rng: Rng, n: int, rate: int, swell: Swell) -> Floats:
    """Return bubbles whose number and size follow the flow, over a rushing bed."""
    at_s = poisson_times(rng, n, rate, log_uniform(rng, 500, 1600) * swell.envelope * swell.flutter)
    flow = np.interp(at_s, (np.arange(n) / rate)[::256], swell.envelope[::256])
    largest_m = 0.004 + 0.006 * rng.random()
    radius = radii_m(rng, 0.0007, largest_m, rng.uniform(1.3, 2.2), at_s.size) * (1.4 - 0.5 * flow)
    level = (radius / 0.002) ** 0.9 * np.exp(rng.normal(0, 0.7, at_s.size))
    y = unit(bubble_cloud(rng, n, rate, at_s, radius, level, damping=(1, 3)))
    y = in_standpipe(rng, y, rate, rng.uniform(0.1, 0.4))
    low = steady_noise(rng, n, rate, lambda f: hump(f, swell.low_hz, 1, 1))
    high = steady_noise(rng, n, rate, lambda f: hump(f, swell.high_hz * 1.5, 1, 0.8))
    return y + rng.uniform(0.4, 1) * (low * swell.envelope + high * swell.envelope**2) * swell.flutter


def _opening_bands(rng: Rng, n: int, rate: int, swell: Swell) -> Floats:
    """Return bands that open one after another, low first, and close high first."""
    y = np.zeros(n)
    for f_hz in 90 * 2.0 ** np.arange(0, 7, 0.8):
        if f_hz > 0.4 * rate:
            break
        late = np.clip(np.log2(f_hz / 90) / 6, 0, 1)
        band = band_noise(rng, n, rate, f_hz, 1.8) * hump(f_hz, swell.high_hz, 0.7, swell.fall)
        y += band * swell.envelope ** (0.6 + 2.2 * late) * np.exp(0.25 * wander(rng, n, rate, 3 + f_hz**0.4))
    return unit(y)


def _add_gasps(rng: Rng, y: Floats, rate: int, ends_s: Floats, fall_s: float) -> None:
    """Add how air breaks in at the end of each flush: rasped breath falling in pitch, then slowing gulps."""
    level, gasp_s = rng.uniform(0.5, 1.8), rng.uniform(0.25, 1.0)
    breath_hz, rasp_per_s = log_uniform(rng, 700, 2200), rng.uniform(25, 60)
    for end_s in ends_s:
        grain = _gasp(rng, rate, int(gasp_s * rng.uniform(0.85, 1.15) * rate), breath_hz, rasp_per_s)
        at_s = end_s - fall_s * rng.uniform(0.2, 0.5)
        add_at(y, int(at_s * rate), grain * level)
        gulps = rng.integers(2, 9)
        gaps_s = rng.uniform(0.07, 0.15) * 1.25 ** np.arange(gulps)
        gulps_s = at_s + grain.size / rate * 0.5 + np.cumsum(gaps_s)
        radius = log_uniform(rng, 0.004, 0.009) * np.exp(rng.normal(0, 0.3, gulps))
        for gulp_s, radius_m in zip(gulps_s, radius, strict=True):
            _add_gulp(rng, y, rate, gulp_s, radius_m, level)


def _gasp(rng: Rng, rate: int, n: int, breath_hz: float, rasp_per_s: float) -> Floats:
    length_s = n / rate
    u = np.arange(n) / n

    def gain(t_s: Floats, f_hz: Floats) -> Floats:
        throat = resonance(f_hz, breath_hz * (1 - 0.5 * np.clip(t_s / length_s, 0, 1)), 3)
        return throat + 0.4 * resonance(f_hz, 0.35 * breath_hz, 4) + 0.25 * hump(f_hz, 3 * breath_hz, 1, 1)

    breath = unit(moving_noise(rng, n, rate, gain))
    rasp = unit(pulse_train(rng, n, rate, rasp_per_s, rasp_per_s * 0.5, 0.25, 0.009))
    return breath * (0.4 + 0.7 * rasp) * np.minimum(1, u / 0.08) * (1 - u) ** 1.2


def _add_gulp(rng: Rng, y: Floats, rate: int, at_s: float, radius_m: float, level: float) -> None:
    note = bubble_note(radius_m, rate, rng.uniform(1, 2.5), rng.uniform(0.1, 0.5), 0.6)
    add_at(y, int(at_s * rate), note * level * rng.uniform(0.5, 2.0))
    for _ in range(rng.integers(3, 15)):
        note = bubble_note(log_uniform(rng, 0.001, 0.004), rate, 1.3, 0.1, 0.4)
        small = note * level * rng.uniform(0.1, 0.5)
        add_at(y, int((at_s + rng.gamma(1.5, 0.02)) * rate), small)
