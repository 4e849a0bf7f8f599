"""The nine kinds of sound made by likeness to everyday water and machines, as they are heard.

Bottles, bathtubs, straws, coffee machines, cisterns, hoses, taps, kettles, tyres and small pumps: for each the shape
of its spectrogram comes first (where the energy lies, how it pulses, how events begin and end) and is built of painted
noise, resonances and chirped grains. Detectors trained on it too do not lean on one way of synthesis. The spans are
common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from tuner.rehearsal.voices.control import step_samples
from tuner.terms import SoundKind
from tuner.training.makes.everyday_parts import (
    Floats,
    Scene,
    bubbles,
    gate,
    gulps,
    hump,
    humps,
    lay,
    level,
    note,
    paint,
    puff,
    rasp,
    ring,
    slope,
    slow,
    times_of,
)
from tuner.training.makes.everyday_rush import MACHINES, room

__all__ = ["MACHINES", "METHODS", "room", "sound"]

Method = Callable[[Scene], Floats]


def _held(s: Scene, x: Floats) -> Floats:
    return level(x * s.gain())


def _vessel(s: Scene, x: Floats, low: float, high: float) -> Floats:
    """Return the sound with the colour of a bucket, box or pipe laid over it in half of the cases."""
    for _ in range(int(s.rng.integers(0, 3))):
        x = x + s.rng.uniform(0.2, 1.0) * ring(x, s.rate, s.pick(low, high), s.pick(2.0, 15.0))
    return level(x)


# Gurgle


def _bottle(s: Scene) -> Floats:
    """Glugs of an emptying bottle: a thump, a rising note and a puff each, climbing as the bottle empties."""
    per_s, base = s.pick(1.2, 8.0), s.pick(90.0, 380.0)
    times = times_of(s, per_s, s.pick(3.0, 40.0))
    climb = s.rng.uniform(0.0, 1.2)
    bank = []
    for octave in np.linspace(0.0, climb, 12) + 0.06 * s.rng.standard_normal(12):
        hz = base * 2.0 ** float(octave)
        grain = note(s.rate, hz, s.pick(0.03, 0.09), glide=s.rng.uniform(0.0, 0.6), attack_s=s.pick(0.003, 0.02))
        bank.append(grain / np.abs(grain).max())
    phrase = (times / s.pick(2.0, 12.0)) % 1.0
    which = np.clip(phrase * 12 + s.rng.normal(0.0, 1.2, len(times)), 0, 11).astype(np.int64)
    loud = s.force(times) * np.exp(0.4 * s.rng.standard_normal(len(times)))
    out = level(lay(s, times, loud, bank, which))
    wide, rise, fall = s.pick(0.3, 0.8), s.pick(0.005, 0.05), s.pick(0.02, 0.09)
    puffs = [puff(s.rng, s.rate, base * s.pick(2.0, 7.0), wide, rise_s=rise, fall_s=fall) for _ in range(8)]
    return out + s.pick(0.1, 0.8) * level(lay(s, times + s.pick(0.005, 0.06), loud, puffs))


def _throat(s: Scene) -> Floats:
    """Gargling throat: low pulses under two formants that open and close like vowels."""
    first, second = s.pick(200.0, 550.0), s.pick(700.0, 1800.0)
    speed, wide = s.pick(2.0, 12.0), s.pick(0.2, 0.6)
    dark = -s.rng.uniform(4.0, 14.0)

    def gains(t: Floats, f: Floats) -> Floats:
        mouth = slow(s.rng, t[:, 0], speed)[:, None]
        loud = np.exp(s.pick(0.5, 1.1) * slow(s.rng, t[:, 0], speed)[:, None])
        shape = hump(f, first * 2.0 ** (0.35 * mouth), wide) + 0.4 * hump(f, second * 2.0 ** (0.5 * mouth), wide)
        return loud * (shape + 0.1 * slope(f, 300.0, 9.0, dark))

    return _held(s, paint(s, gains) * rasp(s, s.pick(8.0, 45.0), s.rng.uniform(0.4, 0.95), s.pick(0.15, 0.6)))


def _pump_air(s: Scene) -> Floats:
    """Washing-machine pump that draws air: bunches of notes at an uneven beat in a churning noise."""
    beat = rasp(s, s.pick(3.0, 14.0), s.rng.uniform(0.6, 1.0), s.pick(0.15, 0.7))
    notes = bubbles(s, s.pick(110.0, 250.0), s.pick(500.0, 1400.0), times_of(s, s.pick(15.0, 50.0), 1.0), q=9.0)
    corner, dark = s.pick(150.0, 500.0), -s.rng.uniform(5.0, 11.0)
    churn = _held(s, paint(s, lambda _t, f: slope(f, corner, 8.0, dark) * humps(s.rng, f, 150.0, 1500.0, 3)))
    return level(notes + s.pick(0.15, 1.0) * churn) * beat


def _bath_pipe(s: Scene) -> Floats:
    """Irregular trains of large bubbles in a waste pipe, two to nine notes each, over a faint wash."""
    heads = times_of(s, s.pick(0.6, 3.0), s.pick(0.8, 3.0))
    counts = s.rng.integers(1, 10, len(heads))
    inner = np.arange(int(counts.sum())) - np.repeat(np.cumsum(counts) - counts, counts)
    spacing = np.repeat(s.pick(0.04, 0.16) * np.exp(0.3 * s.rng.standard_normal(len(heads))), counts)
    times = np.repeat(heads, counts) + inner * spacing * np.exp(0.15 * s.rng.standard_normal(len(inner)))
    times = times[times < s.n / s.rate]
    low = s.pick(90.0, 260.0)
    notes = bubbles(s, low, low * s.pick(2.0, 6.0), times, q=s.pick(5.0, 25.0))
    wash = _held(s, paint(s, lambda _t, f: slope(f, 400.0, 6.0, -9.0)))
    return _vessel(s, notes + s.pick(0.02, 0.4) * wash, 120.0, 900.0)


# Slurp


def _straw(s: Scene) -> Floats:
    """Drinking straw on the last of the glass: bright rasp, its band sliding up, torn by quick pulses."""
    base, climb, wide = s.pick(500.0, 3500.0), s.rng.uniform(-0.3, 1.5), s.pick(0.35, 1.3)
    g = gulps(s, s.frame_times, s.pick(0.6, 4.0), gap=s.rng.uniform(0, 0.5), lean=s.rng.uniform(0.1, 0.95),
              unbroken=bool(s.rng.random() < 0.4))  # fmt: skip
    stray = slow(s.rng, s.frame_times, s.pick(4.0, 25.0))
    centre = (base * 2.0 ** (climb * (0.5 * g.along + 0.5 * g.within) + 0.15 * stray))[:, None]
    air = s.pick(0.02, 0.3)
    x = paint(s, lambda _t, f: g.loud[:, None] * (hump(f, centre, wide) + air * slope(f, centre, 4.0, -3.0)))
    return _held(s, x * rasp(s, s.pick(18.0, 110.0), s.rng.uniform(0.5, 1.0), s.pick(0.1, 0.6)))


def _vortex(s: Scene) -> Floats:
    """Bathtub vortex: a narrow, warbling sucking tone over wet noise, breaking into rasps and a last gasp."""
    base, climb = s.pick(180.0, 1100.0), s.rng.uniform(-0.6, 1.3)
    narrow, warble = s.pick(0.04, 0.16), s.rng.uniform(0.03, 0.3)
    g = gulps(s, s.frame_times, s.pick(0.3, 2.5), gap=s.rng.uniform(0.0, 0.35), lean=s.rng.uniform(0.3, 0.95),
              unbroken=bool(s.rng.random() < 0.5))  # fmt: skip
    centre = (base * 2.0 ** (climb * g.along + warble * slow(s.rng, s.frame_times, s.pick(5.0, 20.0))))[:, None]
    wet, over, dark = s.pick(0.05, 0.5), s.rng.uniform(1.8, 3.6), -s.rng.uniform(3.0, 9.0)

    def gains(_t: Floats, f: Floats) -> Floats:
        tones = hump(f, centre, narrow) + 0.5 * hump(f, centre * over, 1.6 * narrow)
        return g.loud[:, None] * (tones + wet * slope(f, 1.5 * centre, 5.0, dark))

    return _held(s, paint(s, gains) * rasp(s, s.pick(12.0, 60.0), s.rng.uniform(0.2, 0.9), s.pick(0.2, 0.7)))


def _swallow(s: Scene) -> Floats:
    """Throat-like gulps: each opens with a breath that swells, shuts with a low rising note and a smack."""
    g = gulps(s, s.frame_times, s.pick(0.8, 5.0), gap=s.rng.uniform(0.1, 0.6), lean=s.rng.uniform(0.5, 0.97),
              unbroken=False)  # fmt: skip
    base = s.pick(300.0, 1800.0)
    centre = (base * 2.0 ** (s.rng.uniform(-0.8, 1.6) * g.within))[:, None]
    wide, lift = s.pick(0.3, 0.9), s.pick(1.8, 5.0)
    x = paint(s, lambda _t, f: g.loud[:, None] * (hump(f, centre, wide) + 0.3 * hump(f, centre * lift, 0.3)))
    x = _held(s, x * rasp(s, s.pick(15.0, 70.0), s.rng.uniform(0.2, 0.95), s.pick(0.2, 0.6)))
    ends = np.flatnonzero(np.diff(g.within) < -0.3) / 100.0
    ends = ends[ends < s.n / s.rate]
    bank = [note(s.rate, s.pick(120.0, 500.0), s.pick(0.02, 0.07), glide=s.rng.uniform(0.1, 1.0)) for _ in range(8)]
    return x + s.pick(0.1, 1.2) * level(lay(s, ends, s.force(ends), bank))


def _coffee(s: Scene) -> Floats:
    """Coffee machine at the end of its water: spat bursts of steam and chugs, thickening along the bout."""
    steps = s.step_times
    g = gulps(s, steps, s.pick(0.5, 3.0), gap=s.rng.uniform(0.0, 0.3), lean=s.rng.uniform(0.4, 0.95),
              unbroken=bool(s.rng.random() < 0.6))  # fmt: skip
    times = times_of(s, s.pick(14.0, 60.0) * (0.3 + g.along) * (0.1 + g.loud), s.pick(0.8, 5.0))
    hz, wide = s.pick(900.0, 5000.0), s.pick(0.4, 1.3)
    spit = [puff(s.rng, s.rate, hz * s.pick(0.6, 1.6), wide, rise_s=s.pick(0.001, 0.02), fall_s=s.pick(0.006, 0.05))
            for _ in range(16)]  # fmt: skip
    chug = [puff(s.rng, s.rate, s.pick(150.0, 500.0), 0.35, rise_s=0.01, fall_s=s.pick(0.02, 0.06)) for _ in range(8)]
    loud = s.force(times) * np.exp(0.5 * s.rng.standard_normal(len(times)))
    some = s.rng.random(len(times)) < s.rng.uniform(0.1, 0.6)
    return level(lay(s, times, loud, spit)) + s.pick(0.1, 1.0) * level(lay(s, times[some], loud[some], chug))


def _wet_gulps(s: Scene) -> Floats:
    """Sink strainer sucking foam: gulps made of bubbles, with a breath of air behind them."""
    steps = s.step_times
    g = gulps(s, steps, s.pick(0.6, 4.0), gap=s.rng.uniform(0.1, 0.5), lean=s.rng.uniform(0.1, 0.9), unbroken=False)
    low = s.pick(200.0, 900.0)
    notes = bubbles(
        s, low, low * s.pick(4.0, 12.0), times_of(s, s.pick(50.0, 320.0) * g.loud, 1.0), q=s.pick(5.0, 15.0)
    )
    breath = np.interp(s.frame_times, steps, g.loud)[:, None]
    corner = s.pick(700.0, 3500.0)
    air = _held(s, paint(s, lambda _t, f: breath * slope(f, corner, 6.0, -6.0) * humps(s.rng, f, 300.0, 4000.0, 3)))
    torn = rasp(s, s.pick(15.0, 80.0), s.rng.uniform(0.3, 0.95), s.pick(0.2, 0.6))
    return notes + s.pick(0.3, 2.0) * level(air * torn)


# Trickle


def _thin_tap(s: Scene) -> Floats:
    """A thin stream from a tap: bright plinks, many a second, with a thread of noise under them."""
    low = s.pick(900.0, 2500.0)
    notes = bubbles(s, low, s.pick(5000.0, 9000.0), times_of(s, s.pick(30.0, 450.0), 1.0), q=s.pick(8.0, 40.0))
    corner = s.pick(2000.0, 6000.0)
    return notes + s.pick(0.05, 0.9) * _held(s, paint(s, lambda _t, f: slope(f, corner, 6.0, -5.0)))


def _airstone(s: Scene) -> Floats:
    """An airstone: bubbles of nearly one size let go at several steady beats, with fizz above."""
    centre = s.pick(1000.0, 4500.0)
    out = np.zeros(s.n)
    for _ in range(int(s.rng.integers(2, 7))):
        hz = centre * s.pick(0.6, 1.7)
        out += bubbles(s, hz, hz * s.pick(1.05, 1.5), times_of(s, s.pick(8.0, 90.0), s.pick(2.0, 60.0)), spread=0.3)
    fizz = paint(s, lambda _t, f: slope(f, 5500.0, 9.0, -4.0))
    fizz *= rasp(s, s.pick(40.0, 200.0), 0.7, 0.7)
    return level(out) + s.pick(0.05, 0.7) * _held(s, fizz)


def _gutter(s: Scene) -> Floats:
    """Rain gutter: ticking drops on a wall, clustering and thinning, with the ring of sheet or plastic."""
    crowd = np.exp(0.6 * slow(s.rng, s.step_times, s.pick(0.5, 5.0)))
    times = times_of(s, s.pick(20.0, 250.0) * crowd, 1.0)
    ticks = [puff(s.rng, s.rate, s.pick(1800.0, 6500.0), s.pick(0.2, 0.8), rise_s=0.0006, fall_s=s.pick(0.001, 0.009))
             for _ in range(24)]  # fmt: skip
    dry = level(lay(s, times, s.force(times) * np.exp(0.8 * s.rng.standard_normal(len(times))), ticks))
    wet = bubbles(s, 1300.0, 6500.0, times_of(s, s.pick(10.0, 120.0), 1.0))
    return _vessel(s, dry + s.pick(0.1, 1.2) * wet, 1200.0, 5000.0)


# Splash


def _basin(s: Scene) -> Floats:
    """Tap into a basin: broad noise whose colour and strength never rest, with bubbles through it."""
    corner, dark = s.pick(350.0, 2200.0), -s.rng.uniform(2.0, 7.0)
    unrest, speed = s.pick(0.1, 0.5), s.pick(3.0, 25.0)

    def gains(t: Floats, f: Floats) -> Floats:
        moving = corner * 2.0 ** (0.5 * slow(s.rng, t[:, 0], speed)[:, None])
        high = 1.0 + unrest * slow(s.rng, t[:, 0], 2.0 * speed)[:, None] * hump(f, 4.0 * corner, 1.0)
        loud = np.exp(unrest * slow(s.rng, t[:, 0], speed)[:, None])
        return loud * slope(f, moving, s.pick(2.0, 7.0), dark) * np.abs(high) * humps(s.rng, f, 200.0, 3000.0, 3)

    notes = bubbles(s, s.pick(250.0, 700.0), s.pick(1800.0, 5000.0), times_of(s, s.pick(30.0, 250.0), 1.0), q=12.0)
    return _held(s, paint(s, gains)) + s.pick(0.15, 1.3) * notes


def _bucket(s: Scene) -> Floats:
    """Garden hose into a bucket: surging noise in a ringing vessel, plunging bubbles, slaps of the jet."""
    corner, dark = s.pick(250.0, 1200.0), -s.rng.uniform(3.0, 8.0)
    noise = paint(s, lambda _t, f: slope(f, corner, 5.0, dark))
    surge = np.exp(s.pick(0.15, 0.6) * slow(s.rng, np.arange(s.n) / s.rate, s.pick(4.0, 30.0)))
    body = _vessel(s, _held(s, noise * surge), 150.0, 1600.0)
    slaps = times_of(s, s.pick(3.0, 20.0), 1.0)
    grains = [puff(s.rng, s.rate, s.pick(400.0, 3000.0), s.pick(0.6, 1.4), rise_s=0.002, fall_s=s.pick(0.008, 0.06))
              for _ in range(12)]  # fmt: skip
    out = body + s.pick(0.1, 0.8) * level(lay(s, slaps, s.force(slaps), grains))
    return out + s.pick(0.1, 1.0) * bubbles(
        s, 200.0, s.pick(900.0, 3000.0), times_of(s, s.pick(20.0, 120.0), 1.0), q=9.0
    )


def _fountain(s: Scene) -> Floats:
    """Fountain: a dense patter of single splats, large and small, that crowd together and thin out."""
    crowd = np.exp(s.pick(0.2, 0.7) * slow(s.rng, s.step_times, s.pick(1.0, 8.0)))
    times = times_of(s, np.minimum(s.pick(80.0, 400.0) * crowd, 600.0), 1.0)
    low, high = s.pick(300.0, 900.0), s.pick(2500.0, 6000.0)
    splats = [puff(s.rng, s.rate, s.pick(low, high), s.pick(0.4, 1.2), rise_s=0.001, fall_s=s.pick(0.002, 0.012))
              for _ in range(32)]  # fmt: skip
    patter = level(lay(s, times, s.force(times) * np.exp(0.7 * s.rng.standard_normal(len(times))), splats))
    notes = bubbles(s, low, high, times_of(s, s.pick(20.0, 150.0), 1.0), q=10.0)
    dark = -s.rng.uniform(3.0, 6.0)
    return (
        patter
        + s.pick(0.1, 1.0) * notes
        + s.pick(0.1, 0.9) * _held(s, paint(s, lambda _t, f: slope(f, low, 4.0, dark)))
    )


METHODS: dict[str, tuple[Method, ...]] = {
    "gurgle": (_bottle, _throat, _pump_air, _bath_pipe),
    "slurp": (_straw, _vortex, _swallow, _coffee, _wet_gulps),
    "trickle": (_thin_tap, _airstone, _gutter),
    "splash": (_basin, _bucket, _fountain),
}
"""The ways of making the wet kinds; the rushing and the machine kinds have their own module."""


def _spray(s: Scene, made: Floats) -> Floats:
    """Return a faint broad noise that swells and falls with the sound, as of wet surroundings or air beside it."""
    block = s.rate // 100
    loud = np.sqrt((made.reshape(-1, block) ** 2).mean(axis=1))
    envelope = np.interp(s.frame_times - 0.005, s.frame_times[: len(loud)], loud) ** s.rng.uniform(0.5, 1.2)
    corner, dark = s.pick(300.0, 4000.0), -s.rng.uniform(0.0, 6.0)
    return paint(s, lambda _t, f: envelope[:, None] * slope(f, corner, 3.0, dark))


def sound(kind: SoundKind, rng: np.random.Generator, sample_rate: int, drive: Floats, mains_hz: float) -> Floats:
    """Return one newly drawn sound of a kind that follows the drive, unscaled, ``len(drive)`` control steps long.

    >>> sound("hiss", np.random.default_rng(1), 16_000, np.ones(20), 50.0).shape
    (16000,)
    """
    n = len(drive) * step_samples(sample_rate)
    if not np.any(drive > 0.0):
        return np.zeros(n)
    s = Scene(rng, sample_rate, np.asarray(drive, dtype=np.float64), mains_hz)
    ways = {**METHODS, **MACHINES}[kind]
    made = ways[int(rng.integers(len(ways)))](s)
    # Two ways at once stand for a place where two things happen, and fill the space between the ways.
    if rng.random() < 0.25:
        made = level(made) + s.pick(0.15, 0.8) * level(ways[int(rng.integers(len(ways)))](s))
    if rng.random() < 0.5:
        made = level(made) + s.pick(0.01, 0.12 if kind in ("hum", "roar", "hiss") else 0.3) * _spray(s, level(made))
    out: Floats = made * gate(s, 0.95 if kind == "flush" else 0.4)
    return out
