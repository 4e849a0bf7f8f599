"""Drawn microphone chains for the check: a room with a loud steady stretch, through honest and dishonest chains."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.signal import istft, lfilter, stft

from tuner.rehearsal.voices import Background, draw_microphone
from tuner.rehearsal.voices.loudness import a_level_db
from tuner.rehearsal.voices.room import draw_room

RATE = 48_000
QUIET_S, LOUD_S, AFTER_S = 8.0, 8.0, 10.0
FAULTS = ("gain control", "noise suppression", "clipping", "gating")

Floats = NDArray[np.float64]


def scene(rng: np.random.Generator, rate: int) -> NDArray[np.float32]:
    """Return what an honest chain records: quiet, a tap or a hiss through the teeth with its clatter, quiet."""
    quiet_db = float(rng.uniform(22.0, 36.0))
    n = round((QUIET_S + LOUD_S + AFTER_S) * rate)
    pressure = Background(rng, rate, quiet_db).render(n)
    loud = np.zeros(n)
    first, last = round(QUIET_S * rate), round((QUIET_S + LOUD_S) * rate)
    noise = rng.standard_normal(last - first)
    pole = float(rng.uniform(0.0, 0.9))
    noise = lfilter([1.0], [1.0, -pole], noise)
    points = np.cumsum(rng.normal(0.0, 0.25, 40))  # the water's or the breath's own unsteadiness
    noise *= 10 ** (np.interp(np.linspace(0, 39, noise.size), np.arange(40), points - points.mean()) / 20)
    edge = round(rng.uniform(0.05, 0.3) * rate)
    noise[:edge] *= np.linspace(0, 1, edge)
    noise[-edge:] *= np.linspace(1, 0, edge)
    loud[first:last] = noise
    loud = draw_room(rng, rate).place(loud)
    loud *= 10 ** ((quiet_db + float(rng.uniform(18.0, 40.0)) - a_level_db(loud[first:last], sample_rate=rate)) / 20)
    return draw_microphone(rng, rate).record(pressure + loud)


def with_gain_control(x: NDArray[np.float32], rate: int, rng: np.random.Generator) -> NDArray[np.float32]:
    """Hold the level near a target, by 4 to 40 dB: down within half a second, up within one to eight."""
    step = rate // 100
    steps = len(x) // step
    level = 10 * np.log10(np.mean(x[: steps * step].reshape(steps, step).astype(float) ** 2, axis=1) + 1e-14)
    loud, quiet = np.quantile(level, 0.85), np.quantile(level, 0.3)
    for _ in range(100):
        target = float(rng.uniform(-40.0, -10.0))
        most = float(rng.uniform(10.0, 40.0))
        share = float(rng.uniform(0.5, 1.0))
        # A gain control that stays at one gain throughout is none; a scene of one level gives it nothing to do.
        if np.ptp(np.clip(share * (target - np.array([quiet, loud])), 0.0, most)) >= 4.0:
            break
    attack, release = np.exp(-0.01 / rng.uniform(0.05, 0.5)), np.exp(-0.01 / rng.uniform(1.0, 8.0))
    gains = np.empty(steps)
    gain = float(np.clip(share * (target - level[0]), 0.0, most))
    for i, now in enumerate(level):
        wanted = float(np.clip(share * (target - now), 0.0, most))
        keep = attack if wanted < gain else release
        gain = keep * gain + (1 - keep) * wanted
        gains[i] = gain
    curve = np.interp(np.arange(len(x)), (np.arange(steps) + 0.5) * step, gains)
    return np.clip(x * 10 ** (curve / 20), -1, 1).astype(np.float32)


def with_suppressor(x: NDArray[np.float32], rate: int, rng: np.random.Generator) -> NDArray[np.float32]:
    """Gate every bin that stands little over a noise estimate that follows within seconds; 12 to 40 dB down."""
    n = int(rng.choice([1024, 1536, 2048]))
    hop = n // 4
    _, _, z = stft(x, nperseg=n, noverlap=n - hop, window="hann")
    power = np.abs(z) ** 2 + 1e-16
    memory = np.exp(-hop / rate / rng.uniform(0.5, 2.5))
    over = 10 ** (rng.uniform(2.0, 6.0) / 10)
    low = 10 ** (-rng.uniform(12.0, 40.0) / 20)
    keep = float(rng.uniform(0.0, 0.7))
    estimate = np.full(power.shape[0], 1e-12)
    gain = np.ones(power.shape[0])
    for i in range(power.shape[1]):
        estimate = memory * estimate + (1 - memory) * power[:, i]
        wanted = np.where(power[:, i] > over * estimate, 1.0, low)
        gain = keep * gain + (1 - keep) * wanted
        z[:, i] *= gain
    _, y = istft(z, nperseg=n, noverlap=n - hop, window="hann")
    return np.clip(y[: len(x)], -1, 1).astype(np.float32)


def with_clipping(x: NDArray[np.float32], rng: np.random.Generator) -> NDArray[np.float32]:
    """Drive the crests of the loud stretch into a limit, at full scale or below it."""
    limit = float(rng.uniform(0.3, 1.0))
    crest = float(np.quantile(np.abs(x), rng.uniform(0.98, 0.9995)))
    return np.clip(x * limit / crest, -limit, limit).astype(np.float32)


def with_gate(x: NDArray[np.float32], rate: int, rng: np.random.Generator) -> NDArray[np.float32]:
    """Shut off what stays under a threshold for half a second to two; by 14 to 60 dB, or to nothing at all."""
    step = rate // 100
    steps = len(x) // step
    level = 10 * np.log10(np.mean(x[: steps * step].reshape(steps, step).astype(float) ** 2, axis=1) + 1e-14)
    loud, quiet = np.quantile(level, 0.85), np.quantile(level, 0.3)
    threshold = quiet + float(rng.uniform(0.3, 0.7)) * (loud - quiet)
    hold = round(float(rng.uniform(0.5, 2.0)) * 100)
    shut = 0.0 if rng.random() < 0.4 else 10 ** (-float(rng.uniform(14.0, 60.0)) / 20)
    falls = max(1, round(float(rng.uniform(0.01, 0.15)) * 100))
    gains = np.empty(steps)
    gain, left = 1.0, hold if rng.random() < 0.5 else 0
    for i, now in enumerate(level):
        left = hold if now > threshold else max(0, left - 1)
        gain = 1.0 if left else max(shut, gain - (1.0 - shut) / falls)
        gains[i] = gain
    return (x * np.interp(np.arange(len(x)), (np.arange(steps) + 0.5) * step, gains)).astype(np.float32)


def through(x: NDArray[np.float32], fault: str, rate: int, rng: np.random.Generator) -> NDArray[np.float32]:
    """Return what a chain with a drawn fault makes of a sound."""
    if fault == "clipping":
        return with_clipping(x, rng)
    ways = {"gain control": with_gain_control, "noise suppression": with_suppressor, "gating": with_gate}
    return ways[fault](x, rate, rng)


def draw_chain(fault: str | None, seed: int, rate: int = RATE) -> NDArray[np.float32]:
    """Return what a drawn chain records of a drawn scene; None is an honest chain."""
    rng = np.random.default_rng([seed, 0 if fault is None else 1 + FAULTS.index(fault)])
    x = scene(rng, rate)
    return x if fault is None else through(x, fault, rate, rng)
