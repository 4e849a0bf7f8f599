"""Texture: what one slab (0.1 s) of sound is like, in a few small arrays.

Everything that the signatures know is drawn from these arrays, so that memory stays small however long one
listens. A texture holds band powers of the ten frames of the slab, the fast envelopes of five octaves
(40 values in 0.1 s, from 5 ms windows: short enough to see a single drop or bubble start), and how peaky,
persistent and pitched the spectrum is. Pure arithmetic on a slab, plus one small state: the last samples
and the last spectra, since a fast window and a persistence look back over the seam.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from tuner.sound.bands import band_weights, third_octave_edges_hz
from tuner.sound.frames import FRAMES_PER_SLAB, Slab, frame_frequencies_hz, slab_length
from tuner.sound.weighting import a_weighting_db

Array = NDArray[np.float32]

THIRD_CENTRES_HZ: tuple[float, ...] = (
    100,
    125,
    160,
    200,
    250,
    315,
    400,
    500,
    630,
    800,
    1000,
    1250,
    1600,
    2000,
    2500,
    3150,
    4000,
    5000,
    6300,
    8000,
    10000,
    12500,
)
"""Third-octaves of a texture; those that reach above the Nyquist frequency hold 0."""

FAST_OCTAVES_HZ: tuple[tuple[float, float], ...] = (
    (355, 710),
    (710, 1420),
    (1420, 2840),
    (2840, 5680),
    (5680, 11360),
)
FAST_PER_SLAB = 40
NARROW_EDGES_HZ: tuple[float, ...] = (250, 355, 500, 710, 1000, 1420, 2000, 2840, 4000, 5680, 8000, 11360)
"""Edges of the narrow bands, half an octave each."""
NARROW_PER_SLAB = 20
NARROW_WINDOW_S = 0.0106  # resolves half octaves from 500 Hz up and still sees a bubble start
FAST_WINDOW_S = 0.0053
PEAK_REGIONS_HZ: tuple[tuple[float, float], ...] = ((250, 600), (600, 1500), (1500, 3500))
PEAK_EXCESS_DB = 6.0  # a Hann-windowed Gaussian noise bin stands this far over its neighbours 1-2 % of the time
PERSISTENCE_LAGS = (5, 15)  # frames: 50 ms, longer than most bubbles' ring; 150 ms, longer than all
_LOCAL_BINS = 9  # half width, in bins, of the neighbourhood that a spectral peak is compared with
_FLOOR = 1e-18  # mean square of a third-octave far below the last bit of any recording


@dataclass(frozen=True, slots=True)
class Texture:
    """One slab's texture.

    ``start`` is the sample index of the slab. ``thirds`` (22,) are mean-square powers of the third-octaves,
    ``level`` (10,) A-weighted mean squares of the frames, ``bands`` (10, 22) third-octave powers of each
    frame, ``fast`` (40, 5) powers of the fast octaves, ``narrow`` (20, 11) powers of half octaves, ``peaks`` (3,)
    the mean excess in decibels of spectral peaks over their neighbourhood in three regions, ``persistence`` (2,)
    how far the same peaks stood 50 and 150 ms earlier (correlation, -1 to 1), ``pitch`` the strength of a pitch of
    80-500 Hz (0-1), ``clipped`` how many samples stood at full scale.
    """

    start: int
    thirds: Array
    level: Array
    bands: Array
    fast: Array
    narrow: Array
    peaks: Array
    persistence: Array
    pitch: float
    clipped: int


class Envelopes:
    """Band powers from short windows, so many for each slab; the last samples are kept, since a window looks back."""

    def __init__(self, sample_rate: int, window_s: float, per_slab: int, edges_hz: NDArray[np.floating]) -> None:
        length = scipy.fft.next_fast_len(max(16, round(sample_rate * window_s)), real=True)
        starts = np.round(np.arange(per_slab) * slab_length(sample_rate) / per_slab).astype(np.intp)
        self._index = starts[:, None] + np.arange(length)
        self._window = np.hanning(length + 1)[:-1].astype(np.float32)
        bins_hz = np.arange(length // 2 + 1) * sample_rate / length
        self._weights = np.zeros((bins_hz.size, len(edges_hz) - 1), dtype=np.float32)
        for i, (low, high) in enumerate(pairwise(edges_hz)):
            inside = (bins_hz >= low) & (bins_hz < high) & (bins_hz < sample_rate / 2)
            self._weights[inside, i] = 2.0 / (length * float(np.sum(self._window**2)))
        self.reset()

    def reset(self) -> None:
        """Be as new."""
        self._tail = np.zeros(self._window.size, dtype=np.float32)

    def push(self, samples: NDArray[np.float32]) -> Array:
        """Return mean squares, shape (per_slab, n_bands), for the samples of the next slab."""
        joined = np.concatenate([self._tail, samples])
        self._tail = samples[-self._window.size :].copy()
        spectra = scipy.fft.rfft(joined[self._index] * self._window, axis=1, overwrite_x=True)
        power = spectra.real**2 + spectra.imag**2
        bands: Array = power @ self._weights + np.float32(_FLOOR)
        return bands


class Texturer:
    """Turn slabs into textures. ``push`` gives one texture for each slab; ``reset`` forgets the last slab."""

    def __init__(self, sample_rate: int) -> None:
        self.sample_rate = sample_rate
        frequencies = frame_frequencies_hz(sample_rate)
        nyquist = sample_rate / 2
        edges = third_octave_edges_hz(THIRD_CENTRES_HZ)
        self.usable = edges[:, 1] <= nyquist
        weights = np.zeros((len(THIRD_CENTRES_HZ), frequencies.size))
        weights[self.usable] = band_weights(frequencies, edges[self.usable])
        self._band_weights = np.ascontiguousarray(weights.T, dtype=np.float32)
        curve = np.zeros(frequencies.size)
        curve[1:] = 10 ** (a_weighting_db(frequencies[1:]) / 10)
        self._a_curve = curve.astype(np.float32)
        octaves = np.array([FAST_OCTAVES_HZ[0][0], *(high for _, high in FAST_OCTAVES_HZ)])
        self._fast = Envelopes(sample_rate, FAST_WINDOW_S, FAST_PER_SLAB, octaves)
        self._narrow = Envelopes(sample_rate, NARROW_WINDOW_S, NARROW_PER_SLAB, np.array(NARROW_EDGES_HZ))
        self._regions = [
            slice(*np.searchsorted(frequencies, (low, min(high, 0.9 * nyquist))).tolist())
            for low, high in PEAK_REGIONS_HZ
        ]
        self._low = self._regions[0].start - _LOCAL_BINS
        self._high = self._regions[-1].stop + _LOCAL_BINS
        voiced = np.flatnonzero((frequencies >= 80) & (frequencies <= 1500))
        self._pitch_band = slice(int(voiced[0]), int(voiced[-1]) + 1)
        lags = np.arange(round(sample_rate / 500), min(round(sample_rate / 80), frequencies.size - 1))
        # Of the inverse transform only these lags of these bins are wanted: a small table is a third of its cost.
        angle = np.pi * np.outer(voiced, lags) / (frequencies.size - 1)
        self._pitch_table = np.cos(angle).astype(np.float32)
        self.reset()

    def reset(self) -> None:
        """Be as new."""
        self._fast.reset()
        self._narrow.reset()
        width = self._high - self._low - 2 * _LOCAL_BINS
        self._past = np.zeros((max(PERSISTENCE_LAGS), width), dtype=np.float32)

    def push(self, slab: Slab) -> tuple[Texture, ...]:
        """Return the texture of ``slab``."""
        bands = slab.power @ self._band_weights + _FLOOR * self.usable.astype(np.float32)
        level = slab.power @ self._a_curve + np.float32(_FLOOR)
        peaks, persistence = self._peaks(slab.power)
        texture = Texture(
            start=slab.start,
            thirds=bands.mean(axis=0),
            level=level,
            bands=bands,
            fast=self._fast.push(slab.samples),
            narrow=self._narrow.push(slab.samples),
            peaks=peaks,
            persistence=persistence,
            pitch=self._pitch(slab.power),
            clipped=int(np.count_nonzero(np.abs(slab.samples) >= 0.9999)),
        )
        return (texture,)

    def flush(self) -> tuple[Texture, ...]:
        """End the stream; nothing is pending."""
        self.reset()
        return ()

    def _peaks(self, power: NDArray[np.float32]) -> tuple[Array, Array]:
        """Excess of spectral peaks over their neighbourhood, and its likeness to earlier frames."""
        log_power = 10 * np.log10(power[:, self._low : self._high] + np.float32(_FLOOR))
        sums = np.cumsum(log_power, axis=1, dtype=np.float64)
        span = 2 * _LOCAL_BINS
        local = (sums[:, span:] - sums[:, :-span]) / span
        excess = (log_power[:, _LOCAL_BINS:-_LOCAL_BINS] - local).astype(np.float32)
        peaky = np.maximum(excess - np.float32(PEAK_EXCESS_DB), 0)
        offset = self._low + _LOCAL_BINS
        peaks = np.array([peaky[:, r.start - offset : r.stop - offset].mean() for r in self._regions])
        history = np.concatenate([self._past, excess])
        persistence = np.array([self._likeness(history, lag) for lag in PERSISTENCE_LAGS])
        self._past = history[-max(PERSISTENCE_LAGS) :].copy()
        return peaks.astype(np.float32), persistence.astype(np.float32)

    @staticmethod
    def _likeness(history: Array, lag: int) -> float:
        now = history[-FRAMES_PER_SLAB:]
        then = history[-FRAMES_PER_SLAB - lag : -lag]
        norm = float(np.sqrt(np.vdot(now, now) * np.vdot(then, then)))
        return float(np.vdot(now, then)) / norm if norm > 0 else 0.0

    def _pitch(self, power: NDArray[np.float32]) -> float:
        """Median over the frames of the highest normalised autocorrelation between 2 and 12.5 ms."""
        compressed = np.sqrt(power[:, self._pitch_band])
        peak = (compressed @ self._pitch_table).max(axis=1) / (compressed.sum(axis=1) + np.float32(1e-20))
        peak.sort()  # ten values: many times cheaper than numpy's median, with the same outcome
        return float((peak[(peak.size - 1) // 2] + peak[peak.size // 2]) / 2)
