"""The nine kinds of sound and rooms at rest as the work of small unruly dynamics.

What happens when comes from vessels that fill and spill at thresholds of their own, an air core that is excitable,
events that bring on more events, switches and walks; what it sounds like comes from frequency-modulated notes that cut
each other off, bent and combed noise and band-passes that move with the state. A kind is known by its dynamics, not by
a spectrum. Spans are common practice, no source; the laws named in ``unruly_parts`` are from memory.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from tuner.rehearsal.voices.control import step_samples
from tuner.terms import SoundKind
from tuner.training.makes.unruly_parts import Course, unit

Floats = NDArray[np.float64]

_REST_S = 1.5  # a gurgle goes on all the time: its chugs never rest for longer
_GASP_S = 1.9  # a flush gasps this long after its end at most
_FADE_S = 0.4


def _spread(c: Course, count: int, octaves: float) -> Floats:
    """Return factors around 1."""
    out: Floats = 2.0 ** np.clip(octaves * c.rng.standard_normal(count), -2.5, 2.5)
    return out


def _wash(c: Course, low_hz: float, high_hz: float) -> Floats:
    """Return bent noise through one or two band-passes that walk."""
    centre = c.log(low_hz, high_hz)
    formants: list[tuple[Floats | float, float, float]] = [
        (centre * 2.0 ** (c.flat(0.02, 0.4) * c.walk(c.log(0.2, 8.0))), c.log(0.25, 2.0), 1.0)
    ]
    if c.chance(0.5):
        formants.append((centre * c.log(1.8, 5.0) * c.sway(c.log(0.3, 6.0), 0.2), c.log(0.5, 5.0), c.log(0.1, 1.0)))
    return c.moving(c.bent(c.white()), formants, c.log(0.001, 0.05))


def _piped(c: Course, x: Floats) -> Floats:
    """Return the sound heard through a pipe in some draws."""
    if c.chance(0.5):
        return x
    return unit(x) + c.log(0.1, 1.5) * unit(c.comb(x, c.log(60.0, 900.0), c.flat(-0.85, 0.85)))


def _pockets(c: Course, rate_hz: Floats, count: int, unevenness: float) -> tuple[Floats, Floats, Floats, float]:
    """Return the notes of air pockets that fill and spill, all times and sizes, and the pitch; large spills are low."""
    base, apart = c.log(85.0, 800.0) if c.chance(0.75) else c.log(500.0, 1300.0), c.flat(0.0, 0.6)
    climb, cycles, rise = c.flat(0.0, 0.5), (c.log(1.0, 4.0), c.log(4.0, 16.0)), c.flat(0.0, 0.5)
    out, every, sizes = np.zeros(c.n), [], []
    for _ in range(count):
        times, size = c.spills(rate_hz / count, unevenness)
        times = c.unrested(times, _REST_S)
        size = np.resize(size, times.size) if size.size else np.ones(times.size)
        hz = base * 2.0 ** (apart * c.rng.standard_normal()) * size ** -c.flat(0.2, 0.8)
        hz = hz * 2.0 ** (climb * c.walk(c.log(0.3, 4.0))[c.index(times)]) * _spread(c, times.size, c.flat(0.02, 0.2))
        out += c.notes(times, np.clip(hz, 60.0, 3000.0), size * c.level[c.index(times)], c.log(*cycles), rise,
                       c.flat(0.0, 1.6), c.flat(0.5, 2.5))
        every.append(times)
        sizes.append(size)
    return out, np.concatenate(every), np.concatenate(sizes), base


def _gurgle(c: Course) -> Floats:
    way = c.rng.random()
    rate = c.log(1.5, 45.0) * np.minimum(3.0, c.drive**0.4) * c.sway(c.log(0.2, 2.0), c.flat(0.0, 0.5))
    count, unevenness = int(c.rng.integers(1, 6)), c.flat(0.03, 0.7)
    chug = np.ones(c.points)
    if way < 0.3:  # chugging in bouts
        chug = c.switch(c.log(0.2, 3.0), c.log(0.12, 1.1), c.log(1.0, 12.0))
        rate = c.log(6.0, 35.0) * np.minimum(3.0, c.drive**0.3) * (0.005 + chug)
    elif way < 0.5:  # one even glug-glug
        rate, count, unevenness = np.full(c.points, c.log(1.4, 7.0)) * c.on, 1, c.flat(0.02, 0.2)
    elif way < 0.65:  # air that breaks in by turns
        chug = c.core(c.flat(0.3, 1.1) + 0.1 * c.walk(1.0), c.log(1.2, 5.0), c.flat(0.05, 0.3))
        rate = c.log(8.0, 50.0) * (0.05 + chug) * c.on
    notes, times, sizes, base = _pockets(c, rate, count, unevenness)
    lift = c.lifted(times, sizes, c.log(0.003, 0.02), c.log(0.02, 0.2))
    lift = np.minimum(4.0, lift / max(1e-9, float(lift[c.on].mean())))
    # the throat of the pipe closes as a plug goes by: its formant falls with the plug and comes back
    throat = base * c.log(1.2, 5.0) * 2.0 ** (c.flat(-0.7, 0.7) * lift * 0.5)
    formants = [(throat, c.log(0.4, 5.0), 1.0), (throat * c.log(2.0, 4.0), 1.0, c.log(0.05, 0.6))]
    air = c.moving(c.bent(c.white()), formants, c.log(0.002, 0.06))
    plugs = air * c.up(lift * c.level)
    young = c.excited(c.log(15.0, 250.0) * lift * np.sqrt(c.drive), c.flat(0.1, 0.8), c.log(0.004, 0.05))
    hz = base * c.log(2.0, 7.0) * _spread(c, young.size, c.flat(0.1, 0.8))
    small = c.crowd(young, hz, c.level[c.index(young)] * hz**-0.7, 4, (2.0, 12.0), 0.1, 0.6)
    rush = _wash(c, 150.0, 1800.0) * c.up(c.level * (c.flat(0.2, 1.0) + 0.3 * lift))
    bed_db = c.flat(-40.0, -4.0) if c.chance(0.65) else c.flat(-4.0, 6.0)
    return _piped(c, c.mixed(notes, (-22.0, 4.0, plugs), (-28.0, 2.0, small), (bed_db, bed_db, rush)))


def _slurp(c: Course) -> Floats:
    start, end = sorted((c.flat(0.25, 1.3), c.flat(0.5, 1.9)), reverse=c.chance(0.25))
    current = start + (end - start) * c.share ** c.log(0.4, 3.0) + c.log(0.03, 0.4) * c.walk(c.log(0.5, 4.0))
    air = c.core(current, c.log(0.7, 6.5), c.flat(0.03, 0.35)) * c.fade(0.1)
    leak = c.log(0.02, 0.7)
    shape = np.where(c.on, np.minimum(1.0, c.share / c.log(0.02, 0.8)) ** c.log(0.3, 2.5), 0.0)
    gulp = (leak + (1.0 - leak) * c.slowed(air, c.log(0.003, 0.03))) ** c.log(0.7, 2.0)
    gulp = gulp * c.sway(c.log(2.0, 20.0), c.flat(0.02, 0.4)) * (0.15 * c.on + shape) * c.level
    centre = c.log(260.0, 2600.0) * 2.0 ** (c.flat(-0.6, 1.6) * air + c.flat(-0.6, 1.2) * c.share)
    centre = centre * c.sway(c.log(1.0, 12.0), c.flat(0.0, 0.25))
    formants = [(centre, c.log(0.5, 6.0), 1.0), (centre * c.log(1.7, 4.5), c.log(0.6, 5.0), c.log(0.05, 1.5))]
    if c.chance(0.4):
        formants.append((np.full(c.points, c.log(120.0, 450.0)), c.log(1.0, 5.0), c.log(0.2, 2.0)))
    pulses = c.rasp(c.log(14.0, 130.0) * (0.5 + air) * np.exp(c.flat(0.02, 0.5) * c.walk(c.log(8.0, 60.0))),
                    c.log(1.0, 12.0), c.flat(0.05, 0.9))
    way = c.rng.random()
    depth = c.flat(0.0, 0.3) if way < 0.3 else c.flat(0.4, 1.0)
    source = c.bent(c.white()) * (1.0 - depth + depth * pulses)
    if way > 0.7:  # the rim itself flaps: a snore
        source = source + c.log(0.2, 4.0) * (pulses - pulses.mean())
    torn = c.moving(source, formants, c.log(0.003, 0.12)) * c.up(gulp)
    torn = np.tanh(unit(torn) * c.log(0.2, 2.5)) if c.chance(0.4) else torn
    late = np.concatenate([np.zeros(int(c.flat(0.0, 0.35) * c.per_s)), gulp])[: c.points]  # carried down the pipe
    young = c.excited(c.log(25.0, 500.0) * late / max(1e-9, float(gulp.max())) + 2.0, c.flat(0.0, 0.85),
                      c.log(0.004, 0.06))
    hz = c.log(250.0, 2200.0) * _spread(c, young.size, c.flat(0.2, 0.9))
    gains = (late + 0.01 * c.level)[c.index(young)] * (hz / 500.0) ** -0.6
    bubbles = c.crowd(young, hz, gains, 5, (1.5, 12.0), 0.3, 0.8)
    heard = c.mixed(torn, (-34.0, 3.0, bubbles), (-45.0, -8.0, _wash(c, 300.0, 3000.0) * c.up(c.level)))
    return _piped(c, heard + _collapse(c, centre))


def _collapse(c: Course, centre: Floats) -> Floats:
    """Return how a bout ends: with nothing, a plop or a gasp."""
    way = c.rng.random()
    if way < 0.4:
        return np.zeros(c.n)
    ends = np.array([c.t[min(b, c.points - 1)] for _, b in c.bouts])
    if way < 0.7:
        times = np.maximum(0.0, ends - c.flat(0.0, 0.1))
        plop_hz = c.log(130.0, 700.0) * _spread(c, times.size, 0.2)
        plops = c.notes(times, plop_hz, np.ones(times.size), c.log(2.0, 12.0), c.flat(0.1, 0.9), 0.3, 1.5)
        return c.log(0.5, 8.0) * plops
    last_s = c.log(0.08, 0.5)
    swell = np.where(c.on, np.exp(-c.left_s / last_s), 0.0) * c.level
    return c.log(0.5, 5.0) * c.moving(c.white(), [(centre * c.log(0.6, 2.0), c.log(0.7, 3.0), 1.0)]) * c.up(swell)


def _drops(c: Course, rate_hz: Floats, low_hz: float, high_hz: float, voices: int) -> Floats:
    """Return drops that come in clusters, as notes dealt out to voices."""
    times = c.excited(rate_hz, c.flat(0.0, 0.93), c.log(0.002, 0.08))
    hz = c.log(low_hz, high_hz) * _spread(c, times.size, c.log(0.18, 0.9))
    gains = c.level[c.index(times)] * np.exp(c.flat(0.2, 1.0) * c.rng.standard_normal(times.size)) * (hz / 2e3) ** -0.5
    return c.crowd(times, np.maximum(hz, 0.4 * low_hz), gains, voices, (c.log(1.5, 4.0), c.log(5.0, 25.0)), 0.1, 1.2)


def _trickle(c: Course) -> Floats:
    gusts = c.sway(c.log(0.1, 4.0), c.flat(0.05, 0.6))
    film = c.moving(c.bent(c.white()), [(c.log(2500.0, 9000.0) * c.sway(0.5, 0.15), c.log(0.4, 2.0), 1.0)], 0.003)
    way = c.rng.random()
    if way < 0.35:  # a few spouts, each dripping at thresholds of its own
        drops = np.zeros(c.n)
        times = np.zeros(0)
        for _ in range(int(c.rng.integers(3, 9))):
            own, size = c.spills(c.log(5.0, 45.0) * gusts * np.sqrt(c.drive), c.flat(0.05, 0.9))
            hz = np.maximum(900.0, c.log(1300.0, 5500.0) * size**-0.4 * _spread(c, own.size, c.flat(0.01, 0.25)))
            drops += c.notes(own, hz, c.level[c.index(own)] * size, c.log(2.0, 25.0), c.flat(0.0, 0.2),
                             c.flat(0.0, 1.5), c.flat(0.5, 3.0))
            times = np.append(times, own)
        ticks = c.lifted(np.sort(times), np.ones(times.size), 0.002, c.log(0.003, 0.012))
    else:
        rate = c.log(70.0, 1400.0) * gusts * np.sqrt(c.drive)
        drops = _drops(c, rate, 1300.0, 5500.0, int(c.rng.integers(3, 7)))
        ticks = c.lifted(c.excited(rate * 0.3, 0.5, 0.02), np.ones(1), 0.002, c.log(0.003, 0.012))
    spat = c.banded(c.bent(c.white()), c.log(1200.0, 3500.0), c.log(5000.0, 15000.0)) * c.up(ticks * c.level)
    heard = c.mixed(drops, (-26.0, 5.0, spat), (-36.0, -1.0, film * c.up(c.level * gusts)))
    return c.banded(heard, c.log(150.0, 1200.0), 0.45 * c.rate)


def _splash(c: Course) -> Floats:
    """Lumps land in clusters; the more lands at once, the lower and broader it sounds."""
    times = c.excited(c.log(25.0, 300.0) * c.drive**0.4 + 1.0, c.flat(0.0, 0.8), c.log(0.005, 0.1))
    mass = np.exp(c.flat(0.2, 1.2) * c.rng.standard_normal(times.size))
    lift = c.lifted(times, mass, c.log(0.001, 0.008), c.log(0.008, 0.09))
    lift = lift / max(1e-9, float(lift[c.on].mean()))
    steady = c.log(0.05, 5.0)  # from single slaps to a plunging jet
    strength = (steady * c.sway(c.log(0.3, 12.0), c.flat(0.05, 0.35)) + np.minimum(lift, 8.0)) / (1.0 + steady)
    centre = c.log(450.0, 6000.0) * np.maximum(0.2, strength) ** c.flat(-0.5, 0.3) * c.sway(1.0, c.flat(0.0, 0.15))
    water = c.moving(c.bent(c.white()), [(centre, c.log(0.2, 1.2), 1.0), (c.log(200.0, 900.0), 1.0, c.log(0.03, 0.8))],
                     c.log(0.005, 0.2)) * c.up(strength * c.level)
    bubbles = _drops(c, c.log(20.0, 500.0) * strength * np.sqrt(c.drive), 350.0, 2400.0, 5)
    return c.mixed(water, (-24.0, 2.0, bubbles), (-30.0, -2.0, _wash(c, 500.0, 5000.0) * c.up(c.level)))


def _hiss(c: Course) -> Floats:
    peak = c.log(1200.0, 8000.0) * 2.0 ** (c.log(0.01, 0.25) * c.walk(c.log(0.05, 2.0)))
    peak = peak * np.maximum(c.drive, 0.05) ** c.flat(0.0, 0.15)
    formants = [(peak, c.log(0.35, 4.0), 1.0)]
    for _ in range(int(c.rng.integers(0, 3))):
        formants.append((c.log(1000.0, 9000.0) * c.sway(c.log(0.1, 2.0), 0.04), c.log(0.8, 10.0), c.log(0.1, 1.0)))
    air = c.moving(c.bent(c.white()), formants, c.log(0.0005, 0.15))
    low_cut = c.banded(air, c.log(250.0, 1200.0), 0.45 * c.rate)
    waver = 1.0 + c.log(0.005, 0.2) * c.walk(c.log(0.3, 25.0))
    if c.chance(0.25):
        waver = waver * (1.0 + c.flat(0.03, 0.2) * np.sin(2.0 * np.pi * c.log(0.5, 12.0) * (c.t + 0.1 * c.walk(1.0))))
    heard = low_cut if c.chance(0.6) else unit(low_cut) + c.flat(0.2, 1.0) * unit(
        c.comb(low_cut, c.log(400.0, 4000.0), c.flat(-0.8, 0.8)))
    level = c.level * np.clip(waver, 0.3, 2.0)
    out = heard * c.up(level)
    if c.chance(0.3):  # a faint whistle that locks on and lets go
        lock = c.slowed(c.core(c.flat(0.2, 1.7) + np.zeros(c.points), c.log(0.5, 4.0), 0.3), 0.03)
        turns = c.oscillator(np.minimum(peak * c.log(0.7, 1.4) * (1.0 + 0.01 * c.walk(5.0)), 0.42 * c.rate))
        out = c.mixed(out, (-28.0, -9.0, np.sin(2.0 * np.pi * turns) * c.up(lock * level)))
    if c.chance(0.2):  # droplets that the air tears off
        spit = _drops(c, c.log(2.0, 60.0) * np.sqrt(c.drive), 1500.0, 6000.0, 2)
        out = c.mixed(out, (-32.0, -12.0, spit + 1e-9 * out))
    return out


def _flush(c: Course) -> Floats:
    # the pipe fills as a population grows: slowly, then at once; it empties over the last part of the bout
    half, steep, fall = c.flat(0.1, 0.55), c.log(5.0, 25.0), c.flat(0.05, 0.4)
    rush = 1.0 / (1.0 + np.exp(-steep * (c.share - half))) * np.minimum(1.0, (1.0 - c.share) / fall) ** c.log(0.4, 2.0)
    rush = np.where(c.on, 0.03 + rush * (1.0 + c.flat(0.0, 0.6) * (c.share - 0.5)), 0.0)
    unrest = c.sway(c.log(1.0, 15.0), c.flat(0.03, 0.4))
    centre = c.log(130.0, 2800.0) * 2.0 ** (c.flat(-0.5, 1.8) * (rush - 0.5) + c.flat(0.0, 0.2) * c.walk(2.0))
    formants = [(centre, c.log(0.3, 2.0), 1.0), (centre * c.log(1.6, 6.0), c.log(0.3, 3.0), c.log(0.01, 0.8))]
    water = c.moving(c.bent(c.white()), formants, c.log(0.0005, 0.08)) * c.up(rush * unrest * c.level)
    young = c.excited(c.log(20.0, 350.0) * rush, c.flat(0.1, 0.85), c.log(0.005, 0.06))
    hz = c.log(180.0, 1500.0) * _spread(c, young.size, c.flat(0.2, 0.8))
    bubbles = c.crowd(young, hz, rush[c.index(young)] * (hz / 400.0) ** -0.6, 5, (1.5, 10.0), 0.3, 0.8)
    # air breaks in: first the core stays open, then it gasps ever more rarely
    since = np.where(c.on, -c.left_s, np.minimum(c.after_s, 9.0)) / c.log(0.3, 1.2) + c.flat(-0.2, 0.8)
    current = np.where(since > 0.0, np.maximum(0.0, c.flat(0.9, 1.9) - c.flat(0.2, 1.2) * since), -0.5)
    gasp = c.core(current, c.log(1.0, 6.0), c.flat(0.02, 0.2)) * (since > 0.0) * np.exp(-np.maximum(since, 0.0) * 0.8)
    loud = np.maximum.accumulate(np.where(c.on, np.arange(c.points), 0))
    gasp = gasp * c.drive[loud] ** 0.7 * c.fade(c.flat(0.4, _GASP_S))
    pulses = c.rasp(c.log(15.0, 110.0) * (0.5 + gasp) * np.exp(0.2 * c.walk(20.0)), c.log(1.0, 8.0), c.flat(0.1, 0.8))
    depth = c.flat(0.0, 0.95)
    mouth = c.log(250.0, 2500.0) * 2.0 ** (c.flat(-0.5, 1.5) * gasp)
    torn = c.moving(c.white() * (1.0 - depth + depth * pulses), [(mouth, c.log(0.5, 5.0), 1.0)], c.log(0.003, 0.1))
    out = c.mixed(water, (-26.0, 0.0, bubbles))
    return _piped(c, out) + c.log(0.3, 2.0) * unit(torn * c.up(gasp))


def _roar(c: Course) -> Floats:
    """Several layers, each with its own unrest, and lumps that come down in the pipe."""
    low = c.log(50.0, 480.0)
    out = np.zeros(c.n)
    for _ in range(int(c.rng.integers(1, 4))):
        centre = low * c.log(1.0, 8.0) * c.sway(c.log(0.2, 6.0), c.flat(0.01, 0.2))
        churn = c.sway(c.log(0.3, 20.0), c.flat(0.03, 0.3)) * c.sway(0.3, c.flat(0.0, 0.15))
        layer = c.moving(c.bent(c.white()), [(centre, c.log(0.25, 2.0), 1.0), (low, 0.7, c.log(0.05, 1.0))],
                         c.log(0.0005, 0.15))
        out += c.log(0.3, 1.0) * unit(layer) * c.up(churn)
    lumps = c.excited(c.log(2.0, 40.0) * np.sqrt(c.drive), c.flat(0.0, 0.8), c.log(0.02, 0.3))
    thuds = np.minimum(6.0, c.lifted(lumps, np.ones(1), c.log(0.003, 0.03), c.log(0.03, 0.25)))
    heavy = c.banded(c.bent(c.white()), low * 0.7, low * c.log(3.0, 12.0)) * c.up(thuds)
    hz = c.log(180.0, 900.0)
    swirl = c.banded(c.white(), hz, 2.5 * hz) * np.sin(2.0 * np.pi * c.oscillator(hz * c.sway(8.0, 0.3)))
    return _piped(c, c.mixed(out, (-28.0, 0.0, heavy + 1e-6 * out), (-26.0, -3.0, swirl))) * c.up(c.level)


def _rotor(c: Course, turn_hz: Floats, lines: int) -> Floats:
    """Return a rotor's lines: a bent sum of a few multiples, with the sidebands of its slip."""
    turns = c.oscillator(turn_hz)
    fall, top = c.flat(1.0, 9.0), 0.42 * c.rate
    out = np.zeros(c.n)
    for k in range(1, lines + 1):
        if k * float(turn_hz.max()) < top:
            gain = 10.0 ** ((-fall * np.log2(k) + 6.0 * c.rng.standard_normal()) / 20.0)
            out += gain * np.sin(2.0 * np.pi * (k * turns + c.rng.random()))
    if c.chance(0.5):
        slip = c.oscillator(np.maximum(0.05, c.log(0.3, 12.0) * c.sway(0.3, 0.3)))
        out *= 1.0 + c.log(0.01, 0.7) * np.sin(2.0 * np.pi * slip)
    return np.tanh(unit(out) * c.log(0.3, 2.5)) if c.chance(0.5) else out


def _hum(c: Course) -> Floats:
    drift = 1.0 + c.log(0.0002, 0.012) * c.walk(c.log(0.03, 1.5))
    mains = c.mains_hz * float(c.rng.choice([1.0, 2.0, 2.0])) * np.ones(c.points)
    own = c.log(22.0, 260.0) * drift
    first, second = (mains, own) if c.chance(0.6) else (own, own * (1.0 + c.log(0.001, 0.03)) * c.sway(0.1, 0.002))
    parts = _rotor(c, first, int(c.rng.integers(2, 15)))
    heard = c.mixed(parts, (-32.0, 0.0, _rotor(c, second, int(c.rng.integers(1, 9)))))
    blades = np.sin(2.0 * np.pi * c.oscillator(first)) * c.flat(0.0, 0.9) + 1.0
    whirr = _wash(c, 120.0, 2500.0) * blades
    return c.mixed(heard * c.up(c.sway(c.log(0.05, 1.0), c.flat(0.0, 0.2))), (-38.0, -9.0, whirr)) * c.up(c.level)


def _rattle(c: Course) -> Floats:
    """Each knock bounces, ever faster and softer; whether a turn knocks at all is up to a threshold that walks."""
    rate = c.log(4.0, 70.0)
    kicks, size = c.spills(rate * c.sway(0.5, c.flat(0.0, 0.2)) * (c.drive > 0.0), c.log(0.004, 0.5))
    lose = c.walk(c.log(0.2, 4.0))[c.index(kicks)] + 0.3 * c.rng.standard_normal(kicks.size)
    kept = (lose < c.flat(0.2, 3.0)) | (np.arange(kicks.size) == 0)
    kicks, size = kicks[kept], size[kept]
    bounce, gap_s = c.flat(0.1, 0.8), c.log(0.1, 0.7) / rate
    times, blows = [kicks], [size * np.exp(c.flat(0.05, 0.5) * c.rng.standard_normal(kicks.size))]
    for k in range(int(c.rng.integers(0, 7))):
        times.append(times[-1] + gap_s * bounce**k * np.exp(0.1 * c.rng.standard_normal(kicks.size)))
        blows.append(blows[-1] * bounce)
    at, strong = np.concatenate(times), np.concatenate(blows)
    inside = at < c.n / c.rate - 0.01
    at, strong = at[inside], strong[inside] * c.level[c.index(at[inside])]
    body, out = c.log(250.0, 3000.0), np.zeros(c.n)
    for _ in range(int(c.rng.integers(1, 5))):
        hz = min(0.4 * c.rate, body * c.log(0.6, 4.0)) * _spread(c, at.size, c.log(0.002, 0.1))
        out += c.log(0.2, 1.0) * c.notes(at, hz, strong, c.log(1.5, 25.0), 0.0, c.flat(0.0, 2.5), c.flat(0.3, 3.7))
    short = c.log(0.0006, 0.008)
    ticks = np.zeros(c.n)
    np.add.at(ticks, (at * c.rate).astype(np.int64), strong)
    keep = float(np.exp(-1.0 / (short * c.rate)))
    scrape = c.banded(c.bent(c.white()) * lfilter([1.0], [1.0, -keep], ticks), 0.5 * body, 5.0 * body)
    motor = _rotor(c, np.full(c.points, rate * c.log(1.0, 4.0) + 20.0), 6) * c.up(c.level)
    return c.mixed(np.tanh(unit(out) * c.log(0.1, 1.0)), (-22.0, 2.0, scrape), (-45.0, -10.0, motor),
                   (-48.0, -12.0, _wash(c, 100.0, 2500.0) * c.up(c.level)))


_RECIPES: dict[SoundKind, Callable[[Course], Floats]] = {
    "gurgle": _gurgle, "slurp": _slurp, "trickle": _trickle, "splash": _splash, "hiss": _hiss, "flush": _flush,
    "roar": _roar, "hum": _hum, "rattle": _rattle,
}


def sound(kind: SoundKind, rng: np.random.Generator, sample_rate: int, drive: Floats, mains_hz: float) -> Floats:
    """Return a new draw of the kind, at no level: shape (len(drive) * step,), silent but for what rings on.

    >>> sound("gurgle", np.random.default_rng(1), 16_000, np.ones(20), 50.0).shape
    (16000,)
    """
    course = Course(rng, sample_rate, drive, mains_hz)
    if not course.bouts:
        return np.zeros(course.n)
    raw = _RECIPES[kind](course)
    placed = raw if kind == "hum" else course.placed(raw)
    out: Floats = placed * course.up(course.fade(_GASP_S if kind == "flush" else _FADE_S))
    return out


def _conditioner(c: Course) -> Floats:
    """Air from an outlet, the tone of its blades and the beat with a second fan."""
    air = _wash(c, 90.0, 900.0) * c.up(c.sway(c.log(0.1, 3.0), c.flat(0.0, 0.15)))
    blades = c.log(25.0, 350.0) * (1.0 + c.log(0.0005, 0.01) * c.walk(c.log(0.05, 1.0)))
    beside = _rotor(c, blades * (1.0 + c.log(0.002, 0.03)), 3)
    return c.mixed(air, (-26.0, -2.0, c.mixed(_rotor(c, blades, int(c.rng.integers(1, 7))), (-20.0, 0.0, beside))))


def _street(c: Course) -> Floats:
    """Cars far off: each lifts the noise, opens its band and is gone; between them the town stays."""
    cars = c.excited(np.full(c.points, c.log(0.05, 0.8)), c.flat(0.0, 0.7), c.log(0.5, 3.0))
    lift = c.lifted(cars, np.ones(1), c.log(0.4, 2.0), c.log(0.6, 3.0))
    centre = c.log(50.0, 260.0) * (1.0 + c.flat(0.0, 2.0) * np.minimum(2.0, lift))
    town = c.moving(c.bent(c.white()), [(centre, c.log(0.3, 1.2), 1.0)], c.log(0.001, 0.03))
    return town * c.up((c.log(0.1, 3.0) + lift) * c.sway(0.5, c.flat(0.0, 0.15)))


def _night(c: Course) -> Floats:
    """Next to nothing: air with a tilt, and the walls' own slow breath."""
    keep = float(np.exp(-2.0 * np.pi * c.log(40.0, 2000.0) / c.rate))
    dark = lfilter([1.0 - keep], [1.0, -keep], c.white())
    return c.mixed(dark * c.up(c.sway(c.log(0.03, 0.5), c.flat(0.0, 0.25))), (-40.0, -4.0, _wash(c, 60.0, 3000.0)))


def _fridge(c: Course) -> Floats:
    """A compressor that slips behind the mains, its case, and the mains itself."""
    base = c.mains_hz * float(c.rng.choice([0.5, 1.0, 1.0, 2.0]))
    motor = _rotor(c, base * (1.0 - c.log(0.001, 0.06)) * (1.0 + 0.001 * c.walk(0.2)), int(c.rng.integers(3, 18)))
    coil = _rotor(c, np.full(c.points, 2.0 * c.mains_hz), int(c.rng.integers(1, 5)))
    return c.mixed(motor, (-25.0, 3.0, coil), (-25.0, 6.0, _wash(c, 80.0, 1200.0)))


def room(rng: np.random.Generator, sample_rate: int, n: int) -> Floats:
    """Return n samples of a room at rest, at no level: one or two of its sorts and the microphone's own noise.

    >>> room(np.random.default_rng(1), 16_000, 1000).shape
    (1000,)
    """
    steps = max(1, -(-n // step_samples(sample_rate)))
    course = Course(rng, sample_rate, np.ones(steps), float(rng.choice([50.0, 60.0])))
    sorts = (_conditioner, _street, _night, _fridge)
    first, second = (sorts[int(k)] for k in rng.permutation(len(sorts))[:2])
    tone = course.placed(first(course), 12.0)
    if course.chance(0.5):
        tone = course.mixed(tone, (-25.0, 3.0, second(course)))
    out: Floats = course.mixed(tone, (-48.0, -12.0, course.placed(course.white(), 6.0, 1)))[:n]
    return out
