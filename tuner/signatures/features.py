"""The named features that the signatures weigh: every half second one number for each name.

Groups, each a pure function of the memory:

- *shape*: where the energy lies now (octave levels re their sum, tilt, flatness);
- *excess*: how far each octave stands over its own quiet of the last 10 s (a burst shows its own spectrum
  even when a steady noise is louder);
- *grain*: how the 5 ms envelopes of five octaves are distributed: noise through a hole is smooth, drops and
  bubbles are spiky with sudden starts and slower ends;
- *notes*: spectral peaks over their neighbourhood, whether they stay (tones, music, voices) or vanish within
  50-150 ms (bubbles), and pitch;
- *rhythm*: fluctuation strength in decibels by modulation frequency, 0.4-100 Hz, in low, middle and high
  bands: glugs flutter at 8-40 Hz, gulps come 2-4 a second, speech has syllables, water through air is even;
- *weave*: how the envelopes of narrow bands go together: bubbles ring one by one, knocks and voices everywhere at once;
- *course*: the level against its own last 5, 30 and 120 s, its slope, and the strength of a regular return.

Levels enter only as differences, so that gain and distance do not matter. All features are finite; bands
that the sample rate does not carry read as empty (see ``NO_BAND_DB``).
"""

from __future__ import annotations

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from tuner.signatures.memory import DETAIL_SLABS, SLABS_PER_S, Memory
from tuner.signatures.weave import WEAVE_NAMES, weave
from tuner.sound.frames import FRAMES_PER_SLAB
from tuner.sound.texture import FAST_PER_SLAB

Vector = NDArray[np.float64]

NO_BAND_DB = -60.0
_OCTAVES = (("125", 0, 2), ("250", 2, 5), ("500", 5, 8), ("1k", 8, 11), ("2k", 11, 14), ("4k", 14, 17),
            ("6k", 17, 19), ("10k", 19, 22))
_BROAD = (("low", 1, 9), ("mid", 9, 15), ("high", 15, 19))
_FAST = ("500", "1k", "2k", "4k", "8k")
_SLOW_HZ = ((0.4, 1.0), (1.0, 2.0), (2.0, 4.0), (4.0, 8.0), (8.0, 16.0), (16.0, 45.0))
_QUICK_HZ = ((12.0, 25.0), (25.0, 50.0), (50.0, 110.0))
_FRAME_RATE = FRAMES_PER_SLAB * SLABS_PER_S
_FAST_RATE = FAST_PER_SLAB * SLABS_PER_S
_GULP_LAGS = (3, 12)  # slabs: gulps return every 0.3 to 1.2 s

NAMES: tuple[str, ...] = (
    *(f"shape {n}" for n, _, _ in _OCTAVES), "tilt", "flat low", "flat high", "centroid",
    *(f"excess {n}" for n, _, _ in _OCTAVES[:7]),
    *(f"spread {n}" for n in _FAST), *(f"crest {n}" for n in _FAST), *(f"skew {n}" for n in _FAST),
    *(f"attack {n}" for n in _FAST), "clicks mid", "clicks high", "together",
    "notes low", "notes mid", "notes high", "stay 50", "stay 150", "pitch", "pitch change",
    *(f"rhythm {b} {lo:g}-{hi:g}" for b, _, _ in _BROAD for lo, hi in _SLOW_HZ),
    *(f"flutter {o} {lo:g}-{hi:g}" for o in _FAST[:4] for lo, hi in _QUICK_HZ),
    "range 1", "range 5", "range 30", "over 5", "over 30", "over 120", "slope", "gulp return", "regular return",
    *WEAVE_NAMES,
)


def measure(memory: Memory) -> Vector:
    """Return the features, shape (len(NAMES),), of the newest second in its context.

    Raises
    ------
    ValueError
        When fewer than 10 slabs (1 s) are in memory.
    """
    if memory.slabs < SLABS_PER_S:
        raise ValueError(f"memory.slabs={memory.slabs} must be at least {SLABS_PER_S}: listen for a second first")
    parts = (_shape(memory), _excess(memory), _grain(memory), _notes(memory), _rhythm(memory), _course(memory),
             weave(memory))
    return np.concatenate(parts)


def _db(power: NDArray[np.floating]) -> Vector:
    return np.asarray(10.0 * np.log10(np.maximum(power, 1e-20).astype(np.float64)))


def _octaves(thirds: NDArray[np.floating]) -> Vector:
    return np.stack([thirds[..., a:b].sum(axis=-1, dtype=np.float64) for _, a, b in _OCTAVES], axis=-1)


def _shape(memory: Memory) -> Vector:
    thirds = memory.bands(SLABS_PER_S).mean(axis=0, dtype=np.float64)
    octaves = _db(_octaves(thirds)) - _db(np.array(thirds[1:19].sum()))
    octaves = np.maximum(octaves, NO_BAND_DB)
    third_db = _db(thirds[1:19])
    index = np.arange(third_db.size) - (third_db.size - 1) / 2
    tilt = float(index @ third_db / (index @ index))
    flat_low = _flatness(thirds[1:9])
    flat_high = _flatness(thirds[9:19])
    weights = thirds[1:19] / thirds[1:19].sum()
    centroid = float(weights @ np.arange(18))
    return np.concatenate([octaves, [tilt, flat_low, flat_high, centroid]])


def _flatness(power: Vector) -> float:
    return float(_db(power).mean() - _db(np.array(power.mean())))


def _excess(memory: Memory) -> Vector:
    trace = _octaves(memory.trace(10 * SLABS_PER_S))[:, :7]
    quiet = np.partition(trace, len(trace) // 10, axis=0)[len(trace) // 10]
    return _db(trace[-SLABS_PER_S:].mean(axis=0)) - _db(quiet)


def _grain(memory: Memory) -> Vector:
    power_db = _db(memory.fast(2 * SLABS_PER_S))
    middle = np.median(power_db, axis=0)
    centred = power_db - middle
    spread = power_db.std(axis=0)
    crest = np.partition(centred, int(0.98 * len(centred)), axis=0)[int(0.98 * len(centred))]
    safe = spread + 0.1
    skew = _cubed(power_db) / safe**3
    rise = np.diff(power_db, axis=0)
    attack = _cubed(rise) / (rise.std(axis=0) + 0.1) ** 3
    sharp = (rise[1:] + rise[:-1]) > 9.0  # 9 dB within 5 ms: only a click, a drop or a bubble starts so fast
    rate = sharp.mean(axis=0) * _FAST_RATE
    together = float(np.corrcoef(power_db[:, 1], power_db[:, 3])[0, 1]) if spread.min() > 1e-6 else 0.0
    return np.concatenate([spread, crest, skew, attack, [rate[1:3].mean(), rate[3], together]])


def _cubed(values: Vector) -> Vector:
    """Third central moment of each column."""
    centred = values - values.mean(axis=0)
    return np.asarray((centred * centred * centred).mean(axis=0))


def _notes(memory: Memory) -> Vector:
    notes = memory.notes(2 * SLABS_PER_S).astype(np.float64)
    return np.concatenate([notes.mean(axis=0), [notes[:, 5].std()]])


def _bands_of(series_db: Vector, rate_hz: float, bands_hz: tuple[tuple[float, float], ...]) -> Vector:
    """Fluctuation (dB, standard deviation) of each column within each modulation band, shape (n_columns, n_bands)."""
    n = len(series_db)
    window = np.hanning(n)[:, None]
    spectrum = np.abs(scipy.fft.rfft((series_db - series_db.mean(axis=0)) * window, axis=0)) ** 2
    spectrum *= 2.0 / (n * float(np.sum(window**2)))
    frequency = np.arange(len(spectrum)) * rate_hz / n
    sums = [spectrum[(frequency >= lo) & (frequency < hi)].sum(axis=0) for lo, hi in bands_hz]
    return np.asarray(np.sqrt(np.stack(sums, axis=1)))


def _rhythm(memory: Memory) -> Vector:
    frames = memory.bands(DETAIL_SLABS)
    broad = np.stack([frames[:, a:b].sum(axis=1) for _, a, b in _BROAD], axis=1)
    slow = _bands_of(_db(broad), _FRAME_RATE, _SLOW_HZ)
    quick = _bands_of(_db(memory.fast(SLABS_PER_S)[:, :4]), _FAST_RATE, _QUICK_HZ)
    return np.concatenate([slow.ravel(), quick.ravel()])


def _course(memory: Memory) -> Vector:
    trace = _db(memory.trace_level(120 * SLABS_PER_S))
    now = trace[-SLABS_PER_S:]
    five, thirty = trace[-5 * SLABS_PER_S :], trace[-30 * SLABS_PER_S :]
    level = float(_db(memory.level(SLABS_PER_S).mean(keepdims=True))[0])
    (tenth_5, low_5, high_5), (tenth_30, low_30, high_30) = (np.quantile(x, (0.1, 0.05, 0.95)) for x in (five, thirty))
    recent = trace[-2 * SLABS_PER_S :]
    slope = float(recent[len(recent) // 2 :].mean() - recent[: len(recent) // 2].mean())
    return np.array([
        now.max() - now.min(), high_5 - low_5, high_30 - low_30,
        level - tenth_5, level - tenth_30, level - np.quantile(trace, 0.1), slope, _return(five, *_GULP_LAGS),
        _return(thirty, 12, 150),
    ])


def _return(level_db: Vector, shortest: int, longest: int) -> float:
    """Highest normalised autocorrelation of a level between two lags (slabs), 0 when it is too short or steady."""
    n = len(level_db)
    longest = min(longest, n // 2)
    centred = level_db - level_db.mean()
    energy = float(centred @ centred)
    if longest <= shortest or energy < 1e-6:
        return 0.0
    acf = scipy.fft.irfft(np.abs(scipy.fft.rfft(centred, 2 * n)) ** 2)[:n]
    values = acf[shortest : longest + 1] / (energy * (1 - np.arange(shortest, longest + 1) / n))
    return float(np.clip(values.max(), 0.0, 1.0))
