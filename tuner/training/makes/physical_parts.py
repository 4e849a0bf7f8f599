"""Physical parts: clouds of bubbles, air columns, jets and rotors, from which ``physical`` builds its sounds.

A ``Bench`` holds one drive, rate and generator, and gives the parts that a mechanism is put together from. Spans
without a named law are common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.voices.control import CONTROL_S, Ramp
from tuner.training.makes.draws import Drawn

Floats = NDArray[np.float64]
Span = tuple[float, float]

GROWTH = 0.7
_SOUND_SPEED = 345.0
_MINNAERT_HZ_MM = 3280.0
_GRAIN_SAMPLES_A_SECOND = 300_000
_LONG_BOUT_STEPS = 160


@dataclass(frozen=True)
class Bench(Drawn):
    """The physical parts: what a mechanism is built from, for one drive, rate and generator."""

    rng: np.random.Generator
    rate: int
    drive: Floats
    mains: float
    step: int

    @property
    def n(self) -> int:
        """How many samples there are."""
        return len(self.drive) * self.step

    def walk(self, time_s: float, sd: float) -> Floats:
        """Return a slow log-normal factor for each control step (first-order memory)."""
        from scipy.signal import lfilter

        keep = float(np.exp(-CONTROL_S / time_s))
        fresh = self.rng.standard_normal(len(self.drive)) * np.sqrt(1.0 - keep**2)
        state = lfilter([1.0], [1.0, -keep], fresh, zi=[keep * float(self.rng.standard_normal())])[0]
        return np.asarray(np.exp(sd * state))

    def press(self) -> Floats:
        """Return the amplitude that follows the drive, for each sample."""
        return Ramp(self.rate).render(np.asarray(self.drive**GROWTH, dtype=np.float64))

    def spread(self, values: Floats) -> Floats:
        """Return control values at each sample, in straight lines between the middles of the steps."""
        return np.interp(np.arange(self.n), (np.arange(len(values)) + 0.5) * self.step, values)

    def flutter(self, hz: float, sd: float) -> Floats:
        """Return a quick log-normal factor at each sample, smooth above about ``hz``."""
        knots = self.rng.standard_normal(int(self.n / self.rate * 2.0 * hz) + 3)
        smooth = np.interp(np.arange(self.n) * (2.0 * hz / self.rate), np.arange(len(knots)), knots)
        return np.asarray(np.exp(sd * smooth))

    def times(self, rate_hz: Floats | float, shape: float) -> Floats:
        """Return the times of a gamma renewal stream whose rate follows the control values while driven."""
        grown = np.concatenate(([0.0], np.cumsum(rate_hz * (self.drive > 0)) * CONTROL_S))
        total = float(grown[-1])
        gaps = self.rng.gamma(shape, 1.0 / shape, int(1.2 * total + 8.0 * np.sqrt(total / shape) + 12))
        marks = np.cumsum(gaps) - gaps[0] * self.rng.random()
        return np.asarray(np.interp(marks[marks < total], grown, np.arange(len(grown)) * CONTROL_S))

    def at(self, times: Floats, values: Floats) -> Floats:
        """Return the values, one for each control step, at the times."""
        return np.asarray(values[np.clip((times / CONTROL_S).astype(int), 0, len(values) - 1)])

    def impulses(self, times: Floats, weights: Floats) -> Floats:
        """Return single samples of these weights at the times."""
        where = (times * self.rate).astype(int)
        good = where < self.n
        return np.bincount(where[good], weights[good], minlength=self.n).astype(np.float64)

    def place(self, cycle_s: float) -> Floats:
        """Return each step's place (0 to 1) within its bout; a very long bout is cut into cycles."""
        edges = np.diff(np.concatenate(([0], (self.drive > 0).astype(int), [0])))
        place = np.zeros(len(self.drive))
        for first, last in zip(np.flatnonzero(edges > 0), np.flatnonzero(edges < 0), strict=True):
            length = last - first if last - first <= _LONG_BOUT_STEPS else cycle_s / CONTROL_S
            place[first:last] = (np.arange(last - first) + 0.5) / length % 1.0
        return place

    def since(self, times: Floats) -> tuple[Floats, NDArray[np.int64]]:
        """Return for each sample the seconds since the last event, and that event's number (-1 before any)."""
        where = np.clip((times * self.rate).astype(int), 0, self.n - 1)
        count = np.cumsum(np.bincount(where, minlength=self.n)) - 1
        start = np.concatenate((where.astype(np.float64), [-1e6 * self.rate]))[count]
        return np.asarray((np.arange(self.n) - start) / self.rate), count

    def puffs(self, times: Floats, attack_s: float, decay_s: float) -> Floats:
        """Return a train of puffs: each opens at once and dies away, with its own strength."""
        age, count = self.since(times)
        strength = np.concatenate((self.varied(len(times), 0.1, 0.8), [0.0]))[count]
        return np.asarray(strength * (1.0 - np.exp(-age / attack_s)) * np.exp(-age / decay_s))

    def rasp(self, hz: Span, trend: Floats) -> Floats:
        """Return the flutter of a lip of water: quick puffs, regular or rough, their rate bent by ``trend``."""
        pace = self.log(*hz) * trend * self.walk(self.log(0.1, 2.0), self.flat(0.03, 0.3))
        period = 1.0 / float(np.mean(pace))
        times = self.times(pace, self.log(1.5, 200.0))
        return self.puffs(times, period * self.log(0.01, 0.15), period * self.log(0.08, 0.8))

    def gulps(self, rate_hz: Span) -> Floats:
        """Return an inlet that opens and closes: a relaxation oscillator whose open share and edges are drawn."""
        times = self.times(self.log(*rate_hz) * self.walk(0.8, self.flat(0.1, 0.5)), self.log(1.0, 25.0))
        age, count = self.since(times)
        share = np.clip(self.flat(0.3, 0.9) * self.varied(len(times), 0.1, 0.4), 0.1, 1.0)
        length = np.concatenate((np.diff(times, append=times[-1:] + 1.0) * share, [0.0]))[count]
        swell = 1.0 + self.flat(-0.7, 1.5) * np.clip(age / np.maximum(length, 1e-3), 0.0, 1.0)
        shut = 0.5 * (1.0 - np.tanh((age - length) / self.log(0.008, 0.08)))
        return np.where(count < 0, 0.0, swell * (1.0 - np.exp(-age / self.log(0.005, 0.12))) * shut) * self.press()

    @property
    def bins(self) -> Floats:
        """Frequencies of the gains that ``through`` takes, Hz."""
        return np.asarray(np.maximum(np.fft.rfftfreq(2 * self.step, 1.0 / self.rate), 5.0))

    @staticmethod
    def edges(values: Floats) -> Floats:
        """Return control values at the edges of the steps, as a column: the frames of ``through``."""
        return np.concatenate((values[:1], 0.5 * (values[1:] + values[:-1]), values[-1:]))[:, None]

    def through(self, sound: Floats, gains: Floats) -> Floats:
        """Filter by magnitude gains, one row for each edge between control steps (or one row for all)."""
        step, blocks = self.step, np.pad(sound, self.step).reshape(-1, self.step)
        window = np.sin(np.pi * (np.arange(2 * step) + 0.5) / (2 * step))
        spectra = np.fft.rfft(np.concatenate((blocks[:-1], blocks[1:]), axis=1) * window, axis=1)
        frames = np.fft.irfft(spectra * gains, n=2 * step, axis=1) * window
        return np.asarray((frames[:-1, step:] + frames[1:, :step]).ravel(), dtype=np.float64)

    def jet(self, hz: Span, low: Span = (0.4, 1.8), high: Span = (0.7, 2.2), trend: Floats | None = None) -> Floats:
        """Return turbulence: noise that rises to a Strouhal peak and falls after it; the peak may move by ``trend``."""
        peak = self.log(*hz) * (np.ones((1, 1)) if trend is None else self.edges(trend))
        rising, falling = self.flat(*low), self.flat(*high)
        ratio = self.bins / peak
        gains = ratio**rising / (1.0 + ratio ** (rising + falling))
        return self.through(self.rng.standard_normal(self.n), gains) * self.press()

    def pipe(self, sound: Floats, fill: Floats | None = None, metres: Span = (0.08, 1.5)) -> Floats:
        """Send a sound through a lossy air column; ``fill`` (0 to 1) is the share that the water takes."""
        length = self.log(*metres) * self.walk(self.log(0.2, 4.0), self.flat(0.0, 0.15))
        length = length if fill is None else length * (1.0 - self.flat(0.2, 0.85) * fill)
        angle = 2.0 * np.pi * self.bins / _SOUND_SPEED * self.edges(length)
        # Closed below: odd quarter-wave modes; open at both ends: half-wave modes.
        standing = np.cos(angle) if self.rng.random() < 0.6 else np.sin(angle)
        # The walls' loss grows with the root of frequency (boundary layer), so high modes blur into noise.
        loss = np.sinh(np.minimum(self.log(0.06, 0.6) * (1.0 + np.sqrt(self.bins / 800.0)), 4.0))
        return self.through(sound, 1.0 / np.sqrt(standing**2 + loss**2))

    def bubbles(self, times: Floats, hz: Floats, amps: Floats) -> Floats:
        """Add decaying bubble notes: van den Doel's damping (2005) times a drawn factor, with a drawn glide."""
        damp, rise, shift = self.log(0.6, 4.0), self.flat(-0.12, 0.3), self.rng.random()
        out = np.zeros(self.n + self.rate)  # room for the last notes' tails
        good = (hz > 40.0) & (hz < 0.45 * self.rate) & (times < self.n / self.rate)
        # Pitches share a dozen grains an octave: finer steps are not heard in a crowd and cost time.
        tuned = 2.0 ** ((np.round(np.log2(hz[good]) * 12.0 + shift) - shift) / 12.0)
        first, amps = (times[good] * self.rate).astype(np.int64), amps[good]
        lengths = self.rate * np.minimum(5.0 / (damp * (0.043 * tuned + 0.0014 * tuned**1.5)), 0.4)
        share = _GRAIN_SAMPLES_A_SECOND * self.n / self.rate / max(float(np.sum(lengths)), 1.0)
        kept = self.rng.random(len(tuned)) < share  # a crowd too dense to tell apart is thinned at equal power
        amps = amps / np.sqrt(min(share, 1.0))
        for tone in np.unique(tuned[kept]):
            chosen = kept & (tuned == tone)
            fade = damp * (0.043 * tone + 0.0014 * tone**1.5)
            t = np.arange(max(int(min(5.0 / fade, 0.4) * self.rate), 8)) / self.rate
            grain = np.exp(-fade * t) * np.sin(2.0 * np.pi * tone * t * (1.0 + np.clip(rise * fade * t, -0.4, 2.0)))
            where = first[chosen][:, None] + np.arange(len(t))
            np.add.at(out, where.ravel(), (amps[chosen][:, None] * grain).ravel())
        return out[: self.n]

    def plume(
        self, rate: Span, low_mm: Span, high_mm: Span, size: Span = (1.0, 8.0), trend: Floats | None = None
    ) -> Floats:
        """Return bubbles of power-law sizes (pitch by Minnaert), single or in clusters of a drawn mean size."""
        cluster = self.log(*size)
        pace = self.walk(self.log(0.1, 3.0), self.flat(0.05, 0.8)) * (1.0 if trend is None else trend)
        parents = self.times(self.log(*rate) * pace * np.sqrt(self.drive) / cluster, self.log(0.4, 6.0))
        times = np.repeat(parents, self.rng.poisson(cluster, len(parents)) if cluster > 1.5 else 1)
        if cluster > 1.5:
            times = times + self.rng.exponential(self.log(0.01, 0.12), len(times))
        slope, low, high = self.flat(0.05, 2.5), self.flat(*low_mm), self.flat(*high_mm)
        radius = (low**-slope + self.rng.random(len(times)) * (high**-slope - low**-slope)) ** (-1.0 / slope)
        amps = radius ** self.flat(0.5, 1.7) * self.varied(len(times), 0.2, 1.0)
        return self.bubbles(times, _MINNAERT_HZ_MM / radius, amps * np.sqrt(self.at(times, self.drive) + 0.05))

    def ring(self, sound: Floats, low: Span, high: Span, dry: Span = (0.02, 1.0)) -> Floats:
        """Let a body (panel, housing, box wall) ring: a handful of drawn modes, and a dry share."""
        from scipy.signal import oaconvolve

        t = np.arange(int(0.12 * self.rate)) / self.rate
        span, body = (self.log(*low), min(self.log(*high), 0.45 * self.rate)), np.zeros(len(t))
        for _ in range(int(self.rng.integers(2, 9))):
            hz = self.log(*span)
            fade = np.exp(-(np.pi * hz / self.log(3.0, 40.0) + 30.0) * t)
            body += self.log(0.2, 1.0) * fade * np.sin(2.0 * np.pi * hz * t + self.flat(0.0, 0.5))
        body /= np.sqrt(np.sum(body**2))
        body[0] += self.log(*dry)
        return np.asarray(oaconvolve(sound, body)[: self.n])

    def tones(self, hz: float, orders: list[float], tilt: float, drift: float) -> Floats:
        """Return lines at multiples of one speed, falling by ``tilt`` with rank, that wander together."""
        turn = 2.0 * np.pi * np.cumsum(self.spread(hz * self.walk(self.log(0.5, 8.0), drift))) / self.rate
        amps = np.arange(1.0, len(orders) + 1.0) ** -tilt * self.varied(len(orders), 0.4, 1.0)
        lines = [(k, a) for k, a in zip(orders, amps.tolist(), strict=True) if k * hz < 0.45 * self.rate]
        return np.asarray(sum((a * np.sin(k * turn + self.flat(0.0, 6.28)) for k, a in lines), np.zeros(self.n)))

    def mix(self, first: Floats, *others: tuple[Span, Floats]) -> Floats:
        """Add parts to the first by drawn shares of effective pressure, so that a mechanism's unit is no matter."""
        out = np.zeros(self.n)
        for span, part in (((1.0, 1.0), first), *others):
            size, share = float(np.sqrt(np.mean(part**2))), self.log(*span)
            out += part * (share / size) if size > 0.0 else 0.0
        return out
