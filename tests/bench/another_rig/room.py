"""The room with its own sound, the two places in it that the overflow sounds from, and the microphone."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from tests.bench.another_rig.noise import Samples, band, peaks, shaped, slow

PLACES = ("overflow box", "cabinet")
TONE_BANDS = 30  # thirds of an octave from 25 Hz
TAIL_BANDS = ((80, 500, 1.15), (500, 2000, 1.0), (2000, 6000, 0.75), (6000, 18000, 0.5))  # Hz, Hz, share of the time
REFERENCE_SIZE = 1 << 16


@dataclass(frozen=True)
class Room:
    """What sounds without the overflow, and how long it echoes; levels in dB SPL at the microphone."""

    level_dba: float
    reverberation_s: float
    tilt_db_octave: float
    bumps_db: NDArray[np.float64]
    mains_hz: float
    pump_hum_db: float  # too weak to be noticed
    rush_under_db: float  # of the full siphon, under the room
    fridge_db: float


@dataclass(frozen=True)
class Microphone:
    gain_db: float  # full scale of 0 dB SPL
    high_pass_hz: float
    low_pass_hz: float
    peak_db: float
    peak_hz: float
    noise_db: float


def draw_room(
    rng: np.random.Generator, level_dba: float, reverberation_s: float, gain_db: float
) -> tuple[Room, Microphone]:
    """Return a room of that level and echo, and a microphone of that gain."""
    u = rng.uniform
    tilt_db, bumps_db = u(-6.5, -3.5), rng.normal(0, 2.5, 33)
    mains_hz, hum_db, rush_db = float(rng.choice([50, 60])), u(18, 30), u(9, 15)
    microphone = Microphone(
        gain_db, high_pass_hz=u(40, 120), low_pass_hz=u(13000, 19000), peak_db=u(-2, 4), peak_hz=u(3000, 9000),
        noise_db=u(17, 25),
    )
    return Room(
        level_dba, reverberation_s, tilt_db, bumps_db[:TONE_BANDS], mains_hz, hum_db, rush_db, fridge_db=u(5, 22)
    ), microphone


def through_room(x: Samples, room: Room, seed: int, place: int, rate_hz: int) -> Samples:
    """Return what reaches the microphone from a place, on the whole as loud as it left."""
    h = impulse(room, seed, place, rate_hz)
    h /= math.sqrt((np.abs(np.fft.rfft(h, REFERENCE_SIZE)) ** 2).mean())
    return signal.oaconvolve(x, h)[: len(x)]


def impulse(room: Room, seed: int, place: int, rate_hz: int) -> Samples:
    """Return the room's answer: direct, a few early reflections, a diffuse tail that grows duller."""
    rng = np.random.default_rng([seed, 5, place])
    n = int(room.reverberation_s * 1.1 * rate_hz)
    t = np.arange(n) / rate_hz
    tail = np.zeros(n)
    for low_hz, high_hz, share in TAIL_BANDS:
        decay = np.exp(-6.9 * t / (room.reverberation_s * share))
        tail += band(rng.standard_normal(n), rate_hz, low_hz, high_hz) * decay
    tail *= t > 0.006
    h = tail / np.sqrt((tail**2).sum()) * 10 ** (rng.uniform(-3, 4) / 20)
    h[0] += 1.0
    for _ in range(7):
        delay_s = rng.uniform(0.001, 0.02)
        h[int(delay_s * rate_hz)] += rng.choice([-1, 1]) * rng.uniform(0.15, 0.5)
    if PLACES[place] == "cabinet":  # duller, with a boxy mode or two
        h = signal.sosfilt(signal.butter(1, rng.uniform(1500, 5000), fs=rate_hz, output="sos"), h)
        h = peaks(h, rate_hz, [(rng.uniform(120, 260), 5), (rng.uniform(260, 500), 5)], rng.uniform(1, 5))
    return h


def room_sound(room: Room, rng: np.random.Generator, n: int, rate_hz: int) -> Samples:
    """Return the room's tone, which falls with frequency and breathes slowly, and a distant compressor."""
    hz = 25 * 2 ** (np.arange(TONE_BANDS) / 3)
    db = room.tilt_db_octave * np.log2(hz / 1000) + room.bumps_db
    db[hz < 60] -= 4
    tone = shaped(rng, n, rate_hz, list(zip(hz.tolist(), db.tolist(), strict=True)))
    tone *= 10 ** ((room.level_dba + 0.5 * slow(rng, n, rate_hz, 0.3)) / 20)
    fridge_hz = (room.mains_hz - 0.6) * 2
    return tone + math.sqrt(2) * 10 ** (room.fridge_db / 20) * np.sin(2 * np.pi * fridge_hz * np.arange(n) / rate_hz)


def through_microphone(x: Samples, microphone: Microphone, rng: np.random.Generator, rate_hz: int) -> Samples:
    """Return 16-bit samples, dithered, with the microphone's own noise and response."""
    m, n = microphone, len(x)
    x = x + shaped(rng, n, rate_hz, [(20, 2), (200, 0), (20000, 3)]) * 10 ** (m.noise_db / 20)
    x = signal.sosfilt(signal.butter(1, m.high_pass_hz, "highpass", fs=rate_hz, output="sos"), x)
    x = peaks(x, rate_hz, [(m.peak_hz, 1.2)], m.peak_db)
    if m.low_pass_hz < 0.45 * rate_hz:
        x = signal.sosfilt(signal.butter(2, m.low_pass_hz, fs=rate_hz, output="sos"), x)
    x = x * 10 ** (m.gain_db / 20)
    x = np.round(x * 32768 + rng.random(n) - rng.random(n)) / 32768
    return np.clip(x, -1, 1 - 2**-15)
