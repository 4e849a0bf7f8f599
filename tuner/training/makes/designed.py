"""Drain and pump sounds as a sound designer patches them: noise, gates, oscillators, grains and resonators.

No flow is simulated. A draw takes one or two patches of its kind, from the crude (a band of noise with a tremolo,
a few sine blips) to the rich, so that a detector cannot lean on the habits of a physical model. Spans of rates,
bands and Qs are common practice, no source; bubble pitches stay within Minnaert's f = 3.28 kHz / r(mm).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.voices.control import CONTROL_S, checked_drive, step_samples
from tuner.terms import SoundKind
from tuner.training.makes.draws import stretches

Floats = NDArray[np.float64]
_Span = tuple[float, float]

_TICK_HZ = 400.0  # low-frequency curves; quick enough for gates of a few milliseconds
_LOUDER = 0.7  # amplitude grows with the drive to this power
_SHAPES = 160  # different grains in a bank
_OVERLAP = 4  # most grains that sound at once on average; more of them cannot be told from noise


def _unit(x: Floats) -> Floats:
    rms = float(np.sqrt(np.mean(x**2))) if len(x) else 0.0
    return x / rms if rms > 0.0 else x


class _Draw:
    """The modules that the patches of one sound share: random source, clock, drive, noise, oscillators, grains."""

    def __init__(self, rng: np.random.Generator, rate: int, drive: Floats, mains_hz: float, tail_s: float) -> None:
        self.rng, self.rate, self.mains_hz = rng, rate, mains_hz
        step = step_samples(rate)
        self.n = len(drive) * step
        self.ticks = np.arange(int(len(drive) * CONTROL_S * _TICK_HZ) + 2) / _TICK_HZ
        self.seconds = np.arange(self.n) / rate
        self.push = drive[np.minimum((self.ticks / CONTROL_S + 1e-6).astype(np.intp), len(drive) - 1)] ** 0.3
        self.left, self.place, self.gain = np.full(len(self.ticks), 1e3), np.zeros(len(self.ticks)), np.zeros(self.n)
        attack_s, again_s = self.span(0.004, 0.08), self.span(0.8, 7.0)
        for first, end in stretches(drive > 0.0):
            self._bout(drive[first:end], first, step, attack_s, tail_s, again_s)

    def _bout(self, drive: Floats, first: int, step: int, attack_s: float, tail_s: float, again_s: float) -> None:
        begins, ends = first * CONTROL_S, (first + len(drive)) * CONTROL_S
        here = (self.ticks >= begins) & (self.ticks < ends + 1.0)
        since = self.ticks[here] - begins
        self.left[here] = ends - self.ticks[here]
        # A drive without break has no end to lead up to, so the patch breathes with a time of its own.
        long = ends - begins > 8.0
        self.place[here] = since % again_s / again_s if long else np.minimum(since / (ends - begins), 1.0)
        start = first * step
        stop = min(self.n, start + len(drive) * step + int(tail_s * self.rate))
        t = np.arange(stop - start) / self.rate
        level = np.interp(t / CONTROL_S - 0.5, np.arange(len(drive)), drive**_LOUDER)
        fade = np.clip(1.0 - (t - (ends - begins)) / tail_s, 0.0, 1.0) ** 2
        self.gain[start:stop] = np.maximum(self.gain[start:stop], level * np.minimum(t / attack_s, 1.0) * fade)

    def span(self, low: float, high: float) -> float:
        return float(np.exp(self.rng.uniform(np.log(low), np.log(high))))

    def chance(self, share: float) -> bool:
        return bool(self.rng.random() < share)

    def pick(self, *names: str) -> str:
        return names[int(self.rng.integers(len(names)))]

    def up(self, curve: Floats) -> Floats:
        return np.interp(self.seconds, self.ticks, curve)

    def walk(self, hz: float) -> Floats:
        """Return smooth random ticks, normal around 0, that change about ``hz`` times a second."""
        knots = self.rng.standard_normal(int(self.ticks[-1] * hz) + 3)
        return np.interp(self.ticks * hz + self.rng.random(), np.arange(len(knots)), knots)

    def lfo(self, hz: float | Floats, *shapes: str) -> Floats:
        """Return a low-frequency curve in ticks, 0 to about 1, with an uneven beat and one of the shapes (or any)."""
        phase = self.rng.random() + np.cumsum(hz * np.exp(self.span(0.02, 0.6) * self.walk(2.0))) / _TICK_HZ
        beat, part = phase.astype(np.intp), phase % 1.0
        heights = self.rng.random(int(beat[-1]) + 1)[beat]
        power, duty = self.span(0.5, 4.0), self.rng.uniform(0.15, 0.7)
        curves = {
            "sine": 0.5 + 0.5 * np.sin(2.0 * np.pi * phase),
            "fall": (1.0 - part) ** power,
            "rise": part**power * np.minimum(1.0, 8.0 * (1.0 - part)),
            "gate": np.clip((duty - part) * 20.0, 0.0, 1.0) * np.clip(part * 20.0, 0.0, 1.0),
            "random gate": np.convolve(heights < duty, np.ones(4) / 4.0, mode="same"),
            "hold": np.convolve(heights, np.ones(4) / 4.0, mode="same"),
            "pulses": heights * np.minimum(part * 12.0, 1.0) * (1.0 - part) ** power,
        }
        return curves[self.pick(*(shapes or curves))]

    def restless(self, depth: float) -> Floats:
        """Return an envelope like one followed from another noise: two speeds of log-normal swing."""
        both = self.walk(self.span(0.3, 4.0)) + self.walk(self.span(5.0, 80.0))
        return np.asarray(np.exp(0.7 * depth * both), dtype=np.float64)

    def noise(self, low_hz: float, high_hz: float, low_order: float = 2.0, high_order: float = 2.0) -> Floats:
        """Return noise of unit rms between two edges, falling 6 dB/octave an order, with bumps by chance."""
        f = np.maximum(np.fft.rfftfreq(self.n, 1.0 / self.rate), 1.0)
        shape = 1.0 / (1.0 + (low_hz / f) ** low_order + (f / high_hz) ** high_order)
        for _ in range(int(self.rng.integers(0, 4)) if self.chance(0.5) else 0):
            centre, width = self.span(low_hz, high_hz * 1.01), self.span(0.04, 0.4)
            shape *= 1.0 + self.span(0.5, 4.0) / (1.0 + ((f / centre - 1.0) / width) ** 2)
        spectrum = shape * (self.rng.standard_normal(len(f)) + 1j * self.rng.standard_normal(len(f)))
        return _unit(np.fft.irfft(spectrum, self.n))

    def formant(self, centre_hz: Floats, width_hz: float) -> Floats:
        """Return a band of noise whose centre follows a curve of ticks: slow complex noise on a moving carrier."""
        phase = 2.0 * np.pi * np.cumsum(self.up(np.clip(centre_hz, 20.0, 0.45 * self.rate))) / self.rate
        knots = self.rng.standard_normal((2, int(self.ticks[-1] * width_hz) + 3))
        at, where = self.seconds * width_hz, np.arange(knots.shape[1])
        parts = np.interp(at, where, knots[0]) * np.cos(phase), np.interp(at, where, knots[1]) * np.sin(phase)
        return np.asarray(parts[0] - parts[1], dtype=np.float64)

    def tone(self, hz: Floats) -> Floats:
        turns = np.cumsum(np.clip(hz, 20.0, 0.45 * self.rate)) / self.rate
        return np.asarray(np.sin(2.0 * np.pi * turns), dtype=np.float64)

    def times(self, rate_hz: float | Floats, evenness: float) -> Floats:
        """Return event times in seconds while driven: gamma gaps, from clustered (below 1) to even (large)."""
        due = np.cumsum(rate_hz * self.push) / _TICK_HZ
        count = int(due[-1] * 1.1 + 6.0 * np.sqrt(due[-1] / evenness + 1.0)) + 4
        at: Floats = np.cumsum(self.rng.gamma(evenness, 1.0 / evenness, count)) - self.rng.random()
        return np.asarray(np.interp(at[(at > 0.0) & (at < due[-1])], due, self.ticks), dtype=np.float64)

    def heights(self, count: int, spread: float) -> Floats:
        """Return log-normal event heights, of both signs as bubbles and hits are."""
        sizes = spread * np.clip(self.rng.standard_normal(count), -2.5, 2.0)
        return np.asarray(np.exp(sizes) * self.rng.choice([-1.0, 1.0], count), dtype=np.float64)

    def bank(self, shape: str, pitch: _Span, length_s: Floats) -> Floats:
        """Return one grain a row: a decaying sine chirp or a burst of noise, ended by its length."""
        t = np.arange(int(length_s.max() * self.rate) + 2) / self.rate
        part = t / length_s[:, None]
        hz = np.exp(self.rng.uniform(np.log(pitch[0]), np.log(min(pitch[1], 0.4 * self.rate)), len(part)))[:, None]
        env = np.minimum(part / self.span(0.01, 0.3), 1) * np.exp(-self.span(1.0, 6.0) * part) * (1 - part).clip(0)
        bend = self.rng.uniform(-0.4, 1.0) * self.rng.random(len(part))[:, None]
        turns = hz * t * (1.0 + 0.5 * bend * np.minimum(part, 1.0))
        if shape == "noise":
            # A carrier whose phase walks at random is a band of noise around its pitch and needs no filter.
            stride = np.sqrt(self.span(0.01, 0.1) * hz / self.rate)
            turns = turns + np.cumsum(stride * self.rng.standard_normal(turns.shape), axis=1)
        return np.asarray(env * np.sin(2.0 * np.pi * turns), dtype=np.float64)

    def grains(self, at_s: Floats, pitch: _Span, length_s: _Span, shape: str = "chirp", spread: float = 0.6) -> Floats:
        """Return grains thrown at the times, each a random one of a bank; lengths in four groups to save padding."""
        lengths = np.sort(np.exp(self.rng.uniform(np.log(length_s[0]), np.log(length_s[1]), _SHAPES))).reshape(4, -1)
        most = int(_OVERLAP * self.ticks[-1] / float(lengths.mean())) + 1
        at_s = at_s if len(at_s) <= most else self.rng.choice(at_s, most, replace=False)
        group, heights, out = self.rng.integers(4, size=len(at_s)), self.heights(len(at_s), spread), np.zeros(self.n)
        for g in range(4):
            bank, mine = self.bank(shape, pitch, lengths[g]), group == g
            first = (at_s[mine] * self.rate).astype(np.intp)
            values = bank[self.rng.integers(len(bank), size=len(first))] * heights[mine][:, None]
            index = first[:, None] + np.arange(bank.shape[1])
            out += np.bincount(index.ravel(), values.ravel(), minlength=self.n)[: self.n]
        return out

    def hits(self, at_s: Floats, spread: float) -> Floats:
        index = np.minimum((at_s * self.rate).astype(np.intp), self.n - 1)
        return np.bincount(index, self.heights(len(at_s), spread), minlength=self.n).astype(np.float64)

    def resonate(self, x: Floats, pitch: _Span, q: _Span, count: int = 2) -> Floats:
        from scipy.signal import iirpeak, lfilter

        out = np.zeros(self.n)
        for _ in range(count):
            b, a = iirpeak(min(self.span(*pitch), 0.42 * self.rate), self.span(*q), fs=self.rate)
            out += self.span(0.3, 1.0) * _unit(np.asarray(lfilter(b, a, x), dtype=np.float64))
        return out

    def bands(self, edges: _Span, depth: float) -> Floats:
        tilt, out = self.rng.uniform(-0.6, 0.1), np.zeros(self.n)
        grid = np.geomspace(edges[0], edges[1], int(self.rng.integers(3, 6)))
        for low, high in zip(grid[:-1].tolist(), grid[1:].tolist(), strict=True):
            out += self.noise(low, high, 4.0, 4.0) * self.up(self.restless(depth)) * (low / edges[0]) ** tilt
        return out

    def rasp(self, hz: float | Floats) -> Floats:
        """Return the buzz of lips of water: a noisy pulse curve at the sample rate, ``hz`` pulses a second."""
        uneven = np.exp(self.span(0.05, 0.5) * self.walk(self.span(10.0, 60.0)))
        turns = np.cumsum(self.up(hz * uneven)) / self.rate
        return np.asarray((0.5 + 0.5 * np.cos(2.0 * np.pi * turns)) ** self.span(1.0, 6.0), dtype=np.float64)

    def fm_noise(self, centre: float, index: float, speed_hz: float) -> Floats:
        """Return a sine whose pitch is thrown about by noise: a band without the even hiss of filtered noise."""
        speed = min(speed_hz, 0.4 * self.rate)
        knots = self.rng.standard_normal(int(self.ticks[-1] * speed) + 3)
        wild = np.interp(self.seconds * speed, np.arange(len(knots)), knots)
        return self.tone(centre * (1.0 + index * wild))

    def partials(self, base_hz: float, count: int) -> Floats:
        """Return harmonics with a random fall and gaps; all share one drift so that they stay harmonic."""
        drift = np.cumsum(self.up(base_hz * (1.0 + self.span(1e-5, 2e-3) * self.walk(0.5)))) / self.rate
        fall, out = self.rng.uniform(0.3, 2.2), np.zeros(self.n)
        for k in range(1, count + 1):
            if k == 1 or (self.chance(0.75) and k * base_hz < 0.42 * self.rate):
                out += self.span(0.3, 1.5) * k**-fall * np.sin(2.0 * np.pi * (k * drift + self.rng.random()))
        return out

    def coloured(self, x: Floats) -> Floats:
        """Return the sound through an equaliser drawn by chance: a tilt and a few bumps and dips."""
        octaves = np.log2(np.maximum(np.fft.rfftfreq(self.n, 1.0 / self.rate), 20.0) / 1000.0)
        curve_db = self.rng.uniform(-1.5, 1.0) * octaves
        for _ in range(int(self.rng.integers(1, 5))):
            away = (octaves - self.rng.uniform(-4.0, 3.0)) / self.span(0.1, 1.2)
            curve_db += self.rng.normal(0.0, 4.0) * np.exp(-(away**2))
        return np.fft.irfft(np.fft.rfft(x) * 10.0 ** (curve_db / 20.0), self.n)


def _gurgle(d: _Draw, way: int) -> Floats:
    low, beat, span = d.span(80.0, 350.0), d.span(2.0, 13.0), d.span(1.3, 4.0)
    if way == 0:  # trains of bubble chirps
        at = d.times(d.span(4.0, 40.0) * (0.2 + d.lfo(d.span(0.3, 3.0))), d.span(0.6, 8.0))
        return d.grains(at, (low, low * span), (d.span(0.02, 0.08), d.span(0.1, 0.25)))
    if way == 1:  # a gated, swept formant
        centre = d.span(130.0, 600.0) * 2.0 ** (d.span(0.3, 1.6) * (d.lfo(beat) - 0.5))
        return d.formant(centre, d.span(20.0, 250.0)) * d.up(0.03 + d.lfo(beat))
    if way == 2:  # a pipe knocked at random
        at = d.times(d.span(4.0, 25.0) * (0.3 + d.lfo(d.span(0.4, 2.5))), d.span(0.6, 5.0))
        return d.resonate(d.hits(at, d.span(0.2, 1.0)), (110.0, 900.0), (4.0, 30.0), int(d.rng.integers(2, 5)))
    if way == 3:  # an oscillator that bloops
        pitch = d.span(100.0, 500.0) * 2.0 ** (0.8 * d.walk(beat) + d.span(0.1, 1.0) * d.lfo(beat, "rise"))
        return d.tone(d.up(pitch)) * d.up(d.lfo(beat, "pulses", "rise", "random gate"))
    return d.noise(low, low * span, 4.0, 4.0) * d.up(d.span(0.01, 0.3) + d.lfo(beat))


def _gulp(d: _Draw) -> Floats:
    """Return the envelope within a bout: swell, gulps and often a last gasp."""
    gulps = 1.0 if d.chance(0.25) else d.span(0.02, 0.5) + d.lfo(d.span(1.2, 10.0))
    gasp = d.span(0.5, 3.0) * np.exp(-(((d.place - d.rng.uniform(0.8, 0.97)) / d.span(0.03, 0.12)) ** 2))
    return (0.1 + d.place) ** d.rng.uniform(-0.8, 1.5) * gulps + (gasp if d.chance(0.6) else 0.0)


def _slurp(d: _Draw, way: int) -> Floats:
    low, slide = d.span(180.0, 1200.0), 2.0 ** (d.rng.uniform(-1.0, 1.0) * d.place)
    if way == 0:  # a straw: noise through rasping lips
        noise = d.noise(low, low * d.span(2.0, 10.0), d.span(1.0, 4.0), d.span(1.0, 4.0))
        return noise * (d.span(0.02, 0.4) + d.rasp(d.span(12.0, 90.0) * slide)) * d.up(_gulp(d))
    if way == 1:  # two formants that rise or fall together
        sweep = 2.0 ** (d.rng.uniform(-1.0, 2.0) * d.place + d.span(0.1, 1.0) * d.lfo(d.span(1.5, 9.0)))
        pair = [d.formant(low * ratio * sweep, d.span(80.0, 900.0)) for ratio in (1.0, d.rng.uniform(1.7, 3.5))]
        return (pair[0] + pair[1]) * d.up(_gulp(d)) * (d.rasp(d.span(15.0, 110.0)) if d.chance(0.5) else 1.0)
    if way == 2:  # impulses through resonators
        at = d.times(d.span(18.0, 120.0) * slide, d.span(3.0, 60.0))
        return d.resonate(d.hits(at, d.span(0.1, 0.8)), (250.0, 3500.0), (2.5, 12.0), 3) * d.up(_gulp(d))
    at = d.times(d.span(25.0, 300.0) * np.clip(_gulp(d), 0.0, 3.0), d.span(0.5, 2.0))
    lengths, shape = (d.span(0.008, 0.03), d.span(0.04, 0.2)), d.pick("noise", "noise", "chirp")
    return d.grains(at, (low, low * d.span(2.0, 6.0)), lengths, shape=shape)


def _trickle(d: _Draw, way: int) -> Floats:
    low = d.span(1000.0, 3500.0)
    if way == 0:  # a crackling band
        swing = np.abs(d.fm_noise(d.span(20.0, 150.0), 0.8, d.span(50.0, 500.0))) ** d.span(1.0, 6.0)
        return d.noise(low, low * d.span(1.5, 4.0), 4.0, 3.0) * (d.span(0.02, 0.6) + swing)
    if way == 1:  # dust through resonators
        dust = d.hits(d.times(d.span(30.0, 2500.0), 1.0), d.span(0.3, 1.2))
        return d.resonate(dust, (1200.0, 7000.0), (3.0, 40.0), int(d.rng.integers(2, 7)))
    if way == 2:  # oscillators that hop and blip
        pitch = [d.span(1200.0, 2500.0) * 2.0 ** (d.span(0.8, 2.0) * d.lfo(d.span(10.0, 70.0), "hold")) for _ in "123"]
        return sum((d.tone(d.up(p)) * d.up(d.lfo(d.span(10.0, 70.0), "pulses")) for p in pitch), np.zeros(d.n))
    at = d.times(d.span(40.0, 1800.0) * d.restless(d.span(0.02, 0.4)), d.span(0.6, 2.0))
    lengths, shape = (d.span(0.001, 0.004), d.span(0.005, 0.03)), d.pick("chirp", "chirp", "noise")
    return d.grains(at, (low, low * d.span(1.4, 4.0)), lengths, shape=shape, spread=d.span(0.2, 1.2))


def _splash(d: _Draw, way: int) -> Floats:
    noise = d.noise(d.span(80.0, 700.0), d.span(900.0, 7000.0), d.span(0.8, 3.0), d.span(1.0, 3.0))
    noise *= d.up(d.restless(d.span(0.15, 0.8)))
    if way == 0:  # noise that is torn band by band
        return d.bands((d.span(150.0, 500.0), d.span(3000.0, 9000.0)), d.span(0.2, 0.9)) + 0.2 * noise
    if way == 1:
        return noise
    at = d.times(d.span(8.0, 200.0) * d.restless(d.span(0.2, 0.9)), d.span(0.5, 2.0))
    low, shape = d.span(250.0, 1200.0), "noise" if way == 2 else "chirp"  # slaps or bubbles
    lengths = (0.015, d.span(0.05, 0.2)) if way == 2 else (d.span(0.004, 0.01), d.span(0.02, 0.08))
    return _unit(d.grains(at, (low, low * d.span(2.0, 6.0)), lengths, shape=shape)) + d.span(0.1, 1.5) * noise


def _roar(d: _Draw, way: int) -> Floats:
    noise = d.noise(d.span(25.0, 130.0), d.span(120.0, 900.0), d.span(1.0, 4.0), d.span(1.2, 2.5))
    noise *= d.up(d.restless(d.span(0.03, 0.35)))
    if way == 0:
        return d.bands((d.span(40.0, 120.0), d.span(700.0, 2200.0)), d.span(0.05, 0.4))
    if way == 1:  # tumbling lumps of water
        low, lengths, shape = d.span(70.0, 250.0), (0.02, d.span(0.06, 0.2)), d.pick("noise", "chirp")
        lumps = d.grains(d.times(d.span(40.0, 300.0), 1.0), (low, low * d.span(2.0, 6.0)), lengths, shape=shape)
        return _unit(lumps) + d.span(0.3, 2.0) * noise
    if way == 2:  # a sounding pipe
        wild = _unit(d.fm_noise(d.span(90.0, 350.0), d.span(0.4, 1.2), d.span(200.0, 1200.0)))
        return d.resonate(wild + noise, (70.0, 900.0), (1.0, 8.0), 4) + d.span(0.2, 1.5) * noise
    return noise


def _hiss(d: _Draw, way: int) -> Floats:
    low = d.span(1500.0, 5500.0)
    air = d.noise(low, low * d.span(1.1, 5.0), d.span(1.2, 4.0), d.span(0.6, 4.0))
    air *= d.up(np.exp(d.span(0.01, 0.15) * d.walk(d.span(0.3, 12.0))))
    if way == 0:  # random steps, brightened by a difference
        steps = np.asarray(d.rng.integers(-1, 2, d.n), dtype=np.float64)
        return _unit(np.diff(steps, prepend=0.0)) + d.span(0.1, 2.0) * air
    if way == 1:  # a whistle in the tap
        drift = np.exp(d.span(0.003, 0.08) * d.walk(d.span(0.3, 5.0)))
        return d.span(0.15, 1.0) * _unit(d.formant(d.span(1500.0, 6000.0) * drift, d.span(60.0, 1500.0))) + air
    return air if way == 2 else _unit(d.fm_noise(d.span(2500.0, 6000.0), d.span(0.25, 0.6), 7000.0)) + 0.5 * air


def _flush(d: _Draw, way: int) -> Floats:
    low = d.span(100.0, 500.0)
    rush = _roar(d, int(d.rng.integers(4)))
    if way == 0:
        rush = d.noise(d.span(50.0, 250.0), d.span(400.0, 3000.0), 2.0, d.span(1.0, 2.5)) * d.up(d.restless(0.3))
    elif way == 1:  # a formant that rises
        rush = _unit(d.formant(low * 2.0 ** (d.rng.uniform(-1.0, 2.0) * d.place), d.span(100.0, 700.0))) + 0.5 * rush
    elif way == 2:  # grains that thicken
        at = d.times(d.span(40.0, 250.0) * (0.05 + d.place) ** d.span(0.5, 2.0), d.span(0.6, 2.0))
        lumps = d.grains(at, (low, low * d.span(2.0, 6.0)), (0.015, d.span(0.05, 0.2)), shape=d.pick("noise", "chirp"))
        rush = _unit(lumps) + d.span(0.05, 0.7) * _unit(rush)
    rise = (0.03 + np.minimum(d.place / d.rng.uniform(0.15, 0.95), 1.0)) ** d.span(0.4, 3.0)
    fall = 1.0 / (1.0 + np.exp(np.clip(-d.left / d.span(0.02, 0.15), -50.0, 50.0)))
    gasp = np.exp(-(((d.left - d.rng.uniform(-0.5, 0.2)) / d.span(0.1, 0.4)) ** 2)) * d.span(0.2, 2.5)
    air = d.noise(d.span(200.0, 900.0), d.span(1200.0, 5000.0)) * (d.span(0.05, 0.5) + d.rasp(d.span(12.0, 70.0)))
    return _unit(rush) * d.up(rise * fall) + _unit(air) * d.up(gasp)


def _hum(d: _Draw, way: int) -> Floats:
    base, count = 2.0 * d.mains_hz, int(d.rng.integers(1, 8))
    if way == 0:  # two pumps that beat
        return d.partials(base, count) + d.span(0.3, 1.0) * d.partials(base - d.span(0.1, 6.0), count)
    if way == 1:  # a bent sine in a cabinet
        bent = np.tanh(d.span(0.5, 6.0) * d.partials(base, 1) + d.rng.uniform(-1.0, 1.0))
        return d.resonate(bent - bent.mean(), (90.0, 900.0), (1.0, 6.0), 3) + d.span(0.02, 0.3) * d.noise(40.0, 300.0)
    mains = d.partials(base / int(d.rng.integers(1, 3)), count)
    if way == 2:
        return mains
    turn = d.mains_hz if d.chance(0.4) else d.span(18.0, 75.0)  # shaft and blades
    blades = d.partials(turn * int(d.rng.integers(3, 9)), int(d.rng.integers(1, 4)))
    return (blades + d.span(0.1, 1.0) * mains) * (1.0 + d.span(0.02, 0.6) * d.partials(turn, 1))


def _rattle(d: _Draw, way: int) -> Floats:
    turn = d.span(4.0, 30.0) if d.chance(0.6) else d.mains_hz / int(d.rng.integers(1, 5))
    low = d.span(400.0, 2200.0)
    if way == 0:  # knocks of one loose part: all push the same way, some are missed
        at = d.times(turn, d.span(20.0, 3000.0))
        knocks = np.abs(d.hits(at[d.rng.random(len(at)) < d.rng.uniform(0.6, 1.0)], d.span(0.05, 0.6)))
        return d.resonate(knocks, (300.0, 5000.0), (3.0, 40.0), int(d.rng.integers(2, 6)))
    if way == 1:  # chatter
        at, pitch, shape = d.times(turn, d.span(5.0, 500.0)), (low, low * d.span(1.2, 3.0)), d.pick("noise", "chirp")
        return d.grains(at, pitch, (0.003, d.span(0.008, 0.04)), shape=shape, spread=d.span(0.05, 0.7))
    if way == 2:  # a panel touched at the crests of the mains hum
        push = d.partials(d.mains_hz * int(d.rng.integers(1, 3)), 2) * d.up(0.5 + d.lfo(d.span(0.5, 12.0)))
        touch = np.maximum(_unit(push) - d.rng.uniform(0.3, 1.2), 0.0)
        buzz = d.span(0.01, 0.5) * _unit(touch) * d.noise(800.0, 5000.0)
        return d.resonate(np.diff(touch, 2, prepend=[0.0, 0.0]), (300.0, 4000.0), (2.0, 15.0), 4) + buzz
    return d.noise(low, low * d.span(1.5, 5.0)) * (d.span(0.01, 0.3) + d.rasp(turn))


# Each kind's patches and how many of them there are.
_PATCHES: dict[SoundKind, tuple[Callable[[_Draw, int], Floats], int]] = {
    "gurgle": (_gurgle, 5), "slurp": (_slurp, 4), "trickle": (_trickle, 4), "splash": (_splash, 4), "hiss": (_hiss, 4),
    "flush": (_flush, 4), "roar": (_roar, 4), "hum": (_hum, 4), "rattle": (_rattle, 4),
}


def sound(kind: SoundKind, rng: np.random.Generator, sample_rate: int, drive: Floats, mains_hz: float) -> Floats:
    """Return a new draw of the kind, at no level: shape (len(drive) * step,), 0 where never driven."""
    curve = checked_drive(drive)
    if not curve.any():
        return np.zeros(len(curve) * step_samples(sample_rate))
    patch, ways = _PATCHES[kind]
    tail_s = rng.uniform(0.5, 1.0) if kind == "flush" else rng.uniform(0.03, 0.45)
    draw, order = _Draw(rng, sample_rate, curve, mains_hz, tail_s), rng.permutation(ways).tolist()
    out = _unit(patch(draw, order[0]))
    if draw.chance(0.35):  # two patches laid over each other
        out = out + draw.span(0.2, 1.0) * _unit(patch(draw, order[1]))
    out = draw.coloured(out) if draw.chance(0.5) else out
    return draw.gain * (np.tanh(draw.span(0.3, 1.5) * _unit(out)) if draw.chance(0.15) else out)
