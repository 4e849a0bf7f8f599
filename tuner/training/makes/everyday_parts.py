"""Building blocks of sounds likened to everyday water and machines: painted noise, grains, phrases of gulps.

Noise is painted: a spectrogram of wanted gains is filled with random phases and laid down in overlapping frames, so
that any shape that can be seen in a spectrogram can be sounded. Grains come from small banks of chirped notes and
are laid down in batches, so that many hundred a second stay cheap. All spans are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.voices.control import CONTROL_S, step_samples
from tuner.training.makes.draws import stretches

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_FRAMES_PER_S = 100
_MAX_GRAIN_S = 0.4


def between(rng: np.random.Generator, low: float, high: float) -> float:
    """Return a value drawn log-uniformly between two positive limits."""
    return float(low * (high / low) ** rng.random())


def level(x: Floats) -> Floats:
    """Return the signal scaled to unit root mean square over the part that sounds."""
    power = x**2
    heard = power > 0.0
    rms = float(np.sqrt(power[heard].mean())) if heard.any() else 0.0
    out: Floats = x / rms if rms > 0.0 else x
    return out


@dataclass(frozen=True)
class Scene:
    """What a method needs: the random generator, the rate, the drive of the control steps, the mains frequency."""

    rng: np.random.Generator
    rate: int
    drive: Floats
    mains: float

    @property
    def n(self) -> int:
        """Samples to render."""
        return len(self.drive) * step_samples(self.rate)

    @property
    def frame_times(self) -> Floats:
        """Times in seconds of the frames of painted noise."""
        return np.arange(len(self.drive) * CONTROL_S * _FRAMES_PER_S + 2) / _FRAMES_PER_S

    @property
    def step_times(self) -> Floats:
        """Middle of each control step in seconds."""
        out: Floats = (np.arange(len(self.drive), dtype=np.float64) + 0.5) * CONTROL_S
        return out

    def pick(self, low: float, high: float) -> float:
        """Return a value drawn log-uniformly."""
        return between(self.rng, low, high)

    def gain(self) -> Floats:
        """Return the amplitude for each sample, drive**0.7 without steps and without sounding ahead."""
        held = np.repeat(self.drive**0.7, step_samples(self.rate))
        width = int(self.rate * self.pick(0.008, 0.045))
        total = np.concatenate((np.zeros(width), np.cumsum(held)))
        out: Floats = np.maximum(total[width:] - total[:-width], 0.0) / width
        return out

    def force(self, times: Floats) -> Floats:
        """Return the amplitude drive**0.7 at given times."""
        steps = np.clip((times / CONTROL_S).astype(np.int64), 0, len(self.drive) - 1)
        out: Floats = self.drive[steps] ** 0.7
        return out


def gate(s: Scene, tail_s: float) -> Floats:
    """Return 1 where driven, a fade to 0 over ``tail_s`` seconds after it, else 0."""
    on = np.repeat(s.drive > 0.0, step_samples(s.rate))
    places = np.arange(len(on))
    last = np.maximum.accumulate(np.where(on, places, -len(on) - s.rate * 9))
    left = np.clip(1.0 - (places - last) / (tail_s * s.rate), 0.0, 1.0)
    out: Floats = np.sqrt(left)
    return out


def bouts(drive: Floats) -> list[tuple[float, float]]:
    """Return begin and end in seconds of each unbroken stretch of drive.

    >>> bouts(np.array([0.0, 1.0, 1.0, 0.0]))
    [(0.05, 0.15)]
    """
    return [(round(a * CONTROL_S, 3), round(b * CONTROL_S, 3)) for a, b in stretches(drive > 0.0)]


def slow(rng: np.random.Generator, times: Floats, per_s: float) -> Floats:
    """Return a smoothly wandering value of about unit deviation, about ``per_s`` new values a second."""
    span = float(times[-1] - times[0]) if len(times) else 0.0
    knots = rng.standard_normal(int(span * per_s) + 3) * 1.25
    turns: Floats = (times - times[0]) * per_s + float(rng.random())
    out: Floats = np.interp(turns, np.arange(len(knots)), knots)
    return out


def paint(s: Scene, gains: Callable[[Floats, Floats], Floats] | Floats) -> Floats:
    """Return noise whose spectrogram has the wanted amplitudes: frames x bins, or one row for all frames."""
    hop = s.rate // _FRAMES_PER_S
    times = s.frame_times
    bins: Floats = np.fft.rfftfreq(2 * hop, 1.0 / s.rate).astype(np.float64)
    bins[0] = bins[1] / 2
    wanted = gains(times[:, None], bins[None, :]) if callable(gains) else gains
    shape = (len(times), len(bins))
    random = s.rng.standard_normal((*shape, 2), dtype=np.float32).view(np.complex64)[..., 0]
    frames = np.fft.irfft(random * wanted, 2 * hop, axis=1)
    frames *= np.sin(np.pi * (np.arange(2 * hop) + 0.5) / (2 * hop))
    laid = frames[1:, :hop] + frames[:-1, hop:]
    out: Floats = laid.ravel()[: s.n].astype(np.float64)
    return level(out)


def slope(f: Floats, corner_hz: Floats | float, below_db: float, above_db: float) -> Floats:
    """Return amplitudes that rise ``below_db`` an octave up to a corner and change ``above_db`` an octave past it."""
    octaves = np.log2(f / corner_hz)
    out: Floats = 10.0 ** ((np.minimum(octaves, 0.0) * below_db + np.maximum(octaves, 0.0) * above_db) / 20.0)
    return out


def hump(f: Floats, centre_hz: Floats | float, octaves: float) -> Floats:
    """Return a bell of amplitude 1 around a frequency."""
    out: Floats = np.exp(-0.5 * (np.log2(f / centre_hz) / octaves) ** 2)
    return out


def humps(rng: np.random.Generator, f: Floats, low: float, high: float, most: int) -> Floats:
    """Return 1 plus a few bells at drawn places: the colour that a vessel or pipe gives."""
    out = np.ones_like(f)
    for _ in range(int(rng.integers(0, most + 1))):
        out = out + rng.uniform(0.3, 4.0) * hump(f, between(rng, low, high), rng.uniform(0.06, 0.5))
    return out


def ring(x: Floats, rate: int, centre_hz: float, q: float) -> Floats:
    """Return the signal through one resonance, levelled."""
    from scipy.signal import iirpeak, lfilter

    b, a = iirpeak(min(centre_hz, 0.45 * rate), max(q, 0.5), fs=rate)
    out: Floats = lfilter(b, a, x)
    return level(out)


def times_of(s: Scene, rate_hz: Floats | float, regularity: float) -> Floats:
    """Return event times; the rate may change by control step, and 1 is wholly irregular, large is regular."""
    # A stronger flow breaks up oftener; what keeps a beat, as a shaft does, keeps it at any strength.
    quicker = s.rng.uniform(0.0, 0.35) if regularity < 8.0 else 0.0
    rates = np.where(s.drive > 0.0, rate_hz * s.drive**quicker, 0.0) * CONTROL_S
    passed = np.concatenate(([0.0], np.cumsum(rates)))
    count = int(passed[-1] * 1.3 + 6.0 * np.sqrt(passed[-1]) + 8)
    gaps = s.rng.gamma(regularity, 1.0 / regularity, count)
    turns = np.cumsum(gaps) - gaps[0] * s.rng.random()
    turns = turns[turns < passed[-1]]
    # Flat stretches of the passed rate have no turns of their own: a tiny lift keeps the inverse single-valued.
    lift = np.arange(len(passed)) * 1e-12
    out: Floats = np.interp(turns, passed + lift, np.arange(len(passed)) * CONTROL_S - 1e-9).clip(0.0)
    return out


def note(rate: int, hz: float, decay_s: float, *, glide: float = 0.0, attack_s: float = 0.0005) -> Floats:
    """Return a chirped ringing note; ``glide`` is the rise in octaves over one decay time."""
    n = max(8, int(rate * min(_MAX_GRAIN_S, 5.0 * decay_s + attack_s)))
    t = np.arange(n) / rate
    hz_t = np.minimum(hz * 2.0 ** (glide * np.minimum(t / decay_s, 3.0)), 0.45 * rate)
    body = np.sin(2.0 * np.pi * np.cumsum(hz_t) / rate) * np.exp(-t / decay_s)
    out: Floats = body * (1.0 - np.exp(-t / attack_s)) * np.minimum(1.0, (n - np.arange(n)) / (0.1 * n))
    return out


def puff(rng: np.random.Generator, rate: int, hz: float, octaves: float, *, rise_s: float, fall_s: float) -> Floats:
    """Return a burst of coloured noise with its own rise and fall."""
    n = max(16, int(rate * min(_MAX_GRAIN_S, rise_s + 4.0 * fall_s)))
    f = np.maximum(np.fft.rfftfreq(n, 1.0 / rate), 1.0)
    noise = np.fft.irfft(np.fft.rfft(rng.standard_normal(n)) * hump(f, hz, octaves), n)
    t = np.arange(n) / rate
    envelope = np.where(t < rise_s, (t / rise_s) ** 1.5, np.exp(-(t - rise_s) / fall_s))
    return level(noise * envelope * np.minimum(1.0, (n - np.arange(n)) / (0.1 * n)))


def lay(s: Scene, times: Floats, strengths: Floats, bank: list[Floats], choice: Ints | None = None) -> Floats:
    """Return the grains of a bank laid at their times; the strengths include the drive."""
    longest = max(len(grain) for grain in bank)
    out = np.zeros(s.n + longest)
    places = (times * s.rate).astype(np.int64).clip(0, max(s.n - 1, 0))
    which = s.rng.integers(0, len(bank), len(times)) if choice is None else choice
    for k, grain in enumerate(bank):
        mine = which == k
        spots = places[mine, None] + np.arange(len(grain))
        np.add.at(out, spots.ravel(), (strengths[mine, None] * grain).ravel())
    return out[: s.n]


def bubbles(s: Scene, low: float, high: float, times: Floats, *, spread: float = 0.6, q: float = 18.0) -> Floats:
    """Return levelled bubble notes between two frequencies; Minnaert's f = 3.28 kHz / r(mm) gives the sizes."""
    rising = s.rng.random() < 0.7
    bank = []
    for hz in np.geomspace(low, min(high, 0.42 * s.rate), 32) * np.exp(0.03 * s.rng.standard_normal(32)):
        decay = s.pick(0.6, 1.6) * q / (np.pi * hz)
        glide = s.rng.uniform(0.0, 0.35) if rising else s.rng.uniform(-0.05, 0.05)
        bank.append(note(s.rate, float(hz), decay, glide=glide, attack_s=s.pick(0.1, 1.0) / float(hz)))
    # Small bubbles are the many and the faint ones; where the middle of the sizes lies differs from drain to drain.
    centre, width = s.rng.uniform(4, 27), s.rng.uniform(3, 11)
    which = np.clip(s.rng.normal(centre, width, len(times)), 0, 31).astype(np.int64)
    strengths = np.exp(spread * s.rng.standard_normal(len(times))) * (low / high) ** (0.4 * which / 31)
    return level(lay(s, times, strengths * s.force(times), bank, which))


def rasp(s: Scene, per_s: float, depth: float, jitter: float) -> Floats:
    """Return a pulsing gain for each sample: steep rises and quick falls at a jittering rate, as of lips or film."""
    t = np.arange(s.n) / s.rate
    knots = np.arange(int(s.n / s.rate * per_s * 2.2) + 4)
    gaps = np.exp(jitter * s.rng.standard_normal(len(knots)))
    turns = np.interp(t * per_s, np.cumsum(gaps), knots)
    inside = turns % 1.0
    sizes = np.exp(0.35 * jitter * 3.0 * s.rng.standard_normal(len(knots) + 2))[turns.astype(np.int64)]
    edge = s.pick(0.05, 0.5)
    pulse = np.minimum(inside / edge, 1.0) * np.exp(-s.pick(1.0, 5.0) * np.maximum(inside - edge, 0.0)) * sizes
    out: Floats = 1.0 - depth + depth * pulse
    return out


@dataclass(frozen=True)
class Gulps:
    """Envelopes of gulps inside the bouts: how loud, how far into the gulp and into the bout, at each time."""

    loud: Floats
    within: Floats
    along: Floats


def gulps(s: Scene, times: Floats, per_s: float, *, gap: float, lean: float, unbroken: bool) -> Gulps:
    """Return gulps in every bout; ``gap`` is the silent share of each, ``lean`` where in it the peak lies (0 to 1)."""
    loud, within, along = np.zeros_like(times), np.zeros_like(times), np.zeros_like(times)
    last = s.pick(0.7, 2.2)
    for begin, end in bouts(s.drive):
        inside = (times >= begin) & (times < end)
        t = times[inside] - begin
        length = end - begin
        count = 1 if unbroken and length < 8.0 else max(1, round(length * per_s * s.pick(0.7, 1.4)))
        gaps = s.rng.gamma(s.pick(2.0, 30.0), 1.0, count)
        edges = np.concatenate(([0.0], np.cumsum(gaps))) * length / gaps.sum()
        which = np.clip(np.searchsorted(edges, t, side="right") - 1, 0, count - 1)
        spot = (t - edges[which]) / (edges[which + 1] - edges[which])
        share = spot / (1.0 - gap)
        shape = np.where(share < lean, share / lean, np.maximum(1.0 - share, 0.0) / (1.0 - lean)) ** s.pick(0.3, 1.2)
        sizes = np.exp(0.35 * s.rng.standard_normal(count))
        sizes[-1] *= last
        loud[inside], within[inside] = shape * sizes[which], np.minimum(share, 1.0)
        along[inside] = t / length
    return Gulps(loud, within, along)
