"""The nine kinds of sound, and rooms, as a building acoustician would set them up: source, path and receiver.

A source is a third-octave spectrum (waste pipe, water jet, valve, falling water, film), the statistics of its bands
(kurtosis, modulation, likeness of neighbours) and sporadic events: glugs, drips, knocks, gasps. Wall, cupboard, tank
water and hard floor stand in its path. What tells the kinds apart is above all their course in time: a gurgle goes on
without a rest, a slurp rasps in gulps within its bout, a flush swells once and ends in gasps. Figures without a named
source are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.voices.control import checked_drive, step_samples
from tuner.terms import SoundKind
from tuner.training.makes.plumbed_parts import FPS, Chain

Floats = NDArray[np.float64]

LONGEST_REST_S = 1.4
"""Between two glugs of a gurgle."""


def _plugs(c: Chain) -> tuple[Floats, Floats]:
    """Return times and strengths of the plugs of air of a gurgle: even, in chugs, ragged or rolling."""
    way, pushed = int(c.rng.integers(4)), np.clip(c.strength, 0.05, 3.0) ** c.flat(0.1, 0.5)
    if way == 0:
        return _struck(c, c.times(c.log(1.1, 7.0) * pushed * c.walk(0.3, c.flat(0.0, 0.2)), c.log(6.0, 80.0)))
    if way == 1:  # chugs with rests between
        runs, rests = c.log(0.4, 3.5), c.log(0.25, 1.2)
        count = int(c.t[-1] / (runs + rests)) * 2 + 6
        spans = np.stack((runs * c.uneven(count, 0.4), np.minimum(rests * c.uneven(count, 0.3), 1.25)), axis=1).ravel()
        ends = np.cumsum(spans) - c.flat(0.0, runs)
        chug = np.searchsorted(ends, c.t) % 2 == 0
        return _struck(c, c.times(chug * c.log(4.0, 16.0) * pushed, c.log(1.5, 20.0)))
    if way == 2:
        return _struck(c, c.times(c.log(2.5, 20.0) * pushed * c.walk(0.7, c.flat(0.1, 0.6)), c.log(0.8, 3.0)))
    return _struck(c, c.times(c.log(14.0, 45.0) * pushed, c.log(0.8, 4.0)), c.walk(c.log(0.8, 3.0), c.flat(0.2, 0.7)))


def _struck(c: Chain, times: Floats, swing: Floats | None = None) -> tuple[Floats, Floats]:
    """Return times without long rests, with their strengths."""
    whole = [times[:0]]
    for a, b in c.bouts:
        marks = np.concatenate(([a / FPS], times[(times >= a / FPS) & (times < b / FPS)], [b / FPS]))
        whole.append(marks[1:-1])
        for k in np.flatnonzero(np.diff(marks) > LONGEST_REST_S).tolist():
            parts = int(np.ceil((marks[k + 1] - marks[k]) / (0.8 * LONGEST_REST_S))) + 1
            whole.append(np.linspace(marks[k], marks[k + 1], parts)[1:-1])
    times = np.sort(np.concatenate(whole))
    amps = c.uneven(len(times), c.flat(0.1, 0.6)) * c.at(times, c.strength) ** 0.7
    return times, amps if swing is None else amps * c.at(times, swing)


def _glugs(c: Chain, times: Floats, amps: Floats, shift: float, gain: float) -> None:
    """Lay glugs: a short low burst that climbs, a note with it, and a spray of small bubbles after it."""
    if not len(times):
        return
    spectrum = c.spectrum_of("pipe", shift)[:, None]
    late, decay = c.log(0.01, 0.15), c.log(0.025, 0.22)
    burst = spectrum * c.strokes(times, amps, c.log(0.002, 0.03), decay, c.log(0.003, 0.05), c.flat(-0.2, 0.8))
    strong = c.log(0.15, 1.0)
    if c.chance(0.75):
        c.noise(burst * c.stir(c.log(3.1, 9.0), c.log(5.0, 60.0), c.flat(0.0, 0.6)), gain * strong)
    else:
        c.bubbles(burst, c.log(8.0, 80.0), c.log(2.0, 8.0), c.flat(0.3, 1.0), gain * strong)
    if c.chance(0.6):  # water slams shut behind the plug
        slam = c.strokes(times, amps, 0.0013, c.log(0.003, 0.02)) * c.spectrum_of("jet", shift - 0.5)[:, None]
        c.noise(slam, gain * c.log(0.1, 0.8))
    hz = c.log(130.0, 480.0) * 2.0 ** (0.8 * shift) * c.at(times, c.walk(0.4, c.flat(0.0, 0.4)))
    hz = np.clip(hz * c.uneven(len(times), c.flat(0.03, 0.4)), 70.0, 1500.0)
    c.notes(times, hz, amps, c.log(1.5, 7.0), c.flat(0.1, 1.3), gain * c.log(0.1, 1.0))
    spray_amps = amps * c.uneven(len(times), c.flat(0.2, 0.8))
    spray = c.strokes(times + late, spray_amps, c.log(0.005, 0.06), c.log(0.04, 0.5), 0.0, c.flat(-0.2, 0.5))
    spray = spray * c.spectrum_of("film", shift - c.flat(0.2, 2.2))[:, None]
    c.bubbles(spray, c.log(15.0, 200.0), c.log(2.5, 10.0), c.flat(0.4, 1.1), gain * c.log(0.2, 2.0))


def _bed(c: Chain, typical: str, shift: float, level: Floats, gain: float) -> None:
    """Lay a rushing bed under the rest."""
    stirred = c.stir(c.log(3.02, 5.0), c.log(2.0, 40.0), c.flat(0.0, 0.7))
    c.noise(c.spectrum_of(typical, shift)[:, None] * stirred * level, gain)


def _gurgle(c: Chain) -> None:
    shift = c.flat(-0.9, 1.6)
    times, amps = _plugs(c)
    _glugs(c, times, amps, shift, 1.0)
    if c.chance(0.35):  # a second place in the pipe, nearer to the outlet
        second = c.times(c.log(1.0, 9.0), c.log(0.8, 6.0))
        _glugs(c, second, c.uneven(len(second), 0.5), shift + c.flat(-1.0, 1.0), c.log(0.1, 0.6))
    if c.chance(0.7):
        _bed(c, "pipe" if c.chance(0.4) else "jet", shift + c.flat(-0.8, 0.5), c.press, c.log(0.02, 0.8))
    c.path(14.0, 4)


class _Breaths:
    """Draughts of air painted one by one: how strong, and where the hump of the noise stands."""

    def __init__(self, c: Chain, centre_hz: float) -> None:
        self.c, self.level = c, np.zeros(c.frames)
        self.octave = np.full(c.frames, np.log2(centre_hz))

    def draw(self, start: int, length: int, amp: float, rise: float, skew: float, edge: float) -> None:
        """Add one; its hump glides by ``rise`` octaves, it is strongest at ``skew`` of its length."""
        end = min(start + length, self.c.frames)
        if end <= start or length < 4:
            return
        u = (np.arange(length) + 0.5) / length
        shape = np.minimum(1.0, np.minimum(u / skew, (1.0 - u) / (1.0 - skew))) ** edge
        keep = end - start
        self.level[start:end] = np.maximum(self.level[start:end], amp * shape[:keep])
        self.octave[start:end] += np.where(amp * shape[:keep] >= self.level[start:end], rise * (u[:keep] - 0.5), 0.0)

    def lay(self, typical: str, rough: Floats, gain: float) -> None:
        """Lay them as noise round the hump, with a second, weaker hump where the pipe answers.

        ``gain`` is their strength while they sound, against the rest while driven.
        """
        c = self.c
        gain *= float(np.sqrt(np.sum(self.level > 0.05 * self.level.max()) / max(1, int(c.on.sum()))))
        hz = np.clip(2.0**self.octave, 80.0, 9000.0) * c.walk(c.log(1.0, 15.0), c.flat(0.0, 0.15))
        hump = c.formant(hz, c.log(0.3, 1.5), c.log(0.01, 0.3))
        if c.chance(0.75):
            hump = hump + c.log(0.1, 1.2) * c.formant(hz * 2.0 ** c.flat(0.9, 2.3), c.log(0.2, 0.8))
        colour = c.spectrum_of(typical, c.flat(-0.5, 0.5))[:, None] ** c.flat(0.1, 0.6)
        stirred = c.stir(c.log(3.02, 8.0), c.log(8.0, 90.0), c.flat(0.2, 1.0))
        c.noise(hump * colour * (stirred * self.level * rough), gain)


def _gulp_plan(c: Chain, way: int, a: int, b: int, even: float, pace: float) -> list[tuple[int, int, float]]:
    """Return start, length and strength of the gulps of a bout."""
    if way in (1, 2):  # a snore or a breath: one long draught, or a few that follow at once
        parts = max(1, round((b - a) / FPS / c.log(1.0, 8.0)))
        cuts = np.linspace(a, b, parts + 1).astype(int).tolist()
        return [(s, int((e - s) * c.flat(0.8, 1.0)), c.flat(0.6, 1.0)) for s, e in pairwise(cuts)]
    plan: list[tuple[int, int, float]] = []
    at, full = float(a), c.flat(0.35, 0.95)
    while not plan or (at < b - 0.05 * FPS and len(plan) < 400):
        gap = float(c.rng.gamma(even) / even) / pace * FPS
        gap = min(max(gap, 0.08 * FPS), 1.3 * FPS)
        length = int(min(gap * full * c.flat(0.8, 1.15), b - at))
        plan.append((int(at), length, float(np.exp(0.35 * np.clip(c.rng.standard_normal(), -1.5, 1.5)))))
        at += gap
    return plan


def _slurp(c: Chain) -> None:
    way, breaths = int(c.rng.choice(5, p=(0.4, 0.2, 0.12, 0.13, 0.15))), _Breaths(c, c.log(350.0, 3800.0))
    pace, even = c.log(4.0, 13.0) if way == 3 else c.log(0.9, 5.0), c.log(2.0, 30.0)
    rise, drift, skew, edge = c.flat(-0.8, 1.8), c.flat(-0.8, 1.0), c.flat(0.08, 0.9), c.log(0.4, 2.0)
    power = c.log(0.05, 0.3) if c.chance(0.5) else c.log(0.4, 1.8)
    last = c.rng.choice(4, p=(0.35, 0.25, 0.25, 0.15))  # how it ends: cut, plop, gasp, both
    ends, gasps = [], _Breaths(c, c.log(250.0, 2500.0))
    gasp_s, gasp_rise = c.log(0.12, 0.6), c.flat(-2.0, 2.0)
    for a, b in c.bouts:
        for start, length, amp in _gulp_plan(c, 4 if way == 4 and (b - a) > 6 * FPS else way, a, b, even, pace):
            grown = ((start + 0.5 * length - a) / (b - a)) ** power
            breaths.draw(start, length, amp * grown, rise, skew, edge)
        u = np.linspace(0.0, 1.0, b - a)
        breaths.octave[a:b] += drift * u
        breaths.level[a:b] *= np.minimum(1.0, (u + 0.02) ** (0.3 * power) if way in (1, 2) else 1.0)
        ends.append(b / FPS - c.flat(0.0, 0.1))
        gasps.draw(int(max(a, b - c.flat(0.2, 1.0) * gasp_s * FPS)), int(gasp_s * FPS), 1.0, gasp_rise, 0.35, 1.0)
    breaths.level *= c.press
    deep = {1: c.flat(0.6, 1.0), 2: c.flat(0.0, 0.3)}.get(way, c.flat(0.3, 1.0))
    turn = 2.0 ** (c.flat(-0.7, 0.7) * (breaths.octave - breaths.octave[0]))
    rasp = c.rasp(c.log(14.0, 110.0) * turn * c.walk(c.log(1.0, 8.0), c.flat(0.02, 0.35)), c.log(1.0, 6.0))
    breaths.lay("jet", (1.0 - deep) + deep * rasp, 1.0)
    if c.chance(0.75):  # the air is carried through the pipe and let go below, a little later
        lag = int(c.log(0.03, 0.45) * FPS)
        carried = np.concatenate((np.zeros(lag), breaths.level[:-lag]))
        times = c.times(c.log(4.0, 30.0) * (carried / (carried.max() + 1e-9) + c.flat(0.0, 0.2)), c.log(0.8, 3.0))
        _glugs(c, times, c.uneven(len(times), 0.5) * c.at(times, carried + 1e-3), c.flat(-0.6, 2.2), c.log(0.08, 1.0))
    if c.chance(0.4):
        _bed(c, "pipe", c.flat(-0.5, 1.5), c.press, c.log(0.01, 0.15))
    _ending(c, int(last), np.asarray(ends), gasps)
    c.path(13.0, 4)


def _ending(c: Chain, last: int, ends: Floats, gasps: _Breaths) -> None:
    """Lay a slurp's last: a plop as the inlet closes, a gasp, or both."""
    ones, short = np.ones(len(ends)), np.sqrt(0.1 * len(ends) * FPS / c.on.sum())
    if last in (1, 3):
        hz = c.log(120.0, 700.0) * c.uneven(len(ends), 0.2)
        c.notes(ends, hz, ones, c.log(2.0, 6.0), c.flat(0.3, 1.6), short * c.log(0.3, 1.6))
        thud = c.strokes(ends, ones, 0.004, c.log(0.02, 0.1), 0.01)
        c.noise(thud * c.spectrum_of("pipe", 0.5)[:, None], short * c.log(0.1, 1.2))
    if last in (2, 3):
        pulses = c.rasp(c.log(10.0, 90.0) * c.walk(4.0, 0.2), c.log(0.5, 4.0))
        gasps.lay("jet", (1.0 - c.flat(0.0, 0.9)) + pulses, c.log(0.3, 1.6))


def _flush(c: Chain) -> None:
    shift, typical = c.flat(-1.0, 1.7), str(c.rng.choice(["fall", "pipe", "jet"], p=(0.3, 0.25, 0.45)))
    swell, gasps, gulped = np.zeros(c.frames), _Breaths(c, c.log(250.0, 2600.0)), []
    top, hold, power, down = c.flat(0.15, 0.85), c.flat(0.0, 0.4), c.log(0.5, 2.6), c.log(0.4, 2.0)
    start, count, spaced = c.log(0.02, 0.35), int(c.rng.integers(1, 6)), c.log(0.18, 0.7)
    gasp_s, gasp_rise, early = spaced * c.flat(0.4, 1.1), c.flat(-1.8, 1.8), c.flat(0.0, 0.7)
    for a, b in c.bouts:
        u = (np.arange(b - a) + 0.5) / (b - a)
        end = min(0.97, top + hold * (1.0 - top))
        up = start + (1.0 - start) * np.minimum(1.0, u / top) ** power
        swell[a:b] = up * np.clip((1.0 - u) / (1.0 - end), 0.0, 1.0) ** down
        first = max(a + 0.5 * (b - a), b - early * count * spaced * FPS)
        for k in range(count):
            at, fading = first + k * spaced * c.flat(0.85, 1.15) * FPS, c.flat(0.6, 1.0) * c.log(0.6, 1.0) ** k
            strong = fading * float(c.strength[a:b].mean()) ** 0.7
            gasps.draw(int(at), int(gasp_s * c.flat(0.7, 1.3) * FPS), strong, gasp_rise, c.flat(0.2, 0.8), 1.0)
            gulped.append(at / FPS + 0.4 * gasp_s)
    swell *= c.press
    opening = c.flat(0.0, 1.5) * (c.octaves - c.octaves[0]) / np.ptp(c.octaves)  # the bright bands come last
    body = c.spectrum_of(typical, shift)[:, None] * (swell[None, :] + 1e-9) ** (1.0 + opening[:, None])
    if c.chance(0.4):  # the water swings
        phase = 2.0 * np.pi * np.cumsum(c.log(0.6, 4.0) * c.walk(0.5, 0.2)) / FPS
        body = body * np.exp(c.flat(0.1, 0.7) * np.sin(phase))
    c.noise(body * c.stir(c.log(3.05, 6.0), c.log(2.0, 40.0), c.flat(0.0, 0.9)), 1.0)
    if c.chance(0.6):  # the bright part of the rush
        _bed(c, "jet", c.flat(-0.6, 1.0), swell, c.log(0.05, 0.8))
    if c.chance(0.7):
        c.bubbles(body, c.log(10.0, 200.0), c.log(2.0, 7.0), c.flat(0.4, 1.0), c.log(0.05, 0.9))
    if c.chance(0.4):  # before it runs full, and as it breaks, the pipe glugs
        edges = swell * np.exp(-3.0 * swell / (swell.max() + 1e-9))
        times = c.times(c.log(2.0, 12.0) * edges / (edges.max() + 1e-9), c.log(1.0, 6.0))
        _glugs(c, times, c.uneven(len(times), 0.4) * c.at(times, c.press), shift, c.log(0.05, 0.35))
    deep = c.flat(0.0, 0.9)
    pulses = c.rasp(c.log(9.0, 90.0) * c.walk(c.log(1.0, 8.0), c.flat(0.05, 0.4)), c.log(0.7, 5.0))
    gasps.lay("jet" if c.chance(0.6) else "pipe", (1.0 - deep) + deep * pulses, c.log(0.3, 1.5))
    if c.chance(0.4):
        late = np.asarray([at for at in gulped if at < c.t[-1]])
        _glugs(c, late, np.ones(len(late)), c.flat(-0.8, 0.8), c.log(0.05, 0.35))
    c.path(14.0, 4)


def _trickle(c: Chain) -> None:
    shift = c.flat(-1.1, 0.9)
    for k in range(int(c.rng.integers(1, 5))):  # runlets, each with its own tone, pace and unrest
        own = shift + c.flat(-0.5, 0.5)
        film = c.spectrum_of("film", own)[:, None] * c.press * c.walk(c.log(0.2, 3.0), c.flat(0.05, 0.5))
        film = film * c.stir(c.log(3.1, 20.0), c.log(3.0, 60.0), c.flat(0.0, 0.5))
        c.bubbles(film, c.log(2.0, 120.0), c.log(3.0, 20.0), c.flat(0.3, 1.1), c.log(0.3, 1.0) if k else 1.0)
    if c.chance(0.75):
        _bed(c, "film", shift + c.flat(-0.4, 0.8), c.press, c.log(0.02, 0.5))
    if c.chance(0.6):  # single drips: a tick, and for most of them a bubble's rising note
        times = c.times(c.log(1.0, 25.0) * np.clip(c.strength, 0.05, 3.0) ** 0.5, c.log(0.8, 15.0))
        amps = c.uneven(len(times), 0.6) * c.at(times, c.press)
        tick = c.strokes(times, amps, 0.0012, c.log(0.002, 0.01)) * c.spectrum_of("film", shift + 0.3)[:, None]
        c.noise(tick, c.log(0.05, 0.6))
        hz = np.clip(c.log(900.0, 3500.0) * c.uneven(len(times), c.flat(0.05, 0.5)), 500.0, 0.3 * c.rate)
        c.notes(times + c.log(0.004, 0.03), hz, amps, c.log(6.0, 30.0), c.flat(0.0, 0.7), c.log(0.1, 0.8))
    c.path(9.0, 1)


def _splash(c: Chain) -> None:
    shift, heave = c.flat(-1.3, 0.5), c.press * c.walk(c.log(0.3, 9.0), c.flat(0.03, 0.5))
    jet = c.spectrum_of("jet", shift)[:, None] * heave
    c.noise(jet * c.stir(c.log(3.05, 20.0), c.log(4.0, 80.0), c.flat(0.0, 1.0)), 1.0)
    if c.chance(0.8):  # the plume of bubbles under it, larger the deeper the water plunges
        plume = c.spectrum_of("jet", shift - c.flat(0.0, 1.6))[:, None] * heave
        c.bubbles(plume, c.log(8.0, 250.0), c.log(2.0, 9.0), c.flat(0.4, 1.1), c.log(0.1, 1.6))
    if c.chance(0.65):  # slaps: the bright part is over first
        times = c.times(c.log(3.0, 60.0) * np.clip(c.strength, 0.05, 3.0) ** 0.4, c.log(0.7, 4.0))
        amps = c.uneven(len(times), c.flat(0.2, 0.9)) * c.at(times, heave)
        slaps = c.strokes(times, amps, c.log(0.001, 0.006), c.log(0.01, 0.1), -c.log(0.0005, 0.01), c.flat(0.0, 0.9))
        c.noise(slaps * c.spectrum_of("jet", shift + c.flat(-0.5, 0.7))[:, None], c.log(0.1, 1.4))
    if c.chance(0.3):
        _bed(c, "fall", 0.0, heave, c.log(0.02, 0.25))
    c.path(12.0, 3)


def _hiss(c: Chain) -> None:
    hz = c.log(1200.0, min(8000.0, 0.36 * c.rate))
    wavering = c.walk(c.log(0.2, 8.0), c.flat(0.0, 0.16))
    moved = hz * wavering ** c.flat(0.0, 0.5) * c.walk(c.log(0.1, 2.0), c.flat(0.0, 0.06))
    hump = c.formant(moved, c.log(0.35, 1.6)) + c.log(0.01, 0.25) * c.formant(moved, 2.2)
    valve = c.spectrum_of("valve", float(np.log2(hz / 4000.0)), 3.0)[:, None] ** c.flat(0.2, 1.0)
    c.noise(hump * valve * c.stir(c.log(3.005, 3.3), c.log(4.0, 120.0), c.flat(0.0, 1.0)) * c.press * wavering, 1.0)
    if c.chance(0.35):  # the hole's own whistle, faint and restless
        for _ in range(int(c.rng.integers(1, 3))):
            pitch = min(hz * c.flat(0.7, 1.5), 0.42 * c.rate) * c.walk(c.log(1.0, 20.0), c.flat(0.001, 0.02))
            tone = np.sin(2.0 * np.pi * np.cumsum(c.spread(pitch)) / c.rate)
            c.wave(c.log(0.03, 0.7) * tone * c.spread(c.press * c.walk(c.log(2.0, 15.0), c.flat(0.1, 0.6))))
    if c.chance(0.2):
        _bed(c, "jet", 0.8, c.press, c.log(0.02, 0.12))
    c.path(7.0, 1)


def _roar(c: Chain) -> None:
    shift, heave = c.flat(-0.9, 1.5), c.press * c.walk(c.log(0.2, 4.0), c.flat(0.02, 0.3))
    fall = c.spectrum_of("fall", shift)[:, None] * heave
    c.noise(fall * c.stir(c.log(3.02, 4.5), c.log(2.0, 40.0), c.flat(0.0, 0.9)), 1.0)
    if c.chance(0.6):
        c.bubbles(fall, c.log(30.0, 400.0), c.log(1.8, 6.0), c.flat(0.4, 1.0), c.log(0.1, 1.2))
    if c.chance(0.5):
        _bed(c, "jet", c.flat(-1.5, 0.6), heave, c.log(0.05, 0.8))
    if c.chance(0.3):  # lumps of water thud
        times = c.times(c.log(2.0, 12.0), c.log(0.8, 3.0))
        thuds = c.strokes(times, c.uneven(len(times), 0.5) * c.at(times, heave), 0.01, c.log(0.03, 0.15), 0.0, 0.4)
        c.noise(thuds * c.spectrum_of("fall", shift)[:, None], c.log(0.1, 0.5))
    c.path(14.0, 5)


def _pump(c: Chain) -> Floats:
    """Return a pump's tones: of the mains, of a rotor, or both; two pumps beat."""
    twice, some = 2.0 * c.mains, c.rng.permutation(np.arange(1.0, c.rng.integers(4, 25)))
    orders = [1.0, *some[: int(c.rng.integers(2, 9))].tolist()]
    lines = c.lines(twice if c.chance(0.7) else c.mains, orders, c.flat(0.0, 8.0), 1e-7)
    if c.chance(0.5):
        blades = float(c.rng.integers(2, 9))
        rotor = [1.0, 2.0, blades, 2.0 * blades, 3.0 * blades, blades - 1.0, blades + 1.0]
        lines = lines * c.flat(0.0, 1.0) + c.lines(c.log(20.0, 75.0), rotor, c.flat(-1.0, 5.0), c.log(2e-4, 8e-3))
    if c.chance(0.3):
        lines = lines + c.flat(0.3, 1.0) * c.lines(twice + c.log(0.1, 4.0), orders, c.flat(0.0, 8.0), 1e-5)
    return np.asarray(lines / np.sqrt(np.mean(lines**2)), dtype=np.float64)


def _hum(c: Chain) -> None:
    # pumps are heard at the tones above 100 Hz: a small case hardly radiates the lowest
    c.wave(2.0 * _pump(c) * c.spread(c.press * c.walk(c.log(0.1, 5.0), c.flat(0.0, 0.15))))
    if c.chance(0.8):
        _bed(c, "pipe" if c.chance(0.6) else "fall", c.flat(-1.0, 1.5), c.press, c.log(0.01, 0.3))
    c.path(18.0, 4)


def _rattle(c: Chain) -> None:
    pace = c.mains / float(c.rng.integers(1, 4)) if c.chance(0.35) else c.log(3.0, 45.0)
    loose = c.walk(c.log(0.2, 6.0), c.flat(0.0, 1.2))  # it comes and goes
    times = c.times(pace * c.walk(c.log(0.3, 5.0), c.flat(0.0, 0.15)), c.log(2.0, 3000.0))
    amps = c.uneven(len(times), c.flat(0.05, 0.8)) * c.at(times, c.press * loose)
    if c.chance(0.5):  # each knock bounces
        times = np.concatenate((times, times + c.flat(0.1, 0.6) / pace))
        amps = np.concatenate((amps, c.flat(0.2, 0.9) * amps))
    hit = c.strokes(times, amps, c.log(0.001, 0.002), c.log(0.003, 0.04), 0.0, c.flat(0.0, 0.6))
    c.noise(hit * c.spectrum_of("jet", c.flat(-2.2, 1.0))[:, None], c.log(0.1, 1.0))
    for _ in range(int(c.rng.integers(1, 3))):  # the parts that are struck, each with its own few modes
        c.rung(times, amps * c.uneven(len(times), 0.3), int(c.rng.integers(1, 5)), c.log(0.1, 1.0))
    if c.chance(0.6):
        c.wave(c.log(0.02, 0.6) * _pump(c) * c.spread(c.press))
    if c.chance(0.4):
        _bed(c, "pipe", 0.5, c.press, c.log(0.01, 0.15))
    c.path(14.0, 5)


_KINDS: dict[SoundKind, Callable[[Chain], None]] = {
    "gurgle": _gurgle, "slurp": _slurp, "trickle": _trickle, "splash": _splash, "hiss": _hiss, "flush": _flush,
    "roar": _roar, "hum": _hum, "rattle": _rattle,
}


def sound(kind: SoundKind, rng: np.random.Generator, sample_rate: int, drive: Floats, mains_hz: float) -> Floats:
    """Return a new instance of a kind, at no level: shape (len(drive) * step,), 0 where never driven."""
    curve = checked_drive(drive)
    if not curve.any():
        return np.zeros(len(curve) * step_samples(sample_rate))
    chain = Chain(rng, sample_rate, curve, mains_hz)
    _KINDS[kind](chain)
    return chain.heard(1.4 if kind == "flush" else chain.log(0.12, 0.5))


def room(rng: np.random.Generator, sample_rate: int, n: int) -> Floats:
    """Return n samples of a room at rest, at no level: traffic, air and mains behind walls, and the odd creak."""
    steps = -(-n // step_samples(sample_rate))
    c = Chain(rng, sample_rate, np.ones(max(steps, 1)), float(rng.choice([50.0, 60.0])))
    c.press = np.ones(c.frames)  # it was there before and goes on after
    calm = c.stir(c.log(3.01, 3.5), c.log(0.5, 20.0), c.flat(0.0, 0.8))
    c.noise(c.spectrum_of("room", c.flat(-1.0, 1.0), 6.0)[:, None] * calm, 1.0)
    if c.chance(0.6):
        passing = c.walk(c.log(0.03, 0.3), c.flat(0.1, 0.8))
        c.noise(c.spectrum_of("fall", c.flat(-1.5, 0.5))[:, None] * np.ones(c.frames) * passing, c.log(0.1, 1.5))
    if c.chance(0.6):
        _bed(c, "jet", c.flat(-2.0, 1.0), c.press, c.log(0.1, 0.9))
    if c.chance(0.35):
        c.wave(c.log(0.1, 1.5) * c.lines(c.mains, [1.0, 2.0, 3.0, 4.0, 6.0, 8.0], c.flat(2.0, 9.0), 1e-6))
    if c.chance(0.3):
        creaks = c.times(c.log(0.1, 1.0), 1.0)
        if len(creaks):
            shape = c.strokes(creaks, c.uneven(len(creaks), 0.8), 0.003, c.log(0.01, 0.2), 0.0, 0.3)
            c.noise(shape * c.spectrum_of("pipe", c.flat(-0.5, 1.5))[:, None], c.log(0.05, 0.4))
    c.path(15.0, 3)
    c.noise(c.spectrum_of("jet", 2.0)[:, None] * np.ones(c.frames), c.log(0.01, 0.2))  # the microphone's own
    return c.heard(0.5)[:n]
