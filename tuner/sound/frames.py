"""The streaming framer: samples in any block sizes become slabs of ten spectra, and slabs long spectra.

A slab covers 0.1 s. Its ten frames are centred in the ten 10 ms steps of its own samples, so that a slab's
spectra and its samples speak of the same moment. Every slab is computed by one FFT of one fixed shape, from
a buffer that holds the same samples wherever the blocks were cut: results are bitwise equal for all cuts.

What lies before the first and after the last sample is mirrored, so that the outermost frames are full.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from tuner.errors import ConfigError
from tuner.terms import Samples

FRAMES_PER_SLAB = 10
LONG_SLABS = 10
FRAME_S = 0.0427
STEP_S = 0.01
LOWEST_SAMPLE_RATE = 8000

Power = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Slab:
    """Ten steps (0.1 s) of sound with their spectra.

    ``start`` is the index of the first of the slab's own samples, counted from the start of the stream.
    ``samples`` are these samples, float32, shape (10·hop,). ``power`` holds one-sided power spectra of Hann
    frames, float32, shape (10, n_bins): row i is the frame centred on sample ``start + i·hop + hop//2``.
    Its sum over the bins is the mean square under the window: a full-scale sine gives 0.5 (-3.01 dB).
    Both arrays are read-only and belong to the slab alone.
    """

    start: int
    power: Power
    samples: Samples


def require_sample_rate(sample_rate: int) -> int:
    """Return ``sample_rate`` (Hz) when the analysis can work with it, or raise ConfigError."""
    if int(sample_rate) != sample_rate or sample_rate < LOWEST_SAMPLE_RATE:
        raise ConfigError(
            f"sample_rate={sample_rate!r} must be a whole number of at least {LOWEST_SAMPLE_RATE} Hz: "
            "record at 48000 Hz"
        )
    return int(sample_rate)


def hop_length(sample_rate: int) -> int:
    """Return the samples from one frame to the next (10 ms).

    >>> hop_length(48000), hop_length(44100)
    (480, 441)
    """
    return round(require_sample_rate(sample_rate) * STEP_S)


def slab_length(sample_rate: int) -> int:
    """Return the samples of one slab (0.1 s).

    >>> slab_length(48000)
    4800
    """
    return FRAMES_PER_SLAB * hop_length(sample_rate)


def frame_length(sample_rate: int) -> int:
    """Return the samples of one frame: the even fast FFT length next to 42.7 ms.

    >>> frame_length(48000), frame_length(44100), frame_length(16000)
    (2048, 1920, 648)
    """
    wanted = require_sample_rate(sample_rate) * FRAME_S
    half = wanted / 2.0
    above = int(scipy.fft.next_fast_len(int(np.ceil(half)), real=True))
    below = int(half)
    while scipy.fft.next_fast_len(below, real=True) != below:
        below -= 1
    return 2 * (above if above - half < half - below else below)


def frame_frequencies_hz(sample_rate: int) -> NDArray[np.float64]:
    """Return the frequencies (Hz) of the bins of a slab's spectra, shape (n_bins,)."""
    length = frame_length(sample_rate)
    return np.arange(length // 2 + 1, dtype=np.float64) * (sample_rate / length)


def hann_window(length: int) -> NDArray[np.float64]:
    """Return the periodic Hann window of an even ``length``.

    >>> hann_window(4).tolist()
    [0.0, 0.5, 1.0, 0.5]
    """
    window: NDArray[np.float64] = np.sin(np.pi * np.arange(length) / length) ** 2
    return window


def power_scale(window: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the factors on |rfft|², shape (n_bins,), that make the bins sum to the mean square (Parseval).

    The mean square is the one under ``window`` squared; the length of the window must be even.
    """
    scale = np.full(window.size // 2 + 1, 2.0 / (window.size * np.sum(window * window)))
    scale[[0, -1]] /= 2.0
    return scale


def require_samples(samples: NDArray[np.floating]) -> Samples:
    """Return ``samples`` as float32, or raise ConfigError unless they are one channel of finite floats."""
    array = np.asarray(samples)
    if array.ndim != 1 or not np.issubdtype(array.dtype, np.floating):
        raise ConfigError(
            f"samples of shape {array.shape} and type {array.dtype} must be one channel of floats in [-1, 1]: "
            "mix the channels down and divide integers by full scale"
        )
    single = array.astype(np.float32, copy=False)
    if not bool(np.isfinite(single).all()):
        raise ConfigError("samples must be finite: the source delivered NaN or infinity")
    return single


class Framer:
    """Cut a stream of mono samples into slabs.

    ``push`` takes any number of samples and returns the slabs that they complete; ``flush`` ends the stream
    and returns its last slab when only the look-ahead was missing. Every full 0.1 s gives exactly one slab;
    what is left at the end (less than 0.1 s) gives none. Memory is bounded by one slab and one frame.
    """

    def __init__(self, sample_rate: int) -> None:
        self.sample_rate = require_sample_rate(sample_rate)
        self.hop = hop_length(sample_rate)
        self.slab_samples = FRAMES_PER_SLAB * self.hop
        self.n_fft = frame_length(sample_rate)
        window = hann_window(self.n_fft)
        self._window = window.astype(np.float32)
        self._scale = power_scale(window).astype(np.float32)
        self._lead = self.n_fft // 2 - self.hop // 2
        self._span = (FRAMES_PER_SLAB - 1) * self.hop + self.n_fft
        self._buffer = np.zeros(self._span, dtype=np.float32)
        self._frames = np.lib.stride_tricks.sliding_window_view(self._buffer, self.n_fft)[:: self.hop]
        self.reset()

    @property
    def latency_s(self) -> float:
        """Longest time (s) from a sample to the slab that holds it: one slab and half a frame's look-ahead."""
        return (self._span - self._lead) / self.sample_rate

    @property
    def frequencies_hz(self) -> NDArray[np.float64]:
        """Frequencies (Hz) of the bins, shape (n_bins,)."""
        return frame_frequencies_hz(self.sample_rate)

    def reset(self, start: int = 0) -> None:
        """Forget everything; the next sample has index ``start`` (where the stream goes on after a gap)."""
        self._start = start
        self._fill = self._lead
        self._first = True

    def push(self, samples: NDArray[np.floating]) -> tuple[Slab, ...]:
        """Take samples, float in [-1, 1], shape (n,), and return the slabs that are now complete.

        Raises ConfigError, and takes nothing, unless they are one channel of finite floats.
        """
        block = require_samples(samples)
        slabs: list[Slab] = []
        taken = 0
        while taken < block.size:
            count = min(self._span - self._fill, block.size - taken)
            self._buffer[self._fill : self._fill + count] = block[taken : taken + count]
            self._fill += count
            taken += count
            if self._fill == self._span:
                slabs.append(self._cut())
        return tuple(slabs)

    def flush(self) -> tuple[Slab, ...]:
        """End the stream: return its last full slab, if there is one, and be as new."""
        slabs: tuple[Slab, ...] = ()
        if self._fill >= self._lead + self.slab_samples:
            missing = self._span - self._fill
            self._buffer[self._fill :] = self._buffer[self._fill - 1 - missing : self._fill - 1][::-1]
            slabs = (self._cut(),)
        self.reset()
        return slabs

    def _cut(self) -> Slab:
        """Make the slab of the full buffer and move the buffer on by one slab."""
        if self._first:
            self._buffer[: self._lead] = self._buffer[self._lead + 1 : 2 * self._lead + 1][::-1]
            self._first = False
        spectra = scipy.fft.rfft(self._frames * self._window, axis=1, overwrite_x=True)
        power = spectra.real**2
        power += spectra.imag**2
        power *= self._scale
        samples = self._buffer[self._lead : self._lead + self.slab_samples].copy()
        power.flags.writeable = False
        samples.flags.writeable = False
        slab = Slab(self._start, power, samples)
        self._buffer[: self._span - self.slab_samples] = self._buffer[self.slab_samples :].copy()
        self._fill = self._span - self.slab_samples
        self._start += self.slab_samples
        return slab


@dataclass(frozen=True, slots=True)
class LongFrame:
    """The power spectrum of one second: one-sided, Hann window, float32, shape (n_bins,), read-only.

    ``start`` is the index of its first sample. The bins are 1 Hz apart (rate / length of ten slabs) and the
    window's equivalent noise bandwidth is 1.5 bins. The scale is that of ``Slab.power``.
    """

    start: int
    power: Power


def long_length(sample_rate: int) -> int:
    """Return the samples of one long frame: ten slabs, 1.0 s.

    >>> long_length(44100)
    44100
    """
    return LONG_SLABS * slab_length(sample_rate)


def long_frequencies_hz(sample_rate: int) -> NDArray[np.float64]:
    """Return the frequencies (Hz) of the bins of a long frame, shape (n_bins,)."""
    length = long_length(sample_rate)
    return np.arange(length // 2 + 1, dtype=np.float64) * (sample_rate / length)


class LongSpectrum:
    """Make a one-second spectrum every 0.5 s from the samples of consecutive slabs, fine enough for tones.

    ``push`` takes a slab; the first long frame comes with the tenth slab, then one with every fifth.
    ``flush`` ends the stream; an unfinished long frame is left out, so it always returns (). Memory is
    bounded by one long frame.
    """

    def __init__(self, sample_rate: int) -> None:
        self.sample_rate = require_sample_rate(sample_rate)
        self._slab_samples = slab_length(sample_rate)
        length = long_length(sample_rate)
        window = hann_window(length)
        self._window = window.astype(np.float32)
        self._scale = power_scale(window).astype(np.float32)
        self._buffer = np.zeros(length, dtype=np.float32)
        self.reset()

    @property
    def latency_s(self) -> float:
        """Time (s) from the first sample of a long frame to the slab that completes it."""
        return self._buffer.size / self.sample_rate

    def reset(self) -> None:
        """Forget everything; the next slab may start anywhere."""
        self._fill = 0
        self._next: int | None = None

    def push(self, slab: Slab) -> tuple[LongFrame, ...]:
        """Take the next slab and return the long frame that it completes, if any.

        Raises ConfigError, and takes nothing, when the slab does not follow the one before it or belongs to
        another sample rate.
        """
        if slab.samples.size != self._slab_samples:
            raise ConfigError(
                f"slab.samples of length {slab.samples.size} must have {self._slab_samples} samples: "
                "the slab comes from another sample rate"
            )
        if self._next is not None and slab.start != self._next:
            raise ConfigError(f"slab.start={slab.start} must be {self._next}: reset the chain after a gap")
        self._buffer[self._fill : self._fill + self._slab_samples] = slab.samples
        self._fill += self._slab_samples
        self._next = slab.start + self._slab_samples
        if self._fill < self._buffer.size:
            return ()
        spectrum = scipy.fft.rfft(self._buffer * self._window, overwrite_x=True)
        power = spectrum.real**2
        power += spectrum.imag**2
        power *= self._scale
        power.flags.writeable = False
        kept = self._buffer.size // 2
        self._buffer[:kept] = self._buffer[-kept:].copy()
        self._fill = kept
        return (LongFrame(self._next - self._buffer.size, power),)

    def flush(self) -> tuple[LongFrame, ...]:
        """End the stream and be as new; an unfinished long frame is left out."""
        self.reset()
        return ()
