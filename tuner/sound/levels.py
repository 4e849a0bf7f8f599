"""Level statistics of a stretch of sound: LAeq, exceedance levels, LAFmax and third-octaves.

The A-curve of IEC 61672-1 is applied to the bins of the frames' power, not by a filter, so nothing is bent
towards the Nyquist frequency. A frame resolves about 23 Hz: a tone's A-weighted level is right within
0.25 dB from 100 Hz upwards and reads too high, never too low, below (0.9 dB at 63 Hz, 1.6 dB at 50 Hz,
where the curve takes 26 and 30 dB off). Third-octaves up to 400 Hz come from spectra of 0.8 s and do not
share this limit.
"""

from __future__ import annotations

import math

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from tuner.errors import ConfigError
from tuner.sound.bands import band_weights, nominal_hz, third_octave_centres_hz, third_octave_edges_hz
from tuner.sound.decibels import SILENCE_DB, level_db
from tuner.sound.frames import (
    FRAMES_PER_SLAB,
    Framer,
    Slab,
    frame_frequencies_hz,
    hann_window,
    hop_length,
    require_sample_rate,
    slab_length,
)
from tuner.sound.weighting import a_weighting_power
from tuner.terms import Levels

# IEC 61672-1: the time constant of the FAST time weighting.
FAST_S = 0.125
LEAST_SOUND_S = 1.0
LOWEST_BAND_HZ = 25.0
HIGHEST_BAND_HZ = 16000.0
# Up to here spectra of 0.8 s give the bands: a 42.7 ms frame's main lobe (94 Hz) does not fit into them.
LAST_LONG_BAND_HZ = 400.0

_HISTOGRAM_STEP_DB = 0.1
_HISTOGRAM_TOP_DB = 60.0

Floats = NDArray[np.float64]


class _LongBands:
    """Average the power below ``LAST_LONG_BAND_HZ`` over Hann windows of eight slabs, two slabs apart.

    The squares of these windows add up to a constant, so a burst counts the same wherever it falls. Only
    windows that lie wholly inside an unbroken run of slabs are taken (a mirrored end would smear a tone
    into its neighbours): the outermost 0.6 s of a run count for less.
    """

    _WINDOW_SLABS = 8
    _STEP_SLABS = 2

    def __init__(self, sample_rate: int, n_bins: int) -> None:
        self._slab = slab_length(sample_rate)
        length = self._WINDOW_SLABS * self._slab
        window = hann_window(length)
        self._window = window.astype(np.float32)
        # One-sided, Parseval; the bin at 0 Hz lies below every band.
        self._scale = 2.0 / (length * float(np.sum(window**2)))
        self._buffer = np.zeros(length, dtype=np.float32)
        self._n_bins = n_bins
        self.reset()

    def reset(self) -> None:
        self._sum = np.zeros(self._n_bins)
        self._count = 0
        self.restart()

    def restart(self) -> None:
        """Begin a new run after a gap; what was summed stays."""
        self._fill = 0

    def update(self, samples: NDArray[np.float32]) -> None:
        """Take the samples of the next slab of the run."""
        self._buffer[self._fill : self._fill + self._slab] = samples
        self._fill += self._slab
        if self._fill < self._buffer.size:
            return
        spectrum = scipy.fft.rfft(self._buffer * self._window)[: self._n_bins]
        self._sum += spectrum.real.astype(np.float64) ** 2 + spectrum.imag.astype(np.float64) ** 2
        self._count += 1
        self._fill = (self._WINDOW_SLABS - self._STEP_SLABS) * self._slab
        self._buffer[: self._fill] = self._buffer[-self._fill :].copy()

    def mean_power(self) -> Floats | None:
        """Return the mean square per bin, or None before the first whole window."""
        return self._sum * (self._scale / self._count) if self._count else None

    @classmethod
    def frequencies_hz(cls, sample_rate: int) -> Floats:
        """Return the frequencies (Hz) of all bins up to the Nyquist frequency."""
        length = cls._WINDOW_SLABS * slab_length(sample_rate)
        return np.arange(length // 2 + 1, dtype=np.float64) * (sample_rate / length)


class LevelMeter:
    """Gather the levels of a stream of slabs; ``levels`` may be asked at any time after one second.

    Exceedance levels are those of the A-weighted FAST level, sampled every 0.1 s and kept in a histogram of
    0.1 dB steps; the FAST detector starts at the level of its first slab instead of at nothing. A slab that
    does not follow the one before it is a gap: detector and long spectra start anew, what was
    gathered stays. Memory does not grow with time.

    Parameters
    ----------
    sample_rate
        Hz.
    offset_db
        What to add to levels re full scale to give dB re 20 µPa; None when the microphone is not calibrated.
    """

    def __init__(self, sample_rate: int, offset_db: float | None = None) -> None:
        self.sample_rate = require_sample_rate(sample_rate)
        if offset_db is not None and not math.isfinite(offset_db):
            raise ConfigError(f"offset_db={offset_db!r} must be finite: calibrate again")
        self.offset_db = offset_db
        self._slab_samples = slab_length(sample_rate)
        frequencies_hz = frame_frequencies_hz(sample_rate)
        self._a_power = a_weighting_power(frequencies_hz)
        centres_hz = third_octave_centres_hz(LOWEST_BAND_HZ, HIGHEST_BAND_HZ)
        edges_hz = third_octave_edges_hz(centres_hz)
        inside = edges_hz[:, 1] <= sample_rate / 2.0
        self._names_hz = tuple(nominal_hz(float(f)) for f in centres_hz[inside])
        from_long = edges_hz[:, 1] < LAST_LONG_BAND_HZ * 10.0**0.1
        self._short_weights = band_weights(frequencies_hz, edges_hz[inside & ~from_long])
        long_weights = band_weights(_LongBands.frequencies_hz(sample_rate), edges_hz[from_long])
        n_bins = int(np.flatnonzero(long_weights.any(axis=0))[-1]) + 1
        self._long_weights = long_weights[:, :n_bins].copy()
        self._long = _LongBands(sample_rate, n_bins)
        decay = math.exp(-hop_length(sample_rate) / sample_rate / FAST_S)
        steps = np.arange(FRAMES_PER_SLAB)
        # Row i: how the slab's frames stand in the FAST level after frame i.
        self._fast_gain = np.tril((1.0 - decay) * decay ** np.abs(steps[:, None] - steps[None, :]))
        self._fast_carry = decay ** (steps + 1.0)
        self.reset()

    def reset(self) -> None:
        """Forget everything that was heard; the calibration stays."""
        self._long.reset()
        self._power = np.zeros(self._a_power.size)
        self._slabs = 0
        self._counts = np.zeros(round((_HISTOGRAM_TOP_DB - SILENCE_DB) / _HISTOGRAM_STEP_DB), dtype=np.int64)
        self._fast_max = 0.0
        self._fast: float | None = None
        self._next: int | None = None

    @property
    def duration_s(self) -> float:
        """Seconds of sound gathered so far."""
        return self._slabs * self._slab_samples / self.sample_rate

    @property
    def laf_db(self) -> float | None:
        """Newest A-weighted FAST level (dB), or None before the first slab."""
        return None if self._fast is None else level_db(self._fast) + (self.offset_db or 0.0)

    def update(self, slab: Slab) -> None:
        """Take the next slab.

        Raises ConfigError, and takes nothing, when the slab belongs to another sample rate.
        """
        if slab.samples.size != self._slab_samples:
            raise ConfigError(
                f"slab.samples of length {slab.samples.size} must have {self._slab_samples} samples: "
                "the slab comes from another sample rate"
            )
        power = slab.power.astype(np.float64)
        a_power = power @ self._a_power
        if self._next != slab.start:
            self._long.restart()
            self._fast = float(a_power.mean())
        assert self._fast is not None
        fast = self._fast_gain @ a_power + self._fast_carry * self._fast
        self._fast = float(fast[-1])
        self._fast_max = max(self._fast_max, float(fast.max()))
        place = int((level_db(self._fast) - SILENCE_DB) / _HISTOGRAM_STEP_DB)
        self._counts[min(place, self._counts.size - 1)] += 1
        self._power += power.sum(axis=0)
        self._long.update(slab.samples)
        self._slabs += 1
        self._next = slab.start + self._slab_samples

    def _exceeded_db(self, share: float) -> float:
        """Return the level (dB re full scale) that the FAST level exceeded for ``share`` of the time."""
        above = np.cumsum(self._counts[::-1])
        wanted = share * self._slabs
        place = int(np.searchsorted(above, wanted))
        count = int(self._counts[::-1][place])
        into = (wanted - (int(above[place]) - count)) / count
        return SILENCE_DB + (self._counts.size - place - into) * _HISTOGRAM_STEP_DB

    def levels(self) -> Levels:
        """Return the levels of everything since the last reset; third-octaves by their nominal centres.

        Levels are dB re 20 µPa when there is an offset, dB re full scale otherwise (a full-scale sine at
        1 kHz: -3.01 dB). Digital silence reads -200 dB re full scale.

        Raises ConfigError with less than one second of sound, or when gaps leave no unbroken 0.8 s.
        """
        long_power = self._long.mean_power()
        if self._slabs < round(LEAST_SOUND_S * self.sample_rate / self._slab_samples):
            raise ConfigError(
                f"duration_s={self.duration_s:.1f} must be at least {LEAST_SOUND_S:.1f}: listen for longer"
            )
        if long_power is None:
            raise ConfigError("the sound must hold an unbroken 0.8 s: too many gaps, check the source")
        mean = self._power / (self._slabs * FRAMES_PER_SLAB)
        bands = np.concatenate([self._long_weights @ long_power, self._short_weights @ mean])
        offset_db = self.offset_db or 0.0
        fast_max_db = level_db(self._fast_max)
        # A histogram step may reach past the greatest value in it.
        la10, la50, la90 = (min(self._exceeded_db(share), fast_max_db) for share in (0.1, 0.5, 0.9))
        return Levels(
            laeq_db=level_db(float(mean @ self._a_power)) + offset_db,
            la10_db=la10 + offset_db,
            la50_db=la50 + offset_db,
            la90_db=la90 + offset_db,
            lafmax_db=fast_max_db + offset_db,
            third_octave_hz=self._names_hz,
            third_octave_db=tuple(level_db(float(band)) + offset_db for band in bands),
            calibrated=self.offset_db is not None,
        )


def measure_levels(samples: NDArray[np.floating], sample_rate: int, offset_db: float | None = None) -> Levels:
    """Return the levels of mono ``samples``, shape (n,), float in [-1, 1]: the stream read at once.

    What is left after the last full 0.1 s is not counted. ``offset_db`` calibrates, as in LevelMeter.

    Raises ConfigError with less than one second of sound.
    """
    framer, meter = Framer(sample_rate), LevelMeter(sample_rate, offset_db)
    for slab in framer.push(samples) + framer.flush():
        meter.update(slab)
    return meter.levels()
