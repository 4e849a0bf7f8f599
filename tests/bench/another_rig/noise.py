"""The material of all sounds: shaped noise, slow wandering, random moments, filters and the A-weighted level."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy import signal

Samples = NDArray[np.float64]
GRID_S = 0.005  # of random moments


def a_weight(hz: Samples) -> Samples:
    """Return the amplitude factor of the A curve."""
    f2 = np.maximum(hz, 1e-3) ** 2
    poles = (f2 + 20.6**2) * np.sqrt((f2 + 107.7**2) * (f2 + 737.9**2)) * (f2 + 12194**2)
    return 10**0.1 * f2**2 * 12194**2 / poles


def a_rms(x: Samples, rate_hz: int, weight: Samples) -> float:
    """Return the A-weighted effective value over what ``weight`` counts."""
    size = _power_of_two(len(x))
    spectrum = np.fft.rfft(x, size) * a_weight(np.fft.rfftfreq(size, 1 / rate_hz))
    y = np.fft.irfft(spectrum, size)[: len(x)]
    return math.sqrt((y * y * weight).sum() / max(weight.sum(), 1.0)) + 1e-12


def shaped(rng: np.random.Generator, n: int, rate_hz: int, points: Sequence[tuple[float, float]]) -> Samples:
    """Return noise of unit A-weighted effective value whose spectrum goes through (Hz, dB) points."""
    size = _power_of_two(n)
    f = np.fft.rfftfreq(size, 1 / rate_hz)
    hz, db = np.array(points, float).T
    magnitude = 10 ** (np.interp(np.log(np.maximum(f, 1.0)), np.log(hz), db, left=-90, right=-90) / 20)
    spectrum = magnitude * (rng.standard_normal(len(f)) + 1j * rng.standard_normal(len(f)))
    spectrum[0] = 0
    power = (np.abs(spectrum * a_weight(f)) ** 2).sum() * 2 / size**2
    return np.fft.irfft(spectrum, size)[:n] / math.sqrt(power)


def slow(rng: np.random.Generator, n: int, rate_hz: int, hz: float) -> Samples:
    """Return a smooth random course of about unit variance that changes up to about ``hz``."""
    knots = max(int(n / rate_hz * hz * 4), 8) + 4
    x = np.convolve(rng.standard_normal(knots), [0.25, 0.5, 0.25], "same") / 0.61
    return np.interp(np.arange(n), np.linspace(0, n, knots), x)


def moments(rng: np.random.Generator, rate_s: Samples, rate_hz: int) -> NDArray[np.int64]:
    """Return the samples of Poisson events that come as often a second as ``rate_s`` says."""
    step = int(GRID_S * rate_hz)
    often = rate_s[::step]
    count = rng.poisson(np.maximum(often, 0) * GRID_S)
    return np.repeat(np.arange(len(often)) * step, count) + rng.integers(0, step, count.sum())


def peaks(x: Samples, rate_hz: int, modes: Sequence[tuple[float, float]], gain_db: float) -> Samples:
    """Raise narrow bands, (Hz, quality) each, by a gain."""
    for hz, quality in modes:
        if hz < 0.45 * rate_hz:
            b, a = signal.iirpeak(hz, quality, fs=rate_hz)
            x = x + (10 ** (gain_db / 20) - 1) * signal.lfilter(b, a, x)
    return x


def band(x: Samples, rate_hz: int, low_hz: float, high_hz: float, order: int = 2) -> Samples:
    edges = [low_hz, min(high_hz, 0.45 * rate_hz)]
    return signal.sosfilt(signal.butter(order, edges, "bandpass", fs=rate_hz, output="sos"), x)


def smooth(x: Samples, seconds: float, rate_hz: int) -> Samples:
    keep = math.exp(-1 / (seconds * rate_hz))
    return signal.lfilter([1 - keep], [1, -keep], x)


def _power_of_two(n: int) -> int:
    return 1 << math.ceil(math.log2(n))
