"""Parts of the modal make: small flow models, excitations that follow them, and the resonant bodies that they shake.

A body is an impulse response of unit energy: a sum of decaying modes with a share of the bare blow, or a colour, or
early reflections. An excitation is laid through bodies by block-wise FFT convolution. Spans are common practice, no
source, unless a law is named.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.voices.control import CONTROL_S
from tuner.training.makes.draws import Drawn

Floats = NDArray[np.float64]
Span = tuple[float, float]
Pair = tuple[Floats, Floats]  # an excitation and the body that it shakes

GRID_HZ = 1000  # points of a flow each second: quick enough for a rasp
GROWTH = 0.7  # amplitude grows with the drive to this power
REACH_S = 0.3  # longest impulse response
SOUND_SPEED = 345.0
_STEP_POINTS = round(CONTROL_S * GRID_HZ)
_COLUMNS = 256  # of the matrix as which a mode sum is worked out
_COLOUR_POINTS = 4096
_LONG_BOUT_STEPS = 160


def unit(sound: Floats) -> Floats:
    """Return the sound scaled to an energy of 1."""
    return np.asarray(sound / max(float(np.sqrt(np.sum(sound**2))), 1e-30))


def convolved(pairs: list[Pair]) -> Floats:
    """Return the sum of all excitations, each convolved with its body, as long as the excitations."""
    from scipy.fft import irfft, next_fast_len, rfft

    n, longest = len(pairs[0][0]), max(len(body) for _, body in pairs)
    blocks = max(1, n // (6 * max(longest, 1000)))  # each longer than the bodies, yet small for a cache
    hop = -(-n // blocks)
    size = next_fast_len(hop + longest - 1, real=True)
    total = np.zeros((blocks, size // 2 + 1), dtype=np.complex128)
    for excitation, body in pairs:
        padded = np.zeros(blocks * hop)
        padded[:n] = excitation
        total += rfft(padded.reshape(blocks, hop), size, axis=1) * rfft(body, size)
    frames = irfft(total, size, axis=1)
    frames[1:, : size - hop] += frames[:-1, hop:]
    return np.asarray(frames[:, :hop].ravel()[:n], dtype=np.float64)


@dataclass(frozen=True)
class Draws(Drawn):
    """A generator with the spans in which everything is drawn, for one sample rate."""

    rng: np.random.Generator
    rate: int


class Bodies(Draws):
    """Impulse responses of what hangs, stands and sounds about an overflow."""

    def modes(self, hz: Floats, decay_s: Floats, gains: Floats) -> Floats:
        """Return the impulse response of modes that all start at once."""
        good = (hz > 20.0) & (hz < 0.45 * self.rate)
        if not good.any():
            return self.blow()
        poles = 2j * np.pi * hz[good] - 1.0 / np.minimum(decay_s[good], REACH_S / 4.0)
        length = int(REACH_S * self.rate)
        # exp(a + b) = exp(a) exp(b): a matrix product instead of a sine for each mode and sample
        late = np.exp(np.outer(np.arange(-(-length // _COLUMNS)) * (_COLUMNS / self.rate), poles))
        early = np.exp(np.outer(poles, np.arange(_COLUMNS) / self.rate))
        rung = ((late * gains[good]) @ early).imag.ravel()[:length]
        return unit(rung * np.minimum(1.0, np.linspace(8.0, 0.0, length)))

    def blow(self) -> Floats:
        """Return the body that passes everything as it is."""
        return np.ones(1)

    def mixed(self, wet: Floats, share: Span) -> Floats:
        """Return a body that is also heard past its modes; ``share`` spans the amplitude of the modes to the bare."""
        out = self.log(*share) * wet
        out[0] += 1.0
        return unit(out)

    def through(self, *bodies: Floats) -> Floats:
        """Return bodies one behind the other as one."""
        from scipy.fft import irfft, next_fast_len, rfft

        size = next_fast_len(sum(len(body) for body in bodies), real=True)
        spectrum = np.prod([rfft(body, size) for body in bodies], axis=0)
        length = min(int(REACH_S * self.rate), size)
        return unit(irfft(spectrum, size)[:length] * np.minimum(1.0, np.linspace(8.0, 0.0, length)))

    def pane(self) -> Floats:
        """Glass or acrylic: bending modes of a thin, simply supported plate (Kirchhoff), sunk by the water behind."""
        glass = self.chance(0.7)
        long_m, ratio, thick_m = self.log(0.2, 1.3), self.flat(0.4, 0.95), self.log(0.003, 0.015)
        wave = 5400.0 if glass else 2300.0  # m/s, quasi-longitudinal, from memory
        m, n = (x.ravel() for x in np.meshgrid(np.arange(1, 19), np.arange(1, 19)))
        hz = 0.453 * wave * thick_m * ((m / long_m) ** 2 + (n / (long_m * ratio)) ** 2)
        hz *= self.flat(0.4, 1.0) * self.varied(len(hz), 0.003, 0.03)
        loss = self.log(0.008, 0.05) if glass else self.log(0.03, 0.12)
        x, y = self.flat(0.02, 0.5), self.flat(0.02, 0.5)
        gains = np.sin(np.pi * m * x) * np.sin(np.pi * n * y) * self.rng.standard_normal(len(hz))
        return self.modes(hz, 1.0 / (np.pi * hz * loss), gains * hz ** self.flat(-0.8, 0.2))

    def wall(self) -> Floats:
        """A plastic pipe's wall: ring modes, n(n^2-1)/sqrt(n^2+1) (Hoppe), and its bending as a beam (Euler)."""
        radius_m, long_m = self.log(0.010, 0.055), self.log(0.15, 1.2)
        thick_m, wave = radius_m * self.log(0.06, 0.25), self.flat(1100.0, 1700.0)  # wave: PVC, from memory
        n = np.arange(2, 10)
        rings = wave * thick_m / (21.8 * radius_m**2) * n * (n**2 - 1.0) / np.sqrt(n**2 + 1.0)
        rings = (rings[:, None] * np.sqrt(1.0 + (self.flat(0.05, 0.6) * np.arange(1, 5)) ** 2)).ravel()
        beam = wave * radius_m / (2.83 * np.pi * long_m**2) * ((np.arange(1, 13) + 0.25) * np.pi) ** 2 / np.sqrt(2.0)
        hz = np.concatenate((rings, beam)) * self.flat(0.6, 1.0)
        gains = self.rng.standard_normal(len(hz)) * np.where(np.arange(len(hz)) < len(rings), 1.0, self.log(0.1, 2.0))
        return self.modes(hz, 1.0 / (np.pi * hz * self.log(0.03, 0.2)), gains * hz ** self.flat(-0.7, 0.3))

    def column(self, metres: float, radius_m: float, closed: bool, wet: float) -> Floats:
        """An air column, open or closed at its far end; ``wet`` is how much faster it decays than in a dry pipe.

        Loss at the wall grows with the square root of the frequency (Kirchhoff), at open ends with its square.
        """
        k = np.arange(1, 41)
        order = np.asarray(k - 0.5 if closed else k, dtype=np.float64)
        effective = metres + radius_m * (0.6 if closed else 1.2)
        hz = order * SOUND_SPEED / (2.0 * effective)
        at_wall = SOUND_SPEED * 3e-5 * np.sqrt(hz) / radius_m
        reach = np.minimum(2.0 * np.pi * hz * radius_m / SOUND_SPEED, 1.5) ** 2
        at_ends = reach * SOUND_SPEED / (4.0 * effective) * (1.0 if closed else 2.0)
        return self.modes(hz, 1.0 / (wet * (at_wall + at_ends)), np.asarray((-1.0) ** k * hz**-0.3, dtype=np.float64))

    def any_column(self, metres: Span = (0.06, 1.2)) -> Floats:
        """Return an air column of any make."""
        return self.column(self.log(*metres), self.log(0.008, 0.05), self.chance(0.5), self.log(2.0, 12.0))

    def crate(self, metres: Span) -> Floats:
        """A box of air with a gap under its lid or door: its Helmholtz tone below the modes between its walls."""
        sides = np.array([self.log(*metres) for _ in range(3)])
        orders = np.array([(i, j, k) for i in range(5) for j in range(5) for k in range(5)][1:], dtype=np.float64)
        hz = 0.5 * SOUND_SPEED * np.sqrt(np.sum((orders / sides) ** 2, axis=1))
        gap_m2, neck_m = sides[0] * self.log(0.003, 0.05), self.log(0.01, 0.06)
        mouth = SOUND_SPEED / (2.0 * np.pi) * np.sqrt(gap_m2 / (float(np.prod(sides)) * neck_m))
        hz = np.concatenate(([mouth], hz))
        gains = self.rng.standard_normal(len(hz)) * hz ** self.flat(-0.8, 0.0)
        gains[0] = self.log(0.3, 3.0) * float(np.max(np.abs(gains)))
        quality = self.log(4.0, 30.0) * (hz / hz[0]) ** self.flat(0.0, 0.4)
        return self.modes(hz, quality / (np.pi * hz), gains)

    def housing(self) -> Floats:
        """A pump's housing, a cap or a bracket: a few modes with no law but chance."""
        count = int(self.rng.integers(2, 12))
        low = self.log(150.0, 2500.0)
        hz = low * np.exp(self.rng.random(count) * self.flat(0.8, 3.0))
        return self.modes(hz, self.log(3.0, 30.0) / (np.pi * hz), self.rng.standard_normal(count))

    def reflections(self) -> Floats:
        """Return the bare sound with early reflections and a faint, short after-sound, darker the later."""
        length, count = int(REACH_S * self.rate), int(self.rng.integers(2, 14))
        late = (self.log(0.002, 0.05) * self.rng.random(count) ** 2 * self.rate).astype(int) + 20
        tail_s = self.log(0.015, 0.07)
        tail = np.exp(-np.arange(length) / (tail_s * self.rate)) * self.rng.standard_normal(length)
        tail = np.convolve(tail, np.hanning(2 * int(self.rate / self.log(4000.0, 20_000.0)) + 3))[:length]
        out = unit(tail * np.minimum(1.0, np.linspace(8.0, 0.0, length))) * self.log(0.05, 1.0)
        np.add.at(out, late, self.log(0.1, 0.7) * self.rng.standard_normal(count) * np.exp(-late / (0.02 * self.rate)))
        out[0] += 1.0
        return unit(out)

    def colour(self, centre_hz: float, below: float, above: float, ripple_db: float = 0.0) -> Floats:
        """Return a minimum-phase filter about a centre; it falls by 6 dB an octave times ``below`` and ``above``."""
        hz = np.maximum(np.fft.rfftfreq(_COLOUR_POINTS, 1.0 / self.rate), 8.0) / centre_hz
        level = -np.log(hz**-below + hz**above)
        bumps = np.interp(np.log(hz), np.linspace(-7.0, 7.0, 57), self.rng.standard_normal(57))
        cepstrum = np.fft.irfft(level + bumps * ripple_db / 8.686)
        cepstrum[1 : _COLOUR_POINTS // 2] *= 2.0
        cepstrum[_COLOUR_POINTS // 2 + 1 :] = 0.0
        return unit(np.fft.irfft(np.exp(np.fft.rfft(cepstrum))))

    def jet(self, centre_hz: Span, below: Span = (0.6, 2.5), above: Span = (0.8, 2.5)) -> Floats:
        """Return the colour of a turbulent jet: a broad hump, more or less even."""
        return self.colour(self.log(*centre_hz), self.flat(*below), self.flat(*above), self.flat(0.0, 2.5))

    def note(self, radius_mm: float, muffled: float, rise: float) -> Floats:
        """Return a bubble's note: pitch by Minnaert, damping by van den Doel's fit (from memory) times ``muffled``."""
        hz = min(3280.0 / radius_mm, 0.4 * self.rate)
        damping = muffled * (0.13 / (1e-3 * radius_mm) + 0.0072 * (1e-3 * radius_mm) ** -1.5)
        t = np.arange(int(min(6.0 / damping, REACH_S) * self.rate) + 2) / self.rate
        phase = hz * t * (1.0 + 0.5 * rise * np.minimum(damping * t, 1.5))
        return unit(np.sin(2.0 * np.pi * phase) * np.exp(-damping * t) * np.linspace(1.0, 0.0, len(t)) ** 0.5)


@dataclass(frozen=True)
class Stage(Bodies):
    """One sound in the making: its drive, the flows and excitations that follow it, and how they are heard."""

    drive: Floats
    mains_hz: float
    step: int

    @property
    def n(self) -> int:
        """How many samples there are."""
        return len(self.drive) * self.step

    @property
    def driven(self) -> Floats:
        """The drive at each point of the grid."""
        return np.repeat(self.drive, _STEP_POINTS)

    def samples(self, flow: Floats) -> Floats:
        """Return a flow at each sample."""
        return np.asarray(np.interp(np.arange(self.n) * (GRID_HZ / self.rate), np.arange(len(flow)), flow))

    def press(self) -> Floats:
        """Return the amplitude that follows the drive, on the grid: from middle to middle of the steps, from 0 to 0."""
        before, after = np.concatenate(([0.0], self.drive)), np.concatenate((self.drive, self.drive[-1:]))
        edges = np.where((before > 0.0) & (after > 0.0), 0.5 * (before + after), 0.0)
        knots = np.stack((edges[:-1], self.drive), axis=1).ravel()
        points = np.arange(2 * len(self.drive) + 1) * 0.5 * _STEP_POINTS
        return np.asarray(np.interp(np.arange(len(self.driven)), points, np.append(knots, edges[-1])) ** GROWTH)

    # flows: positive, about 1 on average, one value for each point of the grid

    def wander(self, corner_hz: float, sd: float) -> Floats:
        """A flow with one memory: the exponential of an Ornstein-Uhlenbeck process."""
        from scipy.signal import lfilter

        keep = float(np.exp(-2.0 * np.pi * corner_hz / GRID_HZ))
        fresh = self.rng.standard_normal(len(self.drive) * _STEP_POINTS) * np.sqrt(1.0 - keep**2)
        state = lfilter([1.0], [1.0, -keep], fresh, zi=[keep * float(self.rng.standard_normal())])[0]
        return np.asarray(np.exp(sd * state - 0.5 * sd**2))

    def eddies(self, low_hz: float, high_hz: float, sd: float) -> Floats:
        """A flow of eddies within eddies: a log-normal cascade (Kolmogorov 1962, from memory), octave by octave."""
        points = len(self.drive) * _STEP_POINTS
        octaves = max(1, int(np.log2(high_hz / low_hz)))
        total = np.zeros(points)
        for k in range(octaves):
            spacing = GRID_HZ / (low_hz * 2.0**k)
            knots = self.rng.standard_normal(int(points / spacing) + 3)
            total += np.interp(np.arange(points) / spacing + self.rng.random(), np.arange(len(knots)), knots)
        flow = np.exp(sd * total / np.sqrt(octaves))
        return np.asarray(flow / np.mean(flow))

    def shots(self, rate_hz: float, decay_s: float) -> Floats:
        """A flow of separate gushes, each of which dies away."""
        from scipy.signal import lfilter

        points = len(self.drive) * _STEP_POINTS
        kicks = self.rng.poisson(rate_hz / GRID_HZ, points) * self.rng.exponential(1.0, points)
        keep = float(np.exp(-1.0 / (decay_s * GRID_HZ)))
        gushes = lfilter([1.0 - keep], [1.0, -keep], kicks, zi=[keep * rate_hz / GRID_HZ])[0]
        return np.asarray(gushes * GRID_HZ / rate_hz)

    def flow(self, depth: Span) -> Floats:
        """Return one of the flows, whose unrest is drawn from the span."""
        sd, way = self.log(*depth), self.rng.random()
        if way < 0.35:
            return self.wander(self.log(0.3, 12.0), sd)
        if way < 0.75:
            return self.eddies(self.log(0.2, 2.0), self.log(8.0, 250.0), sd)
        decay_s = self.log(0.02, 0.6)
        return self.shots(0.5 / (decay_s * sd**2), decay_s)

    def place(self, cycle_s: float) -> Floats:
        """Return on the grid the place (0 to 1) within each bout of the drive; a very long bout goes in cycles."""
        edges = np.diff(np.concatenate(([0], (self.drive > 0).astype(int), [0])))
        out = np.zeros(len(self.drive) * _STEP_POINTS)
        for first, last in zip(np.flatnonzero(edges > 0), np.flatnonzero(edges < 0), strict=True):
            count = (last - first) * _STEP_POINTS
            length = count if last - first <= _LONG_BOUT_STEPS else cycle_s * GRID_HZ
            out[first * _STEP_POINTS : last * _STEP_POINTS] = (np.arange(count) + 0.5) / length % 1.0
        return out

    # excitations: one value for each sample

    def times(self, rate_hz: Floats | float, shape: float, longest_gap: float = np.inf, chaos: float = 0.0) -> Floats:
        """Return the times of events at a rate (on the grid) while driven; gaps are gamma-distributed.

        ``longest_gap`` is in mean gaps; ``chaos`` (0 to 1) makes gaps follow each other as those of a dripping tap do,
        by a logistic map, in pairs and more.
        """
        grown = np.concatenate(([0.0], np.cumsum(rate_hz * (self.driven > 0)) / GRID_HZ))
        total = float(grown[-1])
        gaps = self.rng.gamma(shape, 1.0 / shape, int(1.3 * total + 8.0 * np.sqrt(total / shape) + 12))
        if chaos > 0.0:
            x, turns, bend = self.rng.uniform(0.2, 0.8), np.empty(len(gaps)), self.flat(3.1, 3.95)
            for i in range(len(turns)):
                turns[i] = x = bend * x * (1.0 - x)
            gaps *= 1.0 + chaos * (turns / np.mean(turns) - 1.0)
        gaps = np.minimum(gaps, longest_gap)
        marks = np.cumsum(gaps) - gaps[0] * self.rng.random()
        return np.asarray(np.interp(marks[marks < total], grown, np.arange(len(grown)) / GRID_HZ))

    def at(self, times: Floats, flow: Floats) -> Floats:
        """Return a flow at the times."""
        return np.asarray(flow[np.clip((times * GRID_HZ).astype(int), 0, len(flow) - 1)])

    def train(self, times: Floats, weights: Floats) -> Floats:
        """Return impulses of these weights at the times."""
        where = (times * self.rate).astype(int)
        good = (where >= 0) & (where < self.n)
        return np.bincount(where[good], weights[good], minlength=self.n).astype(np.float64)

    def blows(self, times: Floats, weights: Floats, touch_s: float) -> Floats:
        """Return impacts of a given time of contact: half sines, as those of round bodies (Hertz) nearly are."""
        touch = np.sin(np.pi * (np.arange(max(1, int(touch_s * self.rate))) + 0.5) / max(1, int(touch_s * self.rate)))
        return convolved([(self.train(times, weights), touch)])

    def puffs(self, times: Floats, weights: Floats, attack_s: float, decay_s: float) -> Floats:
        """Return packets of air: each opens within the attack and dies away."""
        t = (np.arange(int(min(6.0 * decay_s + attack_s, 4.0 * REACH_S) * self.rate) + 2) + 0.5) / self.rate
        puff = (1.0 - np.exp(-t / attack_s)) * np.exp(-t / decay_s)
        return np.maximum(convolved([(self.train(times, weights), puff)]), 0.0)

    def noise(self, strength: Floats) -> Floats:
        """Return turbulent noise of a strength given for each sample."""
        return self.rng.standard_normal(self.n) * strength

    def bubbles(self, times: Floats, weights: Floats, radius_mm: Span, steep: float, kinds: int = 8) -> Floats:
        """Return bubbles: impulse trains through the notes of a few radii, as frequent as the radius to ``-steep``.

        The whole is read at a wavering pace, so that bubbles of one note do not all have one pitch.
        """
        from scipy.signal import lfilter

        edges = np.exp(np.linspace(np.log(radius_mm[0]), np.log(radius_mm[1]), kinds + 1))
        radii = np.exp(self.rng.uniform(np.log(edges[:-1]), np.log(edges[1:])))
        share = radii ** (1.0 - steep)
        kind = self.rng.choice(kinds, len(times), p=share / share.sum())
        loud = weights * (radii / radii[-1])[kind] ** self.flat(0.5, 1.0)
        muffled, rising = self.log(1.0, 3.0), self.flat(0.0, 0.5)
        pairs = []
        for k, radius in enumerate(radii.tolist()):
            note = self.note(radius, muffled * self.log(0.7, 1.4), self.log(0.05, 0.5) * (self.rng.random() < rising))
            pairs.append((self.train(times[kind == k], loud[kind == k]), note))
        laid, pace_hz = convolved(pairs), self.log(3.0, 25.0)
        bent = np.tanh(np.log(self.wander(pace_hz, 1.0)) + 0.5) * self.flat(0.0, 0.3) / GRID_HZ
        keep = float(np.exp(-10.0 / GRID_HZ))  # a memory of 0.1 s keeps the lag short
        wave = lfilter([1.0], [1.0, -keep], bent)
        late = self.samples(wave - np.min(wave)) * self.rate
        return np.interp(np.arange(self.n) - late, np.arange(self.n), laid)

    def hear(self, *layers: tuple[float, list[Pair]]) -> Floats:
        """Return the layers, each made equally loud (bass counts little) and then taken at its level in dB."""
        from scipy.signal import lfilter

        total, keep = np.zeros(self.n), float(np.exp(-2.0 * np.pi * 300.0 / self.rate))
        for level_db, pairs in layers:
            laid = convolved(pairs)
            bright = lfilter([0.5 * (1.0 + keep), -0.5 * (1.0 + keep)], [1.0, -keep], laid)
            rms = float(np.sqrt(np.mean(bright**2)))
            if rms > 0.0:
                total += laid * (10.0 ** (level_db / 20.0) / rms)
        return total
