"""What tells the kinds apart when they are heard through resonant bodies, and how far draws of a kind differ."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from tuner.terms import SOUND_KINDS, SoundKind
from tuner.training.makes.modal import room, sound

RATE = 16_000
FRAME = RATE // 50
SEEDS = 6


@cache
def made(kind: SoundKind, seed: int) -> np.ndarray:
    """Two seconds of a draw."""
    return driven(kind, seed, np.ones(40))


def driven(kind: SoundKind, seed: int, drive: NDArray[np.float64]) -> np.ndarray:
    return sound(kind, np.random.default_rng(seed), RATE, drive, 50.0)


def power_of(x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    return np.fft.rfftfreq(len(x), 1.0 / RATE), np.abs(np.fft.rfft(x * np.hanning(len(x)))) ** 2


def centroid_hz(x: np.ndarray) -> float:
    hz, power = power_of(x)
    return float(np.sum(hz * power) / np.sum(power))


def levels_db(x: np.ndarray) -> np.ndarray:
    """The level of each 20 ms, bass left out."""
    frames = np.diff(x, prepend=0.0).reshape(-1, FRAME)
    return 10.0 * np.log10(np.mean(frames**2, axis=1) + 1e-20)


def typical_hz(kind: SoundKind) -> float:
    return float(np.median([centroid_hz(made(kind, seed)) for seed in range(SEEDS)]))


def test_air_and_drops_are_brighter_than_falling_water_and_large_bubbles() -> None:
    hz = {kind: typical_hz(kind) for kind in ("hiss", "trickle", "splash", "gurgle", "roar", "hum")}
    assert min(hz["hiss"], hz["trickle"]) > 1.05 * hz["splash"]
    assert hz["trickle"] > 2.0 * hz["gurgle"]
    assert hz["splash"] > 1.5 * hz["gurgle"]
    assert hz["trickle"] > 3.0 * hz["roar"]
    assert hz["roar"] > hz["hum"]


@pytest.mark.parametrize("kind", SOUND_KINDS)
def test_draws_of_a_kind_differ_widely_in_pitch(kind: SoundKind) -> None:
    hz = np.array([centroid_hz(made(kind, seed)) for seed in range(SEEDS)])
    assert hz.max() > 1.8 * hz.min()


def test_gurgles_never_rest_for_2_s_and_some_rest_for_half_a_second() -> None:
    longest = []
    for seed in range(SEEDS):
        for drive in (0.2, 1.0):
            level = levels_db(driven("gurgle", seed, np.full(100, drive)))
            rest = (level < np.percentile(level, 95) - 30.0).astype(int)
            edges = np.flatnonzero(np.diff(np.concatenate(([0], rest, [0]))))
            longest.append(max(edges[1::2] - edges[::2], default=0) / 50.0)
    assert max(longest) < 2.0
    assert max(longest) > 0.5


def test_slurps_sound_while_they_are_driven_and_for_no_more_than_half_a_second_after() -> None:
    drive = np.concatenate((np.zeros(10), np.ones(30), np.zeros(30), np.ones(10), np.zeros(20)))
    on = np.repeat(drive > 0.0, RATE // 20)
    for seed in range(8):
        x = driven("slurp", seed, drive)
        assert np.mean(x[on] ** 2) > 10.0 * np.mean(x[~on] ** 2)
        assert not x[50 * RATE // 20 : 69 * RATE // 20].any()
        assert np.mean(x[70 * RATE // 20 : 80 * RATE // 20] ** 2) > 0.0


def test_slurps_bring_from_one_gulp_to_a_steady_breath() -> None:
    unrest = [float(np.std(levels_db(made("slurp", seed))[10:-10])) for seed in range(SEEDS)]
    assert max(unrest) > 8.0
    assert min(unrest) < 5.0


def test_hiss_is_steadier_than_any_water() -> None:
    def unrest(kind: SoundKind) -> float:
        return float(np.median([np.std(levels_db(made(kind, seed))[10:-10]) for seed in range(SEEDS)]))

    assert 2.0 * unrest("hiss") < min(unrest(kind) for kind in ("slurp", "gurgle", "trickle", "splash"))


def test_the_peak_of_hisses_lies_at_many_a_pitch() -> None:
    peaks = []
    for seed in range(16):
        power = power_of(made("hiss", seed))[1]
        bands = np.add.reduceat(power, np.arange(0, len(power) - 400, 400))  # 200 Hz each
        peaks.append(200.0 * (int(np.argmax(bands)) + 0.5))
    assert min(peaks) < 2000.0
    assert max(peaks) > 4500.0


def test_hum_stands_in_lines_and_water_does_not() -> None:
    def share_in_lines(kind: SoundKind) -> float:
        shares = []
        for seed in range(SEEDS):
            power = power_of(made(kind, seed))[1]
            shares.append(np.sort(power)[-len(power) // 100 :].sum() / power.sum())
        return float(np.median(shares))

    assert share_in_lines("hum") > 0.9
    assert share_in_lines("splash") < 0.4


def test_a_flush_gasps_after_its_end() -> None:
    drive = np.concatenate((np.zeros(5), np.ones(60), np.zeros(45)))
    made_so = [driven("flush", seed, drive) for seed in range(SEEDS)]
    late = [x[67 * RATE // 20 : 75 * RATE // 20] for x in made_so]
    rush = [x[20 * RATE // 20 : 60 * RATE // 20] for x in made_so]
    ratios = [float(np.std(a) / np.std(b)) for a, b in zip(late, rush, strict=True)]
    assert max(ratios) > 0.3
    assert np.median(ratios) > 0.02


def test_rattles_are_more_pointed_than_hum() -> None:
    def crest(kind: SoundKind) -> float:
        heard = [np.diff(made(kind, seed)) for seed in range(SEEDS)]
        return float(np.median([np.max(np.abs(x)) / np.std(x) for x in heard]))

    assert crest("rattle") > 2.0 * crest("hum")


@pytest.mark.parametrize("kind", SOUND_KINDS)
def test_a_stronger_drive_is_louder(kind: SoundKind) -> None:
    drive = np.concatenate((np.full(20, 0.4), np.full(20, 3.0)))
    halves = [driven(kind, seed, drive).reshape(2, -1) for seed in range(3)]
    assert 1.5 < np.median([np.std(strong) / np.std(soft) for soft, strong in halves]) < 12.0


@pytest.mark.parametrize("kind", SOUND_KINDS)
def test_any_drive_will_do(kind: SoundKind) -> None:
    rng = np.random.default_rng(7)
    drive = rng.uniform(0.0, 3.0, 17) * (rng.random(17) < 0.5)
    assert np.isfinite(driven(kind, 5, drive)).all()
    assert np.isfinite(driven(kind, 1, np.array([1e-6]))).all()


def test_rooms_hum_at_times_and_differ_in_tilt() -> None:
    rooms = [room(np.random.default_rng(seed), RATE, 2 * RATE) for seed in range(20)]
    assert all(np.isfinite(x).all() and len(x) == 2 * RATE for x in rooms)
    assert all(np.min(np.std(x.reshape(20, -1), axis=1)) > 0.0 for x in rooms)
    hz = [centroid_hz(x) for x in rooms]
    assert max(hz) > 4.0 * min(hz)
    peaks = []
    for x in rooms:
        at, power = power_of(x)
        lines = np.isin(at, [50.0, 60.0, 100.0, 120.0, 150.0, 180.0])
        peaks.append(np.max(power[lines]) / np.median(power[(at > 40.0) & (at < 200.0)]))
    assert max(peaks) > 100.0
    assert min(peaks) < 30.0
