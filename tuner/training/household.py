"""Made-up household sound, for scenes without recordings: chords, a voice, knocks, a clock, a fan.

Each function returns n samples of no particular level. They are crude, and meant to be: what they teach is that
pitch, syllables, knocks, ticks and fans are not plumbing.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def chords(rng: np.random.Generator, sample_rate: int, n: int) -> Floats:
    """Three-note chords of five partials that change several times a second."""
    out = np.zeros(n)
    step = int(rng.uniform(0.15, 0.8) * sample_rate)
    for start in range(0, n, step):
        local = np.arange(min(n - start, int(1.5 * step))) / sample_rate
        for _ in range(3):
            pitch_hz = 110.0 * 2.0 ** (int(rng.integers(0, 37)) / 12.0)
            fade = np.exp(-local / rng.uniform(0.1, 1.0))
            for k in range(1, 6):
                out[start : start + local.size] += np.sin(2 * np.pi * pitch_hz * k * local) / k**1.3 * fade
    return out


def voice(rng: np.random.Generator, sample_rate: int, n: int) -> Floats:
    """A buzz with formants, in syllables of a fifth of a second."""
    t = np.arange(n) / sample_rate
    pitch_hz = rng.uniform(90.0, 250.0) * (1.0 + 0.08 * np.sin(2 * np.pi * rng.uniform(0.3, 2.0) * t))
    phase = 2 * np.pi * np.cumsum(pitch_hz) / sample_rate
    formants_hz = rng.uniform((300.0, 900.0, 2200.0), (800.0, 2000.0, 3200.0))
    out = 0.05 * rng.standard_normal(n)
    for k in range(1, 30):
        weight = float(np.exp(-0.5 * ((k * float(pitch_hz.mean()) - formants_hz) / 200.0) ** 2).sum()) + 0.02
        out += weight * np.sin(k * phase)
    syllable = sample_rate // 5
    gate = np.repeat((rng.random(n // syllable + 1) < 0.65).astype(np.float64), syllable)[:n]
    window = np.hanning(sample_rate // 15)
    smooth: Floats = np.convolve(gate, window / window.sum(), "same")
    return out * smooth


def knocks(rng: np.random.Generator, sample_rate: int, n: int) -> Floats:
    """Thuds with a click at irregular times, as steps and doors make."""
    out = np.zeros(n)
    for start_s in np.cumsum(rng.exponential(rng.uniform(0.3, 2.0), 200)):
        start = int(start_s * sample_rate)
        if start >= n:
            break
        local = np.arange(min(n - start, sample_rate // 2)) / sample_rate
        thud = np.exp(-local / rng.uniform(0.01, 0.06)) * np.sin(2 * np.pi * rng.uniform(60.0, 400.0) * local)
        out[start : start + local.size] += thud + 0.3 * np.exp(-local / 0.004) * rng.standard_normal(local.size)
    return out


def clock(rng: np.random.Generator, sample_rate: int, n: int) -> Floats:
    """Ticks at one fixed interval."""
    out = np.zeros(n)
    step = int(float(rng.choice([0.2, 0.25, 0.5, 1.0])) * sample_rate)
    pitch_hz = rng.uniform(1500.0, 6000.0)
    for start in range(int(rng.integers(step)), n, step):
        local = np.arange(min(n - start, sample_rate // 20)) / sample_rate
        out[start : start + local.size] += np.exp(-local / 0.004) * np.sin(2 * np.pi * pitch_hz * local)
    return out


def fan(rng: np.random.Generator, sample_rate: int, n: int) -> Floats:
    """Falling noise whose level beats with the blades."""
    spectrum = np.fft.rfft(rng.standard_normal(n))
    frequency_hz = np.maximum(np.fft.rfftfreq(n, 1.0 / sample_rate), 20.0)
    noise: Floats = np.fft.irfft(spectrum * frequency_hz ** rng.uniform(-1.2, -0.3), n)
    beat = 1.0 + rng.uniform(0.0, 0.4) * np.sin(2 * np.pi * rng.uniform(20.0, 200.0) * np.arange(n) / sample_rate)
    return noise * beat


def made_up(rng: np.random.Generator, sample_rate: int, n: int) -> Floats:
    """Draw one of the five."""
    return (chords, voice, knocks, clock, fan)[int(rng.integers(5))](rng, sample_rate, n)
