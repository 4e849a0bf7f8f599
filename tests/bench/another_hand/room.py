"""The quiet room, the way through it, and a laptop's or phone's microphone."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy import signal
from scipy.fft import irfft, next_fast_len, rfft

from tests.bench.another_hand.noise import (
    TAU,
    Floats,
    Rng,
    amplitude,
    hump,
    log_uniform,
    moving_noise,
    resonance,
    steady_noise,
    unit,
    wander,
)
from tests.bench.another_hand.pipes import ringing

Response = Callable[[Floats], Floats]


def room_noise(rng: Rng, n: int, rate: int) -> Floats:
    fall = rng.uniform(0.5, 1.4)  # 3 to 8 dB an octave
    corner_hz = rng.uniform(30, 90)
    y = steady_noise(rng, n, rate, lambda f: hump(f, corner_hz, 1.5, fall))
    if rng.random() < 0.6:
        y = y + _ventilation(rng, n, rate)
    if rng.random() < 0.55:
        y = y + _traffic(rng, n, rate)
    if rng.random() < 0.4:
        fridge = _fridge(rng, n, rate)
        y = y + unit(fridge) * amplitude(rng.uniform(-26, -10))
        y = y + steady_noise(rng, n, rate, lambda f: hump(f, 180, 1, 1.2)) * amplitude(rng.uniform(-20, -8))
    return unit(y)


def _ventilation(rng: Rng, n: int, rate: int) -> Floats:
    centre_hz, fall = log_uniform(rng, 120, 900), rng.uniform(0.9, 2)
    air = steady_noise(
        rng, n, rate, lambda f: hump(f, centre_hz, 0.7, fall) * (1 + 0.8 * resonance(f, centre_hz * 1.7, 4))
    )
    return air * amplitude(rng.uniform(-16, 3)) * (1 + 0.05 * wander(rng, n, rate, 0.5))


def _traffic(rng: Rng, n: int, rate: int) -> Floats:
    """Return slow swells from far away."""
    centre_hz = log_uniform(rng, 60, 250)
    cars = steady_noise(rng, n, rate, lambda f: hump(f, centre_hz, 1, 1.3) + 0.06 * resonance(f, 900, 1.2))
    level = amplitude(rng.uniform(-10, 2))
    return cars * level * np.exp(0.4 * wander(rng, n, rate, rng.uniform(0.05, 0.25)) - 0.1)


def _fridge(rng: Rng, n: int, rate: int) -> Floats:
    """Return the partials of a soft fridge elsewhere in the flat."""
    t = np.arange(n) / rate
    mains_hz = rng.choice([50.0, 60.0]) * (1 + rng.normal(0, 4e-4))
    return sum(
        np.sin(TAU * mains_hz * k * t + rng.uniform(0, TAU)) * np.exp(rng.normal(0, 0.6)) / k for k in (1, 2, 3, 4, 6)
    )


def microphone_response(rng: Rng, rate: int) -> Response:
    """Return the amplitude over frequency of a small microphone: no bass, a peak, a rolled-off top, ripples."""
    low_hz, low_order = log_uniform(rng, 40, 220), rng.integers(1, 3)
    high_hz, high_order = min(log_uniform(rng, 7000, 18000), 0.47 * rate), rng.integers(1, 4)
    peak_hz, peak_q, peak_db = log_uniform(rng, 2500, 9000), rng.uniform(1, 3), rng.uniform(-3, 7)
    ripple_db = rng.normal(0, 1.2, 12)
    knots = np.linspace(np.log(40), np.log(20000), ripple_db.size)

    def response(f_hz: Floats) -> Floats:
        f_hz = np.maximum(f_hz, 1)
        g = (1 + (low_hz / f_hz) ** 2) ** (-low_order / 2) * (1 + (f_hz / high_hz) ** 4) ** (-high_order / 2)
        g = g * (1 + (amplitude(peak_db) - 1) * resonance(f_hz, peak_hz, peak_q) ** 2)
        return g * amplitude(np.interp(np.log(f_hz), knots, ripple_db))

    return response


def impulse_response(rng: Rng, rate: int) -> Floats:
    """Return direct sound, sparse early reflections, a diffuse tail by frequency and, half the time, a stand."""
    distance_m = rng.uniform(0.5, 3)
    reverberation_s = rng.uniform(0.22, 0.75)
    n = int(min(1.0, reverberation_s * 1.1) * rate)
    high_s, low_s = reverberation_s * rng.uniform(0.4, 0.8), reverberation_s * rng.uniform(0.9, 1.5)

    def decay(t_s: Floats, f_hz: Floats) -> Floats:
        by_band_s = np.interp(np.log(f_hz), np.log([125.0, 700.0, 8000.0]), [low_s, reverberation_s, high_s])
        return np.exp(-6.91 * np.maximum(t_s, 0) / by_band_s) * (t_s > 0.004)

    tail = moving_noise(rng, n, rate, decay)
    tail /= np.sqrt(np.sum(tail**2))
    critical_m = rng.uniform(0.5, 1.2)  # from here on the tail is louder than the direct sound
    h = tail * distance_m / critical_m
    h[0] += 1.0
    for _ in range(rng.integers(4, 14)):
        delay = int(rng.uniform(0.0008, 0.022) * rate)
        h[delay] += rng.uniform(0.1, 0.55) * rng.choice([1, 1, 1, -1]) * np.exp(-delay / rate / 0.02)
    return _in_stand(rng, h, rate) if rng.random() < 0.5 else h


def _in_stand(rng: Rng, h: Floats, rate: int) -> Floats:
    """Return the path out of a stand: boxy modes, and doors that dull the top."""
    box = np.zeros(h.size)
    box[0] = 1
    modes_hz = log_uniform(rng, 110, 900, 5)
    direct = box * rng.uniform(0.4, 1)
    box = direct + ringing(box, rate, modes_hz, rng.uniform(3, 9, 5), rng.uniform(0.2, 1.0, 5) * 1.6)
    b, a = signal.butter(1, min(0.9, log_uniform(rng, 2500, 12000) / (rate / 2)))
    return signal.oaconvolve(h, signal.lfilter(b, a, box))[: h.size]


def heard_through(x: Floats, rate: int, response: Response, path: Floats | None = None) -> Floats:
    """Return ``x`` through the microphone, by way of an impulse response where there is one."""
    m = next_fast_len(x.size + (0 if path is None else path.size), real=True)
    spectrum = rfft(x, m) * response(np.fft.rfftfreq(m, 1 / rate))
    if path is not None:
        spectrum *= rfft(path, m)
    return irfft(spectrum, m)[: x.size]
