"""Facts about the kinds made as textures that hold for most draws."""

from typing import get_args

import numpy as np
from numpy.typing import NDArray

from tuner.terms import SoundKind
from tuner.training.makes.textural import room, sound

RATE = 16_000


def made(kind: SoundKind, seed: int, seconds: float = 4.0) -> NDArray[np.float64]:
    return sound(kind, np.random.default_rng(seed), RATE, np.ones(round(seconds * 20)), 50.0)


def centroid_hz(x: NDArray[np.float64]) -> float:
    power = np.abs(np.fft.rfft(x)) ** 2
    return float(np.sum(power * np.fft.rfftfreq(len(x), 1 / RATE)) / power.sum())


def typical_hz(kind: SoundKind) -> float:
    return float(np.median([centroid_hz(made(kind, seed)) for seed in range(9)]))


def test_air_and_drops_are_brighter_than_falling_water_and_large_bubbles() -> None:
    assert typical_hz("hiss") > 3 * typical_hz("roar")
    assert typical_hz("trickle") > 2 * typical_hz("gurgle")


def test_hum_stands_in_lines() -> None:
    shares = []
    for seed in range(9):
        power = np.abs(np.fft.rfft(made("hum", seed) * np.hanning(4 * RATE))) ** 2
        shares.append(np.sort(power)[-len(power) // 50 :].sum() / power.sum())
    assert np.median(shares) > 0.8


def test_hiss_is_steadier_than_slurp() -> None:
    def unrest(kind: SoundKind) -> float:
        levels = [np.log(np.std(made(kind, seed).reshape(-1, 800), axis=1) + 1e-9) for seed in range(9)]
        return float(np.median([np.std(row[5:-5]) for row in levels]))

    assert unrest("slurp") > 2 * unrest("hiss")


def test_a_stronger_drive_is_louder() -> None:
    for kind in get_args(SoundKind):
        drive = np.concatenate((np.full(60, 0.5), np.full(60, 3.0)))
        ratios = []
        for seed in range(5):
            x = sound(kind, np.random.default_rng(seed), RATE, drive, 50.0)
            ratios.append(np.std(x[len(x) // 2 :]) / np.std(x[: len(x) // 2]))
        assert 1.5 < np.median(ratios) < 12, kind


def test_rooms_differ_and_are_never_silent() -> None:
    rooms = [room(np.random.default_rng(seed), RATE, RATE) for seed in range(12)]
    assert all(len(x) == RATE and np.std(x) > 0 and np.all(np.isfinite(x)) for x in rooms)
    tones = [centroid_hz(x) for x in rooms]
    assert max(tones) > 4 * min(tones)
