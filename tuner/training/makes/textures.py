"""Textures: shaped noise, throngs of notes and the ways in which they swell, each in one go for a whole scene.

The pieces from which ``otherwise`` builds its sounds. Everything is relative: noise and notes have about unit power,
swells about unit mean square.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.voices.grains import GrainBank, GrainStream

Floats = NDArray[np.float64]

_CONTROL_HZ = 200.0  # points of a slow swell each second
_NOTES = 160
_LONGEST_NOTE_S = 0.25
_REACH = 6.0  # decays after which a note is cut


@dataclass(frozen=True, slots=True)
class Band:
    """The spectrum of a noise: edges, slopes beyond and tilt between them (dB an octave), ripple, one resonance."""

    low_hz: float
    high_hz: float
    below_db: float = 12.0
    above_db: float = 12.0
    tilt_db: float = 0.0
    ripple_db: float = 2.0
    peak_hz: float = 0.0
    peak_db: float = 0.0
    peak_octaves: float = 0.3


@dataclass(frozen=True, slots=True)
class Notes:
    """A throng of dying notes.

    ``rate_hz`` notes a second in groups of ``group`` within ``within_s``; pitches from ``low_hz`` to ``high_hz``
    (the lower ones stronger by ``growth``), ringing for ``cycles`` to a decay of 1/e; ``rising`` is the pitch's rise
    over a decay, ``spread`` that of the strengths in nepers.
    """

    rate_hz: float
    low_hz: float
    high_hz: float
    cycles: float
    group: float = 1.0
    within_s: float = 0.05
    growth: float = 0.5
    rising: float = 0.1
    spread: float = 0.6


def noise(rng: np.random.Generator, sample_rate: int, n: int, band: Band) -> Floats:
    """Return n samples of noise of unit power with the spectrum of the band."""
    bins = np.maximum(np.fft.rfftfreq(n, 1.0 / sample_rate), 5.0)
    octave = np.log2(bins)
    level_db = band.tilt_db * (octave - np.log2(band.low_hz))
    level_db = level_db - band.below_db * np.maximum(0.0, np.log2(band.low_hz) - octave)
    level_db = level_db - band.above_db * np.maximum(0.0, octave - np.log2(band.high_hz))
    thirds = np.arange(np.log2(20.0), np.log2(24_000.0), 1.0 / 3.0)
    level_db = level_db + np.interp(octave, thirds, band.ripple_db * rng.standard_normal(thirds.size))
    if band.peak_db:
        level_db = level_db + band.peak_db * np.exp(-(((octave - np.log2(band.peak_hz)) / band.peak_octaves) ** 2))
    shaped = np.fft.irfft(np.fft.rfft(rng.standard_normal(n)) * 10.0 ** (level_db / 20.0), n)
    out: Floats = shaped / (float(np.sqrt(np.mean(shaped**2))) + 1e-30)
    return out


def throng(rng: np.random.Generator, sample_rate: int, drive: Floats, step: int, notes: Notes) -> Floats:
    """Return the notes that fall while driven: ``drive`` (one value for each control step of ``step`` samples)."""
    high_hz = min(notes.high_hz, 0.45 * sample_rate)
    low_hz = min(notes.low_hz, 0.8 * high_hz)
    bank = []
    for pitch_hz in np.exp(rng.uniform(np.log(low_hz), np.log(high_hz), _NOTES)).tolist():
        decay_s = notes.cycles / pitch_hz * float(np.exp(0.3 * rng.standard_normal()))
        t = np.arange(max(8, int(min(_LONGEST_NOTE_S, _REACH * decay_s) * sample_rate))) / sample_rate
        sweep = 2.0 * np.pi * pitch_hz * t * (1.0 + 0.5 * notes.rising * t / decay_s)
        fade = np.minimum(1.0, (t.size - np.arange(t.size)) / (0.1 * t.size))
        bank.append(
            (pitch_hz / low_hz) ** -notes.growth * np.sin(sweep) * np.exp(-t / decay_s) * fade
            * np.minimum(1.0, t * pitch_hz)
        )
    grains = GrainBank(bank)
    stream = GrainStream(grains, rng, notes.spread)
    expected = notes.rate_hz / notes.group * np.sqrt(drive) * (step / sample_rate)
    parents = np.repeat(np.arange(drive.size), rng.poisson(expected))
    starts = (parents + rng.random(parents.size)) * step
    children = np.maximum(1, rng.poisson(notes.group, starts.size))
    offsets = rng.exponential(notes.within_s * sample_rate, int(children.sum()))
    at = np.repeat(starts, children) + np.where(np.repeat(children, children) > 1, offsets, 0.0)
    gains = np.repeat(np.sqrt(np.maximum(drive[parents], 0.0)), children) / np.sqrt(notes.rate_hz / sample_rate)
    n = drive.size * step
    kept = at < n
    stream.scatter(at[kept].astype(np.int64), gains[kept])
    return stream.take(n)


def swell(rng: np.random.Generator, sample_rate: int, n: int, corner_hz: float, depth: float) -> Floats:
    """Return a log-normal swell with a spread of ``depth`` nepers and memory for fluctuations below ``corner_hz``."""
    from scipy.signal import lfilter

    points = int(n / sample_rate * _CONTROL_HZ) + 2
    keep = float(np.exp(-2.0 * np.pi * min(corner_hz, 60.0) / _CONTROL_HZ))
    fresh = rng.standard_normal(points + 64) * np.sqrt(1.0 - keep**2)
    walked = lfilter([1.0], [1.0, -keep], fresh)[64:]
    return _spread_out(np.exp(depth * walked - depth**2), n)


def rasp(rng: np.random.Generator, sample_rate: int, n: int, from_hz: float, to_hz: float, depth: float) -> Floats:
    """Return a fast rough swing that wanders between two rates, 1 - depth to 1, its shape drawn from soft to pulsed."""
    points = max(2, int(n / sample_rate * 4.0) + 2)
    rate_hz = _spread_out(np.exp(rng.uniform(np.log(from_hz), np.log(to_hz), points)), n)
    turns = np.cumsum(rate_hz) / sample_rate + 0.15 * _spread_out(rng.standard_normal(points * 6), n)
    pulse = (0.5 + 0.5 * np.cos(2.0 * np.pi * turns)) ** float(rng.uniform(0.7, 4.0))
    return 1.0 - depth + depth * pulse


def patter(rng: np.random.Generator, sample_rate: int, n: int, rate_hz: float, fall_s: float) -> Floats:
    """Return an envelope of blows at random times, each dying away with ``fall_s``; its mean square is about 1."""
    from scipy.signal import lfilter

    blows = np.zeros(n)
    count = int(rng.poisson(rate_hz * n / sample_rate))
    np.add.at(blows, rng.integers(0, n, count), np.exp(0.7 * rng.standard_normal(count)))
    rise, fall = np.exp(-1.0 / (0.001 * sample_rate)), np.exp(-1.0 / (fall_s * sample_rate))
    envelope = lfilter([1.0 - rise], [1.0, -rise], lfilter([1.0], [1.0, -fall], blows))
    out: Floats = envelope / (float(np.sqrt(np.mean(envelope**2))) + 1e-30)
    return out


def _spread_out(points: Floats, n: int) -> Floats:
    """Stretch points over n samples, with straight lines between them."""
    out: Floats = np.interp(np.arange(n), np.linspace(0.0, n - 1.0, points.size), points)
    return out
