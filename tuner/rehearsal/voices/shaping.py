"""Filters with a memory: a short response from a curve of levels, and convolution that goes on from chunk to chunk."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def response_of_curve(frequencies_hz: Floats, levels_db: Floats, *, sample_rate: int, taps: int) -> Floats:
    """Return a minimum-phase response, shape (taps,), whose spectrum follows the curve.

    The curve is interpolated over the logarithm of the frequency and held beyond its ends; the phase comes
    from the folded cepstrum (Oppenheim and Schafer, "Discrete-time signal processing").
    """
    n = 8 * taps
    bins = np.fft.rfftfreq(n, 1.0 / sample_rate)
    bins[0] = bins[1]
    level = np.interp(np.log(bins), np.log(frequencies_hz), levels_db)
    cepstrum = np.fft.irfft(level * np.log(10.0) / 20.0, n)
    cepstrum[1 : n // 2] *= 2.0
    cepstrum[n // 2 + 1 :] = 0.0
    response = np.fft.irfft(np.exp(np.fft.rfft(cepstrum)), n)[:taps]
    fade = taps // 4
    response[-fade:] *= 0.5 + 0.5 * np.cos(np.pi * np.arange(fade) / fade)
    return response


def drawn_curve(rng: np.random.Generator, frequencies_hz: Floats, levels_db: Floats, sd_db: float) -> Floats:
    """Return the levels with a drawn tilt and a drawn ripple, each of about ``sd_db``."""
    octaves = np.log2(frequencies_hz / 1000.0)
    tilt = rng.normal(0.0, sd_db / 3.0) * octaves
    out: Floats = levels_db + tilt + rng.normal(0.0, 0.7 * sd_db, len(levels_db))
    return out


class Convolver:
    """Streaming convolution with a finite response; what rings beyond a chunk comes with the next one."""

    def __init__(self, response: Floats) -> None:
        self._response = response
        self._tail = np.zeros(len(response) - 1)
        self._quiet = True

    def push(self, samples: Floats) -> Floats:
        """Return as many filtered samples as came in."""
        n = len(samples)
        if n == 0:
            return np.zeros(0)
        if self._quiet and not samples.any():
            return np.zeros(n)
        from scipy.signal import oaconvolve

        full = oaconvolve(samples, self._response)
        full[: len(self._tail)] += self._tail
        self._tail = full[n:].copy()
        self._quiet = not bool(np.any(np.abs(self._tail) > 1e-15))
        out: Floats = full[:n]
        return out
