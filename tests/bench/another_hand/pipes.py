"""What a sound rings in on its way out: resonators, the air column of a standpipe, walls and cabinets."""

from __future__ import annotations

import numpy as np
from scipy import signal
from scipy.fft import irfft, next_fast_len, rfft

from tests.bench.another_hand.noise import TAU, Floats, Rng, amplitude, log_uniform, unit

SOUND_M_S = 345


def ringing(x: Floats, rate: int, pitches_hz: Floats, qs: Floats, gains: Floats) -> Floats:
    """Return ``x`` through two-pole resonators side by side; those too high for the sampling are left out."""
    y = np.zeros_like(x)
    for f_hz, q, gain in zip(pitches_hz, qs, gains, strict=True):
        if f_hz < 0.45 * rate:
            p = np.exp(-np.pi * f_hz / q / rate)
            poles = [1, -2 * p * np.cos(TAU * f_hz / rate), p * p]
            y += gain * (1 - p) * signal.lfilter([1, 0, -1], poles, x)
    return y


def coloured(rng: Rng, x: Floats, rate: int, depth_db: float) -> Floats:
    """Return ``x`` through a random smooth transfer, as pipe walls, cabinets and paths give it."""
    m = next_fast_len(x.size, real=True)
    f_hz = np.fft.rfftfreq(m, 1 / rate)
    knots = np.linspace(np.log(50), np.log(20000), 9)
    gain_db = np.interp(np.log(np.maximum(f_hz, 30)), knots, rng.normal(0, depth_db / 2, knots.size))
    return irfft(rfft(x, m) * amplitude(gain_db), m)[: x.size]


def in_standpipe(rng: Rng, x: Floats, rate: int, wet: float) -> Floats:
    """Return ``x`` with the quarter-wave modes of a standpipe's air mixed in."""
    length_m = log_uniform(rng, 0.18, 0.9)
    lowest_hz = SOUND_M_S / (4 * (length_m + 0.01))
    k = np.arange(1, 8)
    pitches_hz = lowest_hz * (2 * k - 1) * (1 + rng.normal(0, 0.01, 7))
    y = ringing(x, rate, pitches_hz, rng.uniform(5, 18, 7), 1 / k ** rng.uniform(0.2, 0.9))
    return unit(x) * (1 - wet) + wet * unit(y)
