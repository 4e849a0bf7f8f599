"""Rushing air, flushes, falling water, pump tones and rattles by likeness to everyday things, and quiet homes.

Tyres and pressure cookers hiss, cisterns and tubs flush, waterfalls and filling tubs roar, fans and membrane pumps
hum, worn fans and a pump against glass rattle. The spans are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from tuner.training.makes.everyday_parts import (
    Floats,
    Scene,
    bouts,
    bubbles,
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

Method = Callable[[Scene], Floats]


def _clock(s: Scene) -> Floats:
    return np.arange(s.n) / s.rate


def _held(s: Scene, x: Floats) -> Floats:
    return level(x * s.gain())


# Hiss


def _tyre(s: Scene) -> Floats:
    """A tyre let down: bright and flat up to the top, quite steady."""
    corner, rise, fall = s.pick(1800.0, 7000.0), s.rng.uniform(3.0, 12.0), -s.rng.uniform(0.0, 5.0)
    return _held(s, paint(s, lambda _t, f: slope(f, corner, rise, fall)))


def _cooker(s: Scene) -> Floats:
    """Pressure cooker: one or several wide humps, a slight flutter as the weight dances, a slow drift of colour."""
    centre, wide = s.pick(1500.0, 6500.0), s.pick(0.35, 1.0)
    drift, flutter = s.rng.uniform(0.0, 0.15), s.rng.uniform(0.0, 0.15)
    speed = s.pick(4.0, 25.0)

    def gains(t: Floats, f: Floats) -> Floats:
        moving = centre * 2.0 ** (drift * slow(s.rng, t[:, 0], 0.7)[:, None])
        loud = np.exp(flutter * slow(s.rng, t[:, 0], speed)[:, None])
        return loud * (hump(f, moving, wide) + 0.15 * slope(f, 2500.0, 8.0, -2.0)) * humps(s.rng, f, 1500.0, 8000.0, 3)

    return _held(s, paint(s, gains))


def _starved_tap(s: Scene) -> Floats:
    """A tap nearly shut: rushing air with a faint, unsteady whistle or two on it."""
    centre = s.pick(1200.0, 5500.0)
    corner, dark = s.pick(1200.0, 4500.0), -s.rng.uniform(1.0, 6.0)
    strength, narrow = s.pick(0.3, 3.0), s.pick(0.015, 0.08)

    def gains(t: Floats, f: Floats) -> Floats:
        pitch = centre * 2.0 ** (0.03 * slow(s.rng, t[:, 0], 3.0)[:, None])
        tones = hump(f, pitch, narrow) + 0.4 * hump(f, pitch * s.pick(1.4, 2.2), narrow)
        return slope(f, corner, 7.0, dark) + strength * tones

    return _held(s, paint(s, gains))


# Flush


def _pieces(s: Scene, times: Floats, gasp_s: float) -> tuple[Floats, Floats, Floats]:
    """Return at each time the rise and roar of a flush, how far along it is, and the loudness of its closing gasp."""
    roar, along, gasp = np.zeros_like(times), np.zeros_like(times), np.zeros_like(times)
    rise, bend, over = s.rng.uniform(0.08, 0.6), s.pick(0.7, 3.0), s.rng.uniform(0.2, 0.9)
    sag, late = s.rng.uniform(0.0, 0.6), s.rng.uniform(0.05, 0.85)
    for begin, end in bouts(s.drive):
        share = (times - begin) / (end - begin)
        inside = (share >= 0.0) & (share < 1.0)
        climb = np.minimum(share / rise, 1.0).clip(0.0) ** bend
        roar += inside * climb * (1.0 - sag * share.clip(0.0, 1.0)) * s.force(times)
        along += inside * share
        starts = end - gasp_s * (1.0 - late)
        into = (times - starts) / gasp_s
        force = float(s.force(np.array([end - 0.02]))[0])
        swell = np.minimum(into / over, 1.0).clip(0.0) * np.minimum((1.0 - into) / (1.0 - over), 1.0).clip(0.0)
        gasp += swell * ((into > 0.0) & (into < 1.0)) * force
    return roar, along, gasp


def _gasping(s: Scene, gasp: Floats) -> Floats:
    """Return the closing gasp: torn noise that slides, with glugs in some draws."""
    base, wide, slide = s.pick(350.0, 2800.0), s.pick(0.3, 1.2), s.rng.uniform(-0.8, 1.4)
    # The band slides with the loudness and strays besides, as the mouth of the air opens and shuts.
    moved = slide * gasp / max(float(gasp.max()), 1e-9) + 0.2 * slow(s.rng, s.frame_times, 12.0)
    x = paint(s, lambda _t, f: gasp[:, None] * hump(f, base * 2.0 ** moved[:, None], wide))
    return level(x * rasp(s, s.pick(9.0, 60.0), s.rng.uniform(0.4, 1.0), s.pick(0.15, 0.6)))


def _cistern(s: Scene) -> Floats:
    """Toilet cistern: noise that climbs in strength and brightness, a full roar, then a gasp as air comes in."""
    roar, along, gasp = _pieces(s, s.frame_times, s.pick(0.3, 1.0))
    corner, open_up, dark = s.pick(200.0, 900.0), s.rng.uniform(-0.5, 2.0), -s.rng.uniform(3.0, 9.0)
    unrest = np.exp(s.pick(0.05, 0.35) * slow(s.rng, s.frame_times, s.pick(4.0, 20.0)))
    moving = (corner * 2.0 ** (open_up * along))[:, None]
    full = (roar * unrest)[:, None]
    x = paint(s, lambda _t, f: full * slope(f, moving, 5.0, dark) * humps(s.rng, f, 120.0, 2500.0, 4))
    return x + s.pick(0.3, 2.5) * _gasping(s, gasp)


def _siphon_start(s: Scene) -> Floats:
    """Hose siphon: glugs that crowd together, run into a roar, and break up into glugs and a gasp again."""
    steps = s.step_times
    roar, along, gasp = _pieces(s, s.frame_times, s.pick(0.3, 1.0))
    at_steps = np.interp(steps, s.frame_times, along)
    edge = np.abs(at_steps - s.rng.uniform(0.35, 0.65)) * 2.0
    low = s.pick(100.0, 350.0)
    notes = bubbles(s, low, low * s.pick(3.0, 8.0), times_of(s, s.pick(12.0, 70.0) * (0.1 + edge), 1.5), q=10.0)
    corner, dark = s.pick(250.0, 1500.0), -s.rng.uniform(4.0, 8.0)
    x = paint(s, lambda _t, f: (roar * (along > 0.05))[:, None] * slope(f, corner, 5.0, dark))
    return x + s.pick(0.2, 1.2) * notes + s.pick(0.3, 2.0) * _gasping(s, gasp)


def _tub_end(s: Scene) -> Floats:
    """The last of a bathtub: a roar with a sucking tone that climbs through it until it tears."""
    roar, along, gasp = _pieces(s, s.frame_times, s.pick(0.4, 1.0))
    base, climb, narrow = s.pick(150.0, 700.0), s.rng.uniform(0.2, 1.8), s.pick(0.05, 0.2)
    stray = 0.12 * slow(s.rng, s.frame_times, 8.0)
    centre = (base * 2.0 ** (climb * along**2 + stray))[:, None]
    share, dark = s.pick(0.3, 3.0), -s.rng.uniform(4.0, 8.0)
    loud = roar[:, None]
    x = paint(s, lambda _t, f: loud * (slope(f, 350.0, 4.0, dark) + share * along[:, None] * hump(f, centre, narrow)))
    return x * rasp(s, s.pick(10.0, 40.0), s.rng.uniform(0.0, 0.6), 0.4) + s.pick(0.4, 2.5) * _gasping(s, gasp)


# Roar


def _waterfall(s: Scene) -> Floats:
    """Waterfall behind a hill: broad, low and steady, with the faintest restlessness."""
    corner, dark = s.pick(120.0, 500.0), -s.rng.uniform(3.0, 7.5)
    unrest, speed = s.pick(0.02, 0.15), s.pick(1.0, 12.0)

    def gains(t: Floats, f: Floats) -> Floats:
        loud = np.exp(unrest * slow(s.rng, t[:, 0], speed)[:, None])
        return loud * slope(f, corner, s.pick(3.0, 9.0), dark) * humps(s.rng, f, 100.0, 1500.0, 3)

    return _held(s, paint(s, gains))


def _filling_tub(s: Scene) -> Floats:
    """A bath running full: deep plunging bubbles in their hundreds under a wide rush."""
    low = s.pick(90.0, 220.0)
    deep = bubbles(s, low, low * s.pick(4.0, 9.0), times_of(s, s.pick(60.0, 130.0), 1.0), q=s.pick(3.0, 8.0))
    corner, dark = s.pick(200.0, 800.0), -s.rng.uniform(4.0, 7.5)
    rush = _held(s, paint(s, lambda _t, f: slope(f, corner, 4.0, dark)))
    return s.pick(0.2, 1.0) * deep + rush


def _down_pipe(s: Scene) -> Floats:
    """A full downpipe behind a wall: a low roar with the comb of the pipe's length and a heavy churn."""
    pipe, corner, dark = s.pick(70.0, 280.0), s.pick(150.0, 700.0), -s.rng.uniform(4.0, 9.0)
    depth = s.rng.uniform(0.2, 1.0)
    comb = paint(s, lambda _t, f: slope(f, corner, 5.0, dark) * (1.0 + depth * np.cos(2.0 * np.pi * f / pipe)))
    churn = np.exp(s.pick(0.05, 0.25) * slow(s.rng, _clock(s), s.pick(8.0, 40.0)))
    return _held(s, comb * churn)


# Hum


def _table(s: Scene, amplitudes: Floats, hz: float, sway: float, sway_per_s: float) -> Floats:
    """Return a periodic tone from one drawn period; ``sway`` is the relative wander of its frequency."""
    turn = np.arange(2049) / 2048.0
    # The first overtones only: past a third of the rate they would fold back.
    amplitudes = amplitudes[: max(1, int(s.rate / 3.0 / hz))]
    period = np.zeros_like(turn)
    for k, a in enumerate(amplitudes.tolist(), start=1):
        period += a * np.cos(2.0 * np.pi * (k * turn + s.rng.random()))
    t = _clock(s)
    moved = np.cumsum(1.0 + sway * slow(s.rng, t, sway_per_s)) * hz / s.rate
    return level(np.interp(moved % 1.0, turn, period))


def _breathing(s: Scene) -> Floats:
    return np.exp(s.pick(0.01, 0.25) * slow(s.rng, _clock(s), s.pick(0.2, 3.0)))


def _murmur(s: Scene) -> Floats:
    corner = s.pick(100.0, 700.0)
    return paint(s, lambda _t, f: slope(f, corner, 6.0, -6.0))


def _transformer(s: Scene) -> Floats:
    """Transformer or coil pump: multiples of twice the mains, a few strong, some of the odd ones between."""
    falls: Floats = np.arange(1, 31, dtype=np.float64) ** -s.rng.uniform(0.3, 2.5) * np.exp(
        0.9 * s.rng.standard_normal(30)
    )
    falls[::2] *= s.pick(0.01, 0.6)
    tone = _table(s, falls, s.mains, 0.0004, 1.0)
    return _held(s, (tone + s.pick(0.005, 0.3) * _murmur(s)) * _breathing(s))


def _motor(s: Scene) -> Floats:
    """Fan or washing-machine motor: a shaft with its blade tone, not tied to the mains, swaying slightly."""
    shaft, blades = s.pick(18.0, 75.0), int(s.rng.integers(3, 10))
    lines = 0.15 * np.exp(0.8 * s.rng.standard_normal(4 * blades)) / np.arange(1, 4 * blades + 1) ** 0.5
    lines[blades - 1 :: blades] += np.array([1.0, 0.5, 0.25, 0.12]) * np.exp(0.5 * s.rng.standard_normal(4))
    tone = _table(s, lines, shaft, s.pick(0.0005, 0.008), s.pick(0.3, 4.0))
    out = tone
    if s.rng.random() < 0.5:
        out = out + s.pick(0.05, 0.8) * _table(s, np.array([0.3, 1.0, 0.2, 0.4]), s.mains, 0.0003, 1.0)
    return _held(s, (out + s.pick(0.01, 0.4) * _murmur(s)) * _breathing(s))


def _membrane(s: Scene) -> Floats:
    """Membrane air pump or two pumps side by side: a buzz rich in overtones that beats with its neighbour."""
    buzz: Floats = np.arange(1, 41, dtype=np.float64) ** -s.rng.uniform(0.5, 1.5) * np.exp(
        0.5 * s.rng.standard_normal(40)
    )
    base = s.mains * float(s.rng.choice([1.0, 2.0]))
    tone = _table(s, buzz, base, 0.0003, 1.0)
    tone = tone + s.rng.uniform(0.0, 1.0) * _table(s, buzz, base * (1.0 - s.pick(0.001, 0.05)), 0.001, 1.0)
    tone = level(tone) + s.pick(0.1, 1.5) * ring(tone, s.rate, s.pick(120.0, 900.0), s.pick(3.0, 20.0))
    return _held(s, (tone + s.pick(0.005, 0.2) * _murmur(s)) * _breathing(s))


# Rattle


def _clacks(s: Scene, low: float, high: float, count: int) -> list[Floats]:
    """Return knocks of a body: a few modes that ring shortly, with a tick of noise at the onset."""
    modes = [s.pick(low, min(high, 0.4 * s.rate)) for _ in range(int(s.rng.integers(2, 7)))]
    decay, tick = s.pick(0.002, 0.03), s.pick(0.05, 1.0)
    bank = []
    for _ in range(count):
        grain = puff(s.rng, s.rate, modes[-1], 1.0, rise_s=0.0005, fall_s=0.3 * decay) * tick
        for hz in modes:
            part = level(note(s.rate, hz, decay * s.pick(0.6, 1.5))) * s.rng.uniform(0.1, 1.0)
            both = np.zeros(max(len(part), len(grain)))
            both[: len(grain)] += grain
            both[: len(part)] += part
            grain = both
        bank.append(grain)
    return bank


def _rotor(s: Scene) -> Floats:
    """Worn fan or rotor: knocks once a turn, strong and weak ones in a pattern, over the motor's tone."""
    per_s = s.pick(5.0, 60.0)
    times = times_of(s, per_s, s.pick(30.0, 3000.0))
    pattern = np.exp(0.5 * s.rng.standard_normal(int(s.rng.integers(1, 7))))
    loud = s.force(times) * pattern[np.arange(len(times)) % len(pattern)]
    loud *= np.exp(s.pick(0.05, 0.6) * s.rng.standard_normal(len(times)))
    knocks = level(lay(s, times, loud, _clacks(s, s.pick(200.0, 1200.0), s.pick(2000.0, 7000.0), 10)))
    return knocks + s.pick(0.03, 0.7) * _motor(s)


def _chatter(s: Scene) -> Floats:
    """Loose lid or washing machine at its spin: bursts of quick irregular knocks that come and go."""
    crowd = np.exp(s.pick(0.4, 1.5) * slow(s.rng, s.step_times, s.pick(1.0, 8.0)))
    times = times_of(s, np.minimum(s.pick(8.0, 60.0) * crowd, 200.0), s.pick(1.0, 12.0))
    loud = s.force(times) * np.exp(0.6 * s.rng.standard_normal(len(times)))
    knocks = level(lay(s, times, loud, _clacks(s, s.pick(150.0, 900.0), s.pick(1500.0, 7000.0), 12)))
    return knocks + s.pick(0.02, 0.6) * (_motor(s) if s.rng.random() < 0.5 else _transformer(s))


def _against_glass(s: Scene) -> Floats:
    """A pump that leans on glass: it taps at every stroke or every other, harder and softer as it wanders."""
    t = _clock(s)
    shaft = s.mains * float(s.rng.choice([0.5, 1.0, 1.0, 2.0])) * s.rng.uniform(0.985, 1.0)
    stroke = np.cos(2.0 * np.pi * (shaft * t + 0.1 * slow(s.rng, t, s.pick(1.0, 20.0))))
    beat = s.rng.uniform(0.0, 0.5) * np.cos(2.0 * np.pi * s.pick(0.7, 12.0) * t)
    wander = s.pick(0.1, 0.5) * slow(s.rng, t, s.pick(0.7, 10.0))
    taps = np.maximum(stroke + beat + wander - s.rng.uniform(0.5, 1.05), 0.0)
    hits = np.diff(taps, prepend=0.0) * (1.0 + 0.4 * s.rng.standard_normal(s.n, dtype=np.float32))
    out = s.pick(0.02, 0.5) * level(hits)
    for _ in range(int(s.rng.integers(2, 6))):
        out = out + s.rng.uniform(0.2, 1.0) * ring(hits, s.rate, s.pick(250.0, 6000.0), s.pick(2.0, 30.0))
    return _held(s, level(out) + s.pick(0.02, 0.6) * _transformer(s))


def _grit(s: Scene) -> Floats:
    """Grit in a rotor: scraping noise that turns with the shaft, with single clicks."""
    turn = rasp(s, s.pick(6.0, 55.0), s.rng.uniform(0.6, 1.0), s.pick(0.01, 0.15))
    centre, wide = s.pick(900.0, 5000.0), s.pick(0.3, 1.0)
    scrape = _held(s, paint(s, lambda _t, f: hump(f, centre, wide) * humps(s.rng, f, 500.0, 6000.0, 3)) * turn)
    times = times_of(s, s.pick(5.0, 60.0), s.pick(1.0, 10.0))
    clicks = lay(
        s, times, s.force(times) * np.exp(0.8 * s.rng.standard_normal(len(times))), _clacks(s, 600.0, 6500.0, 8)
    )
    return scrape + s.pick(0.2, 2.0) * level(clicks) + s.pick(0.02, 0.5) * _motor(s)


MACHINES: dict[str, tuple[Method, ...]] = {
    "hiss": (_tyre, _cooker, _starved_tap),
    "flush": (_cistern, _siphon_start, _tub_end),
    "roar": (_waterfall, _filling_tub, _down_pipe),
    "hum": (_transformer, _motor, _membrane),
    "rattle": (_rotor, _chatter, _against_glass, _grit),
}
"""The ways of making the rushing and the machine kinds."""


# Rooms


def _ventilation(s: Scene) -> Floats:
    corner, dark, flutter = s.pick(60.0, 500.0), -s.rng.uniform(3.0, 11.0), s.rng.uniform(0.01, 0.15)
    loud = np.exp(flutter * slow(s.rng, s.frame_times, s.pick(2.0, 12.0)))[:, None]
    return paint(s, lambda _t, f: loud * slope(f, corner, 4.0, dark) * humps(s.rng, f, 80.0, 2500.0, 4))


def _traffic(s: Scene) -> Floats:
    swell = np.exp(s.pick(0.2, 0.9) * slow(s.rng, s.frame_times, s.pick(0.1, 0.5)))[:, None]
    corner, tyres, dark = s.pick(40.0, 150.0), s.pick(0.03, 0.4), -s.rng.uniform(5.0, 13.0)
    return paint(s, lambda _t, f: swell * slope(f, corner, 3.0, dark) + tyres * swell**1.5 * hump(f, 800.0, 0.8))


def _wind(s: Scene) -> Floats:
    gust = slow(s.rng, s.frame_times, s.pick(0.2, 1.5))[:, None]
    centre = s.pick(120.0, 700.0) * 2.0 ** (0.4 * gust)
    howl, dark = s.pick(0.02, 0.6), -s.rng.uniform(5.0, 10.0)
    return paint(s, lambda _t, f: np.exp(0.5 * gust) * (slope(f, 60.0, 2.0, dark) + howl * hump(f, centre, 0.25)))


def _fridge(s: Scene) -> Floats:
    tone = _motor(s) if s.rng.random() < 0.4 else _transformer(s)
    return level(tone) + s.pick(0.2, 3.0) * _ventilation(s)


def _computer_fan(s: Scene) -> Floats:
    return s.pick(0.03, 0.5) * _motor(s) + paint(s, lambda _t, f: slope(f, s.pick(200.0, 1500.0), 3.0, -5.0))


def _radiator(s: Scene) -> Floats:
    corner = s.pick(400.0, 3000.0)
    flow = paint(s, lambda _t, f: slope(f, corner, 4.0, -7.0) * humps(s.rng, f, 300.0, 3000.0, 2))
    ticks = times_of(s, s.pick(0.05, 0.6), 1.0)
    clicks = lay(s, ticks, np.exp(0.7 * s.rng.standard_normal(len(ticks))), _clacks(s, 800.0, 5000.0, 4))
    return s.pick(0.05, 1.0) * flow + s.pick(0.0005, 0.01) * clicks + _ventilation(s)


def _microphone(s: Scene) -> Floats:
    tilt = -s.rng.uniform(-1.0, 4.0)
    return paint(s, lambda _t, f: slope(f, 1000.0, tilt, tilt))


def _electronics(s: Scene) -> Floats:
    return s.pick(0.03, 0.5) * _transformer(s) + _microphone(s)


_ROOMS = (_ventilation, _traffic, _wind, _fridge, _computer_fan, _radiator, _microphone, _electronics)


def room(rng: np.random.Generator, sample_rate: int, n: int) -> Floats:
    """Return ``n`` samples of a newly drawn quiet home without a drain: one to three of its sorts, and the microphone.

    >>> room(np.random.default_rng(1), 16_000, 1000).shape
    (1000,)
    """
    steps = -(-n // (sample_rate // 20)) + 1
    s = Scene(rng, sample_rate, np.ones(steps), float(rng.choice([50.0, 60.0])))
    out = s.pick(0.01, 0.5) * _microphone(s)
    for _ in range(int(rng.integers(1, 4))):
        way = _ROOMS[int(rng.integers(len(_ROOMS)))]
        out = out + s.pick(0.15, 1.0) * level(way(s))
    wander = np.exp(s.pick(0.01, 0.12) * slow(rng, _clock(s), s.pick(0.1, 1.0)))
    # The gains of held parts rise within the first control step: it is left out.
    return (out * wander)[s.n - n :]
