"""Small unruly dynamics at a control rate, and the oscillators and filters that they steer.

A ``Course`` holds one drive. Its dynamics (walks, vessels that fill and spill, self-exciting events, an excitable
air core, switches) run at 500 points a second; its voices turn them into sound: notes that cut each other off, noise
bent by a curve, combs, band-passes that move from block to block. Spans are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy import fft, signal

from tuner.rehearsal.voices.control import checked_drive, step_samples
from tuner.training.makes.draws import Drawn, stretches

Floats = NDArray[np.float64]
_POINTS_PER_S = 500
_LOUDER = 0.7  # amplitude grows with the drive to this power
_TAIL_S = 0.42  # longest ring after the drive ends


def unit(x: Floats) -> Floats:
    """Return the signal at unit power over its samples that are not 0."""
    power = float(np.sum(x**2)) / max(1, int(np.count_nonzero(x)))
    out: Floats = x / np.sqrt(power) if power > 0.0 else x
    return out


class Course(Drawn):
    """One drive on its control grid, the dynamics that run along it and the voices that they steer."""

    def __init__(self, rng: np.random.Generator, sample_rate: int, drive: Floats, mains_hz: float) -> None:
        self.rng, self.rate, self.mains_hz = rng, sample_rate, mains_hz
        drive = checked_drive(drive)
        step = step_samples(sample_rate)
        self.n = drive.size * step
        self.hop = max(1, sample_rate // _POINTS_PER_S)
        self.points = -(-self.n // self.hop) + 1
        self.per_s = sample_rate / self.hop
        self.t = np.arange(self.points) / self.per_s
        at = np.minimum(np.arange(self.points) * self.hop // step, drive.size - 1)
        held = drive[at]
        held[np.arange(self.points) * self.hop >= self.n] = 0.0
        self.on = held > 0.0
        self.bouts = stretches(self.on)
        self.share, self.left_s = np.zeros(self.points), np.zeros(self.points)
        for a, b in self.bouts:
            self.share[a:b] = (np.arange(b - a) + 0.5) / (b - a)
            self.left_s[a:b] = (b - np.arange(a, b)) / self.per_s
        last = np.maximum.accumulate(np.where(self.on, np.arange(self.points), -(10**9)))
        self.after_s = (np.arange(self.points) - last) / self.per_s
        self.drive = held
        self.level = self.slowed(held**_LOUDER, self.log(0.006, 0.06)) * self.fade(self.log(0.02, _TAIL_S))

    # dynamics, at the control rate

    def fade(self, tail_s: float) -> Floats:
        """Return 1 while driven, falling to 0 over the tail, 0 elsewhere."""
        out: Floats = np.clip(1.0 - self.after_s / tail_s, 0.0, 1.0)
        return out

    def slowed(self, x: Floats, lag_s: float) -> Floats:
        """Return the curve as it comes out of a first-order lag."""
        keep = np.exp(-1.0 / (lag_s * self.per_s))
        out: Floats = signal.lfilter([1.0 - keep], [1.0, -keep], x)
        return out

    def walk(self, corner_hz: float, order: int = 1) -> Floats:
        """Return a random walk tied to 0 (Ornstein and Uhlenbeck) of about unit deviation."""
        keep = float(np.exp(-2.0 * np.pi * min(corner_hz, 0.3 * self.per_s) / self.per_s))
        burn = min(20_000, int(4.0 / (1.0 - keep)))
        x = self.rng.standard_normal(self.points + burn)
        a = [1.0, -keep] if order == 1 else [1.0, -2.0 * keep, keep**2]
        gain = np.sqrt(1.0 - keep**2) if order == 1 else np.sqrt((1.0 - keep**2) ** 3 / (1.0 + keep**2))
        out: Floats = signal.lfilter([gain], a, x)[burn:]
        return out

    def sway(self, corner_hz: float, depth: float) -> Floats:
        """Return a gain about 1 that walks (log-normal, ``depth`` nepers)."""
        out: Floats = np.exp(depth * self.walk(corner_hz) - depth**2)
        return out

    def orbit(self, count: int) -> Floats:
        """Return deviates in turn: by chance, or of the logistic map, which is periodic, alternates or is chaotic."""
        if self.chance(0.4):
            return self.rng.standard_normal(count)
        growth, x = self.flat(3.3, 4.0), self.flat(0.2, 0.8)
        out = np.empty(count)
        for k in range(count):
            x = growth * x * (1.0 - x)
            out[k] = x
        return (out - 0.6) / 0.3 + 0.3 * self.rng.standard_normal(count)

    def spills(self, rate_hz: Floats, unevenness: float) -> tuple[Floats, Floats]:
        """Return times and sizes of the spills of a vessel that fills: each spills at a threshold of its own."""
        inflow = np.cumsum(np.maximum(rate_hz, 0.0) * self.on) / self.per_s
        count = int(inflow[-1] * 1.3) + 8
        sizes = np.exp(np.clip(unevenness * self.orbit(count), -2.5, 2.5))
        sizes /= max(1.0, sizes.mean()) if count > 20 else 1.0
        marks = np.cumsum(sizes) - sizes[0] * self.flat(0.6, 1.0)
        keep = marks < inflow[-1]
        return np.interp(marks[keep], inflow, self.t), sizes[keep]

    def unrested(self, times: Floats, longest_s: float) -> Floats:
        """Return the times with more put in where the drive is on and they would rest for longer."""
        more = []
        for a, b in self.bouts:
            begin, end = self.t[a], self.t[min(b, self.points - 1)]
            marks = np.concatenate([[begin], times[(times >= begin) & (times < end)], [end]])
            for at in np.flatnonzero(np.diff(marks) > longest_s):
                parts = int((marks[at + 1] - marks[at]) / (0.75 * longest_s)) + 1
                more.append(marks[at] + (np.arange(1, parts) / parts) * (marks[at + 1] - marks[at]))
        out: Floats = np.sort(np.concatenate([times, *more])) if more else times
        return out

    def excited(self, rate_hz: Floats, branching: float, delay_s: float) -> Floats:
        """Return times of a self-exciting process (Hawkes): each event brings ``branching`` more, a little later."""
        births = self.rng.poisson(np.maximum(rate_hz, 0.0) * self.on * (1.0 - branching) / self.per_s)
        young = np.repeat(self.t, births) + self.rng.random(int(births.sum())) / self.per_s
        every = [young]
        for _ in range(12):
            young = np.repeat(young, self.rng.poisson(branching, young.size))
            if not young.size:
                break
            young = young + self.rng.exponential(delay_s, young.size)
            every.append(young)
        times = np.sort(np.concatenate(every))
        out: Floats = times[times < self.n / self.rate]
        return out[self.after_s[self.index(out)] < _TAIL_S]

    def switch(self, on_s: float, off_s: float, evenness: float) -> Floats:
        """Return 1 and 0 by turns, for random times of about these means; every bout begins with 1, no rest is long."""
        out = np.zeros(self.points)
        for a, b in self.bouts:
            at = a
            while at < b:
                end = at + max(1, int(self.per_s * on_s * self.rng.gamma(evenness) / evenness))
                out[at:min(b, end)] = 1.0
                at = end + int(self.per_s * min(1.4, off_s * self.rng.gamma(evenness) / evenness))
        return out

    def core(self, current: Floats, per_s: float, noise: float) -> Floats:
        """Return how far an air core is open, 0 to 1: an excitable system (FitzHugh and Nagumo) under a current.

        Below about 0.3 it opens only by chance, up to about 1.4 it opens and collapses by turns, above it stays open.
        """
        dt = min(0.4, 37.0 * per_s / self.per_s)  # one turn takes about 37 of its own units of time
        kicks = noise * np.sqrt(dt) * self.rng.standard_normal(self.points)
        pushes, held = (current * dt + kicks).tolist(), np.zeros(self.points)
        for a, b in self.bouts:
            v, w = -0.5, -0.3
            b = min(self.points, b + int(2.0 * self.per_s))
            for k in range(a, b):
                v = min(3.0, max(-3.0, v + dt * (v - v * v * v / 3.0 - w) + pushes[k]))
                w += 0.08 * dt * (v + 0.7 - 0.8 * w)
                held[k] = v
            held[a:b] = np.clip((held[a:b] + 1.1) / 2.9, 0.0, 1.0)
        return held

    def lifted(self, times: Floats, strengths: Floats, rise_s: float, fall_s: float) -> Floats:
        """Return a curve that each event lifts and that sinks again."""
        blows = np.zeros(self.points)
        np.add.at(blows, self.index(times), strengths)
        sunk = self.slowed(self.slowed(blows, fall_s), rise_s)
        return sunk * self.per_s * fall_s

    def index(self, times: Floats) -> NDArray[np.int64]:
        """Return the grid point at or before each time."""
        return np.clip((times * self.per_s).astype(np.int64), 0, self.points - 1)

    # voices, at the sample rate

    def up(self, curve: Floats) -> Floats:
        """Return a curve of the grid at every sample, with straight lines between its points."""
        ramp = np.arange(self.hop) / self.hop
        out: Floats = (curve[:-1, None] + np.diff(curve)[:, None] * ramp).ravel()[: self.n]
        return out

    def white(self) -> Floats:
        """Return white noise."""
        return self.rng.standard_normal(self.n, dtype=np.float32).astype(np.float64)

    def notes(self, times: Floats, hz: Floats, gains: Floats, cycles: float, rise: float, index: float,
              ratio: float) -> Floats:
        """Return one voice that starts a frequency-modulated note at each time and drops the one before it.

        ``cycles`` is the decay time in periods, ``rise`` the share by which the pitch rises over it.
        """
        starts, first = np.unique((times * self.rate).astype(np.int64), return_index=True)
        starts, first = starts[starts < self.n], first[starts < self.n]
        out = np.zeros(self.n)
        if not starts.size:
            return out
        lengths = np.diff(np.append(starts, self.n))
        lengths = np.minimum(lengths, int(0.4 * self.rate))
        which = np.repeat(np.arange(starts.size), lengths)
        since = np.arange(which.size) - np.repeat(np.cumsum(lengths) - lengths, lengths)
        tau = (since / self.rate).astype(np.float32)
        pitch = np.minimum(hz[first], 0.42 * self.rate / (1.0 + rise)).astype(np.float32)
        decay = (cycles / pitch).astype(np.float32)[which]
        sunk = np.exp(-tau / decay)
        phase = np.float32(2.0 * np.pi) * pitch[which] * (tau + np.float32(rise) * (tau - decay * (1.0 - sunk)))
        if index > 0.0:
            phase += np.float32(index) * sunk * np.sin(np.float32(ratio) * phase)
        edge = np.float32(max(1.0, 0.0015 * self.rate))  # the note before is led out, not cut
        led = np.minimum(1.0, np.minimum(since, np.repeat(lengths, lengths) - since) / edge)
        where = np.repeat(starts, lengths) + since
        out[where] = gains[first].astype(np.float32)[which] * sunk * np.sin(phase) * led
        return out

    def crowd(self, times: Floats, hz: Floats, gains: Floats, voices: int, cycles: tuple[float, float],
              rise: float = 0.0, index: float = 0.0) -> Floats:
        """Return notes dealt out to some voices, each with its own decay and modulation."""
        owner = self.rng.integers(voices, size=times.size)
        out = np.zeros(self.n)
        for k in range(voices):
            mine = owner == k
            out += self.notes(times[mine], hz[mine], gains[mine], self.log(*cycles), rise * self.flat(0.0, 1.5),
                              index * self.flat(0.0, 1.5), self.flat(0.5, 3.0))
        return out

    def moving(self, x: Floats, formants: Sequence[tuple[Floats | float, float, float]], floor: float = 0.0) -> Floats:
        """Return the signal through band-passes (centre in Hz, quality, gain) that move from block to block."""
        hop = 1 << int(np.log2(0.014 * self.rate))
        size = 2 * hop
        count = self.n // hop + 2
        count += count % 2
        window = np.sqrt(signal.windows.hann(size, sym=False)).astype(np.float32)
        padded = np.zeros((count + 1) * hop, dtype=np.float32)
        padded[hop : hop + self.n] = x
        blocks = np.lib.stride_tricks.sliding_window_view(padded, size)[::hop][:count] * window
        spectra = fft.rfft(blocks, axis=1)
        hz = np.maximum(1.0, np.arange(hop + 1) * self.rate / size).astype(np.float32)
        at = np.clip(((np.arange(count)) * hop) // self.hop, 0, self.points - 1)
        gains = np.full((1, hop + 1), floor, dtype=np.float32)
        for centre, quality, gain in formants:
            middle = np.atleast_1d(np.asarray(centre, dtype=np.float32))
            middle = np.clip(middle[at] if middle.size > 1 else middle, 30.0, 0.45 * self.rate)[:, None]
            off = np.float32(quality) * (hz / middle - middle / hz)
            gains = gains + np.float32(gain) / np.sqrt(1.0 + off * off)
        done = fft.irfft(spectra * gains, n=size, axis=1) * window
        out = np.zeros((count + 1) * hop)
        out[:-hop] += done[::2].ravel()
        out[hop:] += done[1::2].ravel()
        return out[hop : hop + self.n]

    def banded(self, x: Floats, low_hz: float, high_hz: float, order: int = 1) -> Floats:
        """Return the signal between two corners."""
        high = min(high_hz, 0.45 * self.rate)
        sos = signal.butter(order, [min(low_hz, 0.5 * high), high], "bandpass", fs=self.rate, output="sos")
        out: Floats = signal.sosfilt(sos, x)
        return out

    def comb(self, x: Floats, hz: float, feedback: float) -> Floats:
        """Return the signal with its own past fed back: a pipe's row of resonances."""
        lag = max(2, int(self.rate / hz))
        rows = -(-x.size // lag)
        table = np.zeros(rows * lag)
        table[: x.size] = x
        # every column of the table is one phase of the loop, so the feedback runs down the columns
        out: Floats = signal.lfilter([1.0], [1.0, -feedback], table.reshape(rows, lag), axis=0).ravel()[: x.size]
        return out

    def bent(self, x: Floats) -> Floats:
        """Return the signal bent by a curve: clipped softly, clipped hard, folded, or left alone."""
        way, push = int(self.rng.integers(5)), self.log(0.5, 4.0)
        x = unit(x) * push
        if way == 0:
            return np.tanh(x)
        if way == 1:
            return np.clip(x, -1.0, 1.0)
        if way == 2:
            return np.sin(np.clip(x, -6.0, 6.0))
        return x

    def oscillator(self, hz: Floats) -> Floats:
        """Return the phase (turns) of an oscillator of that frequency."""
        out: Floats = np.cumsum(self.up(hz)) / self.rate + self.rng.random()
        return out

    def rasp(self, hz: Floats, sharp: float, shimmer: float) -> Floats:
        """Return pulses with a steep rise, at that rate, each of its own height; about 1 in the mean square."""
        phase = self.oscillator(np.minimum(hz, 0.2 * self.rate))
        turn = phase.astype(np.int64)
        heights = np.exp(shimmer * self.rng.standard_normal(int(turn[-1]) + 2))
        back = phase - turn
        pulses = np.minimum(1.0, back * 12.0) * (1.0 - back) ** sharp * heights[turn]
        out: Floats = pulses / np.sqrt(np.mean(pulses**2) + 1e-12)
        return out

    def mixed(self, main: Floats, *beds: tuple[float, float, Floats]) -> Floats:
        """Return the main sound with others beside it, each at a level drawn between two (dB)."""
        out = unit(main)
        for low_db, high_db, bed in beds:
            out = out + 10.0 ** (self.flat(low_db, high_db) / 20.0) * unit(bed)
        return out

    def placed(self, x: Floats, tilt_db: float = 7.0, most: int = 3) -> Floats:
        """Return the sound with the colour of its place: a shelf up or down and a few humps or hollows."""
        gain = 10.0 ** (self.flat(-tilt_db, tilt_db) / 20.0)
        keep = float(np.exp(-2.0 * np.pi * self.log(300.0, 2500.0) / self.rate))
        low = signal.lfilter([1.0 - keep], [1.0, -keep], x)
        out: Floats = low + gain * (x - low)
        for _ in range(int(self.rng.integers(0, most + 1))):
            middle, quality = self.log(120.0, min(6000.0, 0.4 * self.rate)), self.log(0.7, 6.0)
            b, a = signal.iirpeak(middle, quality, fs=self.rate)
            out = out + self.flat(-0.7, 1.8) * signal.lfilter(b, a, out)
        return out
