"""A source, its path and a receiver: third-octave levels over time, filled with noise or bubbles, sent down a path.

A ``Chain`` holds a score of frames in which levels are painted, band by band. Each band is laid as a complex
baseband signal at a rate no higher than its width needs and put at its place in one spectrum, so that thirty bands
with quick envelopes cost about as much as one. The path acts on that spectrum. Figures without a named source are
common practice, no source.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.voices.control import CONTROL_S, checked_drive, step_samples
from tuner.rehearsal.voices.loudness import a_weighting_db
from tuner.training.makes.draws import Drawn, stretches

Floats = NDArray[np.float64]

FPS = 800
"""Frames of the score a second: quick enough for rasping at 100 Hz."""
_STEP = round(FPS * CONTROL_S)
_SPARE_S = 0.6  # for what rings on
_TAIL_S = 0.45
_GUARD_HZ = 400.0  # on top of a band's own width: room for its envelope's sidebands
_LOUDER = 0.7  # amplitude grows with the drive to this power

# third-octave levels in dB at the octaves from 31.5 Hz to 16 kHz: from memory, rounded, spread widely where drawn
_TYPICAL_DB: dict[str, tuple[float, ...]] = {
    "pipe": (-26.0, -16.0, -7.0, -1.0, 0.0, -2.0, -7.0, -13.0, -21.0, -30.0),
    "jet": (-38.0, -30.0, -22.0, -14.0, -7.0, -2.0, 0.0, -1.0, -6.0, -13.0),
    "valve": (-60.0, -50.0, -40.0, -30.0, -20.0, -10.0, -2.0, 0.0, -3.0, -9.0),
    "fall": (-14.0, -5.0, -1.0, 0.0, -2.0, -6.0, -11.0, -17.0, -24.0, -32.0),
    "film": (-60.0, -50.0, -38.0, -26.0, -15.0, -6.0, -1.0, 0.0, -4.0, -11.0),
    "room": (0.0, -3.0, -7.0, -11.0, -15.0, -19.0, -23.0, -27.0, -30.0, -33.0),
}


class Chain(Drawn):
    """One sound in the making: the drive, the score's frames, the spectrum laid so far, and the draws."""

    def __init__(self, rng: np.random.Generator, rate: int, drive: Floats, mains_hz: float) -> None:
        from scipy.fft import next_fast_len

        self.rng, self.rate, self.mains = rng, rate, mains_hz
        self.drive = checked_drive(drive)
        step = step_samples(rate)
        self.n = len(self.drive) * step
        self.size = int(next_fast_len(self.n + int(_SPARE_S * rate), real=True))
        self.spectrum = np.zeros(self.size // 2 + 1, dtype=np.complex128)
        self.frames = len(self.drive) * _STEP + int(_SPARE_S * FPS)
        self.t = np.arange(self.frames) / FPS
        self.centres = 31.5 * 2.0 ** (np.arange(29) / 3.0)
        self.centres = self.centres[self.centres < 0.56 * rate]
        self.octaves = np.log2(self.centres / 1000.0)
        on = np.zeros(self.frames, dtype=bool)
        on[: len(self.drive) * _STEP] = np.repeat(self.drive > 0, _STEP)
        self.bouts = stretches(on)
        self.on = on
        glide = np.interp(self.t, (np.arange(len(self.drive)) + 0.5) * CONTROL_S, self.drive)
        self.strength: Floats = np.where(on, glide, 0.0)
        self.press = self.strength**_LOUDER * self._edges()

    def _edges(self) -> Floats:
        """Return the fades at the ends of each bout: some start at once, some take their time."""
        up, down, out = self.log(0.004, 0.2), self.log(0.004, 0.2), np.zeros(self.frames)
        for a, b in self.bouts:
            at = np.arange(b - a) / FPS
            short = min(1.0, (b - a) / FPS / 3.0 / max(up, down))
            out[a:b] = np.minimum(1.0, np.minimum(at / (up * short), (at[::-1] + 1.0 / FPS) / (down * short)))
        return out

    def spectrum_of(self, typical: str, shift: float = 0.0, spread_db: float = 5.0) -> Floats:
        """Return each band's amplitude: a random smooth curve round a typical one, moved by ``shift`` octaves."""
        knots, place = np.arange(-5.0, 5.0), self.octaves - shift
        table = np.asarray(_TYPICAL_DB[typical])
        steep = self.flat(0.7, 1.4)
        db = steep * np.interp(place / self.flat(0.8, 1.3), knots, table) + self.flat(-1.5, 1.5) * place
        for _ in range(3):
            wave = 2.0 * np.pi * place / self.flat(1.2, 6.0) + self.flat(0.0, 6.28)
            db = db + spread_db * self.flat(0.0, 0.8) * np.sin(wave)
        db = db + self.flat(0.3, 2.0) * self.rng.standard_normal(len(place))
        out: Floats = 10.0 ** (db / 20.0)
        return out

    def wander(self, rows: int, corner_hz: float, slope: float = 1.0) -> Floats:
        """Return unit Gaussian rows on the frames: power flat to the corner, then falling by 6 dB x slope an octave."""
        from scipy.fft import irfft, next_fast_len, rfftfreq

        length = int(next_fast_len(self.frames + FPS, real=True))
        f = rfftfreq(length, 1.0 / FPS)
        shape = (1.0 + (f / corner_hz) ** 2) ** (-0.5 * slope)
        shape[0] = 0.0
        noise = self.rng.standard_normal((rows, len(f))) + 1j * self.rng.standard_normal((rows, len(f)))
        out: Floats = irfft(noise * shape, length, axis=1)[:, : self.frames]
        out *= length / (2.0 * np.sqrt(np.sum(shape**2)))
        return out

    def walk(self, corner_hz: float, sd: float) -> Floats:
        """Return one slow factor round 1 with a spread in nepers."""
        out: Floats = np.exp(sd * np.clip(self.wander(1, corner_hz)[0], -1.8, 2.5))
        return out

    def stir(self, kurtosis: float, corner_hz: float, common: float) -> Floats:
        """Return envelopes (bands, frames) of unit mean square whose noise has about that kurtosis.

        Log-normal or gamma; neighbouring bands move alike, over a drawn reach, besides the common share.
        """
        bands = len(self.centres)
        rows = self.wander(bands + 1, corner_hz, self.flat(0.8, 2.0))
        apart = (self.octaves[:, None] - self.octaves[None, :]) / self.log(0.15, 1.5)
        mix = np.exp(-0.5 * apart**2)
        mix /= np.sqrt(np.sum(mix**2, axis=1, keepdims=True))
        g = np.sqrt(common) * rows[-1] + np.sqrt(1.0 - common) * (mix @ rows[:-1])
        excess = max(kurtosis / 3.0, 1.001)
        if self.chance(0.5):  # kurtosis 3 exp(4 s^2) of Gaussian noise under a log-normal envelope
            s = np.sqrt(np.log(excess) / 4.0)
            return np.asarray(np.exp(np.minimum(s * g - s * s, 1.9)), dtype=np.float64)
        from scipy.special import gammaincinv, ndtr

        order = 1.0 / (excess - 1.0)  # gamma-distributed power of this order: kurtosis 3 (1 + 1 / order)
        grid = np.linspace(-3.5, 3.5, 141)
        return np.asarray(np.interp(g, grid, np.sqrt(gammaincinv(order, ndtr(grid)) / order)), dtype=np.float64)

    def times(self, rate_hz: float | Floats, shape: float) -> Floats:
        """Return the times of events while driven; the gaps are gamma-distributed (regular if ``shape`` is large)."""
        done = np.cumsum(np.where(self.on, rate_hz, 0.0)) / FPS
        count = int(done[-1] * 1.3 + 6.0 * np.sqrt(done[-1]) + 8.0)
        marks = np.cumsum(self.rng.gamma(shape, 1.0 / shape, count)) - 0.7 * self.rng.random()
        marks = marks[(marks > 0.0) & (marks < done[-1])]
        return np.asarray(np.interp(marks, done, self.t), dtype=np.float64)

    def uneven(self, count: int, sd: float) -> Floats:
        """Return log-normal strengths round 1, none so faint that it is a rest."""
        out: Floats = np.exp(sd * np.clip(self.rng.standard_normal(count), -1.3, 2.2))
        return out

    def at(self, times: Floats, values: Floats) -> Floats:
        """Return a frame curve at each of the times."""
        out: Floats = values[np.clip((times * FPS).astype(int), 0, self.frames - 1)]
        return out

    def strokes(
        self, times: Floats, amps: Floats, attack_s: float, decay_s: float, climb_s: float = 0.0, dulling: float = 0.0
    ) -> Floats:
        """Return envelopes (bands, frames): a stroke at each time, later by ``climb_s`` an octave up (or down if < 0).

        With ``dulling`` a stroke dies the sooner the higher the band.
        """
        from scipy.signal import lfilter

        out = np.zeros((len(self.centres), self.frames))
        if not len(times):
            return out
        spot = self.octaves - self.octaves[0] if climb_s >= 0.0 else self.octaves - self.octaves[-1]
        rise = np.exp(-1.0 / (attack_s * FPS))
        for row, place, octave in zip(out, spot.tolist(), self.octaves.tolist(), strict=True):
            frame = np.rint((times + climb_s * place) * FPS).astype(int)
            inside = (frame >= 0) & (frame < self.frames)
            hits = np.bincount(frame[inside], amps[inside], self.frames)
            fall = np.exp(-1.0 / (max(decay_s * 2.0 ** (-dulling * octave), 0.003) * FPS))
            row[:] = lfilter([1.0 - rise], [1.0, -(rise + fall), rise * fall], hits)
        out *= float(np.max(amps)) / max(float(np.max(out)), 1e-12)
        return out

    def formant(self, centre_hz: Floats, width_octaves: float, floor: float = 0.0) -> Floats:
        """Return gains (bands, frames) of a hump that moves with ``centre_hz``."""
        off = (self.octaves[:, None] - np.log2(centre_hz / 1000.0)[None, :]) / width_octaves
        return np.asarray(np.exp(-0.5 * off**2) + floor, dtype=np.float64)

    def rasp(self, pace_hz: Floats, sharp: float) -> Floats:
        """Return pulses that open at once and shut slowly, each of its own strength; mean square 1."""
        phase = np.cumsum(np.minimum(pace_hz, 0.25 * FPS)) / FPS
        strength = np.exp(0.35 * self.rng.standard_normal(int(phase[-1]) + 2))
        pulse = np.exp(-sharp * (phase % 1.0)) * strength[phase.astype(int)]
        out: Floats = pulse / np.sqrt(np.mean(pulse**2))
        return out

    def _levelled(self, levels: Floats, gain: float) -> Floats:
        """Return levels whose A-weighted power over the driven frames is gain^2."""
        weight = 10.0 ** (a_weighting_db(self.centres) / 10.0)
        power = float(np.sum(weight @ levels**2)) / max(1, int(self.on.sum()))
        out: Floats = levels * (gain / np.sqrt(power)) if power > 0.0 else levels
        return out

    def _bands(self, levels: Floats) -> list[tuple[int, int, int, Floats]]:
        """Return centre bin, baseband length, own width (bins) and the level at that rate, of each band that counts."""
        from scipy.fft import next_fast_len

        seconds, found, top = self.size / self.rate, [], float(np.max(levels, initial=0.0))
        for centre, row in zip(self.centres.tolist(), levels, strict=True):
            if top <= 0.0 or float(np.max(row)) < 3e-4 * top:
                continue
            own = 0.2316 * centre
            m = int(next_fast_len(int((own + _GUARD_HZ) * seconds)))
            level = np.interp(np.arange(m) * (seconds * FPS / m), np.arange(self.frames), row)
            found.append((round(centre * seconds), m, max(2, round(own * seconds)), level))
        return found

    def _place(self, base: NDArray[np.complex128], bin_: int) -> None:
        """Add a baseband signal of unit mean square as a band of unit mean square round a bin."""
        from scipy.fft import fft, fftshift

        m = len(base)
        part = fftshift(fft(base)) * (self.size / m / np.sqrt(2.0))
        rim = max(1, m // 12)
        taper = np.minimum(1.0, np.minimum(np.arange(m) + 1, np.arange(m)[::-1] + 1) / rim)
        part *= taper
        first = bin_ - m // 2
        last = min(first + m, len(self.spectrum) - 1)
        if first < 0:  # what lies below 0 Hz is folded up
            self.spectrum[1 : 1 - first] += np.conj(part[:-first])[::-1]
        self.spectrum[max(first, 0) : last] += part[max(-first, 0) : last - first]

    def noise(self, levels: Floats, gain: float = 1.0) -> None:
        """Lay noise under levels (bands, frames); ``gain`` is its A-weighted strength while driven."""
        from scipy.fft import ifft

        for bin_, m, own, level in self._bands(self._levelled(levels, gain)):
            half = own // 2 + 1
            rows = np.zeros(m, dtype=np.complex128)
            drawn = self.rng.standard_normal((2, 2 * half)) * (m / np.sqrt(4.0 * half))
            rows[:half], rows[-half:] = drawn[0, :half] + 1j * drawn[1, :half], drawn[0, half:] + 1j * drawn[1, half:]
            self._place(ifft(rows) * level, bin_)

    def bubbles(self, levels: Floats, per_s: float, cycles: float, sd: float, gain: float = 1.0) -> None:
        """Lay bubbles: ``per_s`` a second in the 1 kHz band where it is loudest, more above; they ring ``cycles``."""
        seconds = self.size / self.rate
        for bin_, m, own, level in self._bands(self._levelled(levels, gain)):
            fast = m / seconds
            fall = np.exp(-bin_ / seconds / cycles / fast)
            density = level / np.max(level)
            count = max(1.0, per_s * seconds * min(bin_ / seconds / 1000.0, 4.0) ** 0.6)
            places = self.rng.integers(0, m, int(self.rng.poisson(count)))
            places = places[self.rng.random(len(places)) < np.sqrt(density[places])]
            mass = np.exp(sd * np.clip(self.rng.standard_normal(len(places)), -3.0, 2.2))
            mass *= level[places] / np.maximum(density[places], 1e-9) ** 0.25
            k = np.arange(min(int(3.5 * cycles * seconds / bin_ * fast) + 2, m // 4))
            off = self.rng.uniform(-0.5, 0.5, len(places)) * (2.0 * np.pi * own / m)  # each on a note of its own
            turn = self.rng.uniform(0.0, 2.0 * np.pi, len(places))
            ring = (mass[:, None] * fall**k) * np.exp(1j * (off[:, None] * k + turn[:, None]))
            spot, flat = ((places[:, None] + k) % m).ravel(), ring.ravel()
            base = np.bincount(spot, flat.real, m) + 1j * np.bincount(spot, flat.imag, m)
            # power of a decaying note at this density, so that the levels hold
            base *= np.sqrt((1.0 - fall**2) * m / count * np.exp(-2.0 * min(sd, 1.0) ** 2))
            self._place(base, bin_)

    def notes(self, times: Floats, hz: Floats, amps: Floats, cycles: float, rise: float, gain: float) -> None:
        """Lay notes that decay over so many cycles while they rise by ``rise`` octaves; each starts softly."""
        if not len(times):
            return
        out = np.zeros(self.size)
        order = np.argsort(hz)
        for part in np.array_split(order, max(1, len(order) // 24)):
            lasting = np.minimum(cycles / hz[part], 0.12)[:, None]
            t = np.arange(int(min(3.5 * float(lasting.max()), 0.4) * self.rate)) / self.rate
            bent = t + rise * t * t / (4.0 * lasting)
            fade = np.minimum(1.0, (t[-1] - t) / (0.2 * t[-1]))
            wave = amps[part][:, None] * np.sin(2.0 * np.pi * hz[part][:, None] * bent) * np.exp(-t / lasting) * fade
            wave *= np.minimum(1.0, t * hz[part][:, None] / 2.0)
            for first, one in zip((times[part] * self.rate).astype(int).tolist(), wave, strict=True):
                out[first : first + len(t)] += one[: max(0, self.size - first)]
        heard = 10.0 ** (float(a_weighting_db(np.array([np.median(hz)]))[0]) / 20.0)
        seconds = max(1, int(self.on.sum())) / FPS
        self.wave(out * gain / (heard * np.sqrt(np.sum(out**2) / self.rate / seconds) + 1e-12))

    def rung(self, times: Floats, amps: Floats, modes: int, gain: float) -> None:
        """Strike a part at each time: a few fixed modes that die away."""
        from scipy.fft import irfft, rfft

        spot = np.rint(times * self.rate).astype(int)
        inside = (spot >= 0) & (spot < self.size)
        hits = np.bincount(spot[inside], amps[inside], self.size)
        t, knock = np.arange(int(0.2 * self.rate)) / self.rate, np.zeros(int(0.2 * self.rate))
        for _ in range(modes):
            hz, cycles = min(self.log(180.0, 6000.0), 0.4 * self.rate), self.log(2.0, 25.0)
            heard = 10.0 ** (float(a_weighting_db(np.array([hz]))[0]) / 20.0)
            ring = np.sin(2.0 * np.pi * hz * t) * np.exp(-t * hz / cycles) * np.sqrt(hz / cycles)
            knock += self.log(0.2, 1.0) / heard * ring
        laid = irfft(rfft(hits) * rfft(knock * np.minimum(1.0, (0.2 - t) / 0.05), self.size), self.size)
        seconds = max(1, int(self.on.sum())) / FPS
        self.wave(laid * gain / (np.sqrt(np.sum(laid**2) / self.rate / seconds) + 1e-12))

    def wave(self, x: Floats) -> None:
        """Add a signal made in time."""
        from scipy.fft import rfft

        self.spectrum += rfft(x, self.size)

    def lines(self, base_hz: float, orders: list[float], slope_db: float, unrest: float) -> Floats:
        """Return tones at orders of a base, of unit power; ``unrest`` is the spread of its slow drift."""
        phase = 2.0 * np.pi * np.cumsum(self.spread(base_hz * self.walk(self.log(0.2, 3.0), unrest))) / self.rate
        out = np.zeros(self.size)
        for order in orders:
            if order * base_hz < 0.42 * self.rate:
                db = -slope_db * np.log2(max(order, 0.5)) + 6.0 * self.rng.standard_normal()
                out += 10.0 ** (db / 20.0) * np.sin(order * phase + self.flat(0.0, 6.28))
        return np.asarray(out / np.sqrt(np.mean(out**2) + 1e-12), dtype=np.float64)

    def spread(self, frames: Floats) -> Floats:
        """Return a frame curve at each sample."""
        out: Floats = np.interp(np.arange(self.size) * (FPS / self.rate), np.arange(self.frames), frames)
        return out

    def path(self, damp_db: float, modes: int) -> None:
        """Send what is laid down a path: wall, cupboard, water and hard floor, each there or not.

        ``damp_db`` bounds what the path takes from one end of the spectrum, so that the source stays what it is.
        """
        from scipy.fft import rfft

        at = np.linspace(-6.0, 4.6, 80)
        db = -self.flat(5.0, 16.0) * np.maximum(self.flat(-3.8, -2.3) - at, 0.0)  # small mouths radiate little bass
        if self.chance(0.5):  # clips and a wall: mass law above a knee, and a dip where they let go
            db -= np.clip(self.flat(0.5, 5.0) * (at - self.flat(-3.0, 2.0)), 0.0, 0.6 * damp_db)
        if self.chance(0.5):  # a cupboard door: low-pass, with a leak that bounds it and dips where it is in tune
            knee, leak = self.flat(-1.8, 2.0), self.flat(0.2, 0.8) * damp_db
            db -= np.clip(self.flat(3.0, 9.0) * (at - knee), 0.0, leak)
            for _ in range(int(self.rng.integers(1, 4))):
                db -= self.flat(2.0, 8.0) * np.exp(-(((at - self.flat(-3.5, 2.5)) / self.log(0.1, 0.5)) ** 2))
        if self.chance(0.35):  # tank water: little passes below its first mode
            db -= np.clip(self.flat(2.0, 8.0) * (self.flat(-3.5, -1.2) - at), 0.0, damp_db)
        octave = np.log2(np.maximum(np.arange(len(self.spectrum)), 1) * (self.rate / self.size / 1000.0))
        self.spectrum *= np.interp(octave, at, 10.0 ** (db / 20.0)) * rfft(self._answer(modes), self.size)

    def _answer(self, modes: int) -> Floats:
        """Return the impulse response of surfaces, cavity and modes."""
        t = np.arange(int(_TAIL_S * self.rate)) / self.rate
        answer = np.zeros(len(t))
        answer[0] = 1.0
        for _ in range(int(self.rng.integers(0, 4))):  # floor, door, glass: combs
            sign = 1.0 if self.chance(0.6) else -1.0
            answer[int(self.log(0.0003, 0.012) * self.rate)] += sign * self.flat(0.1, 0.7)
        if self.chance(0.7):  # the diffuse rest
            lasting = self.log(0.01, 0.09)
            rest = self.rng.standard_normal(len(t)) * np.exp(-t / lasting)
            answer += self.log(0.1, 1.2) * rest / np.sqrt(np.sum(rest**2))
        for _ in range(int(self.rng.integers(0, modes + 1))):
            hz, quality = self.log(60.0, 2500.0), self.log(4.0, 30.0)
            ring = np.sin(2.0 * np.pi * hz * t) * np.exp(-np.pi * hz / quality * t)
            answer += self.log(0.1, 0.9) * ring * 4.0 * hz / quality / self.rate
        fade = np.minimum(1.0, (t[-1] - t) / 0.1)
        return np.asarray(answer * fade, dtype=np.float64)

    def heard(self, tail_s: float) -> Floats:
        """Return the sound: nothing before the drive, and nothing later than ``tail_s`` after it."""
        from scipy.fft import irfft

        out: Floats = irfft(self.spectrum, self.size)[: self.n]
        on = np.repeat(self.drive > 0, self.n // len(self.drive))
        last = np.maximum.accumulate(np.where(on, np.arange(self.n), -self.size - 4 * self.rate))
        age = (np.arange(self.n) - last) / self.rate
        return np.asarray(out * np.clip((tail_s - age) / (0.3 * tail_s), 0.0, 1.0), dtype=np.float64)
