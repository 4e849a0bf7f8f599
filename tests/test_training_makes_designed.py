"""The patched sounds: a stronger drive is louder, and what tells the kinds apart."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.voices.loudness import a_level_db
from tuner.terms import SoundKind
from tuner.training.makes.designed import sound

RATE = 16_000
Floats = NDArray[np.float64]


def heard(kind: SoundKind, seed: int, drive: Floats | None = None) -> Floats:
    return sound(kind, np.random.default_rng(seed), RATE, np.ones(60) if drive is None else drive, 50.0)


def brightness_hz(kind: SoundKind) -> float:
    middles = []
    for seed in range(9):
        power = np.abs(np.fft.rfft(heard(kind, seed))) ** 2
        middles.append(float(np.searchsorted(np.cumsum(power), 0.5 * power.sum())) / 3.0)
    return float(np.median(middles))


def test_a_stronger_drive_is_louder() -> None:
    drive = np.concatenate((np.ones(60), np.full(60, 3.0)))
    out = heard("roar", 1, drive)
    rise_db = a_level_db(out[len(out) // 2 :], sample_rate=RATE) - a_level_db(out[: len(out) // 2], sample_rate=RATE)
    assert 3.0 < rise_db < 11.0


def test_air_and_drops_are_brighter_than_falling_water_and_large_bubbles() -> None:
    assert brightness_hz("hiss") > 3.0 * brightness_hz("roar")
    assert brightness_hz("trickle") > 3.0 * brightness_hz("gurgle")


def test_a_hum_is_lines_and_a_hiss_is_not() -> None:
    def in_lines(kind: SoundKind, seed: int) -> float:
        power = np.abs(np.fft.rfft(heard(kind, seed) * np.hanning(60 * RATE // 20))) ** 2
        return float(np.sort(power)[-60:].sum() / power.sum())

    assert np.median([in_lines("hum", seed) for seed in range(7)]) > 0.9
    assert np.median([in_lines("hiss", seed) for seed in range(7)]) < 0.3
