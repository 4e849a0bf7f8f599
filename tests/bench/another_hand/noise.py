"""Noise with a spectrum: steady, moving, or as a slow wander; and the small helpers all sounds are drawn with.

Spectra are given as amplitude over frequency in Hz.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.fft import irfft, next_fast_len, rfft

Floats = NDArray[np.float64]
Rng = np.random.Generator

TAU = 2 * np.pi


def amplitude(level_db: ArrayLike) -> Floats:
    return 10.0 ** (np.asarray(level_db) / 20.0)


def log_uniform(rng: Rng, low: float, high: float, size: int | None = None) -> Floats:
    return np.exp(rng.uniform(np.log(low), np.log(high), size))


def unit(x: Floats) -> Floats:
    """Return ``x`` at an RMS of 1; silence stays silence."""
    rms = np.sqrt(np.mean(x * x))
    return x / rms if rms > 0 else x


def hump(f_hz: Floats, centre_hz: ArrayLike, rise: float, fall: float) -> Floats:
    """Return a skirted hump: as f^rise below its centre, as f^-fall above."""
    u = f_hz / centre_hz
    return 1.0 / np.sqrt(u ** (-2 * rise) + u ** (2 * fall))


def resonance(f_hz: Floats, centre_hz: ArrayLike, q: float) -> Floats:
    u = f_hz / centre_hz
    return 1.0 / np.sqrt(1 + (q * (u - 1 / u)) ** 2)


def steady_noise(rng: Rng, n: int, rate: int, gain: Callable[[Floats], Floats]) -> Floats:
    """Return stationary Gaussian noise of unit RMS; ``gain`` is asked once, after the noise is drawn."""
    m = next_fast_len(n + 2048, real=True)
    f_hz = np.fft.rfftfreq(m, 1 / rate)
    f_hz[0] = f_hz[1]
    spectrum = rng.standard_normal(f_hz.size) + 1j * rng.standard_normal(f_hz.size)
    spectrum *= gain(f_hz)
    spectrum[0] = 0
    return unit(irfft(spectrum, m)[:n])


def band_noise(rng: Rng, n: int, rate: int, centre_hz: float, q: float) -> Floats:
    return steady_noise(rng, n, rate, lambda f: resonance(f, centre_hz, q) ** 2)


def moving_noise(rng: Rng, n: int, rate: int, gain: Callable[[Floats, Floats], Floats]) -> Floats:
    """Return noise whose spectrum moves: ``gain`` takes times in s as a column, frequencies as a row."""
    size = 1024 if rate > 30000 else 512
    hop = size // 4
    frames = n // hop + 6
    window = np.sin(np.pi * (np.arange(size) + 0.5) / size)
    x = rng.standard_normal((frames - 1) * hop + size).astype(np.float32)
    framed = np.lib.stride_tricks.sliding_window_view(x, size)[::hop] * window.astype(np.float32)
    spectra = rfft(framed, axis=1)
    t_s = (np.arange(frames) * hop + size / 2 - size) / rate
    f_hz = np.fft.rfftfreq(size, 1 / rate)
    f_hz[0] = f_hz[1] / 2
    y = irfft(spectra * gain(t_s[:, None], f_hz[None, :]), size, axis=1) * window
    y = y.reshape(frames, 4, hop)
    out = np.zeros((frames + 3, hop))
    for k in range(4):
        out[k : k + frames] += y[:, k]
    return out.ravel()[size : size + n]


def wander(rng: Rng, n: int, rate: int, bandwidth_hz: float) -> Floats:
    """Return a smooth Gaussian wander of unit variance."""
    knots_per_s = 8.0 * bandwidth_hz
    m = int(n / rate * knots_per_s) + 40
    z = rng.standard_normal(m)
    k = np.hanning(11)[1:-1]
    z = np.convolve(z, k / np.sqrt(np.sum(k * k)), "same")
    return np.interp(np.arange(n) / rate * knots_per_s + 8, np.arange(m), z)
