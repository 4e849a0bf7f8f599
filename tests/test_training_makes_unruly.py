"""The unruly make: what tells its kinds apart, that they follow the drive, and how wide each kind is."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import kurtosis

from tuner.terms import SoundKind
from tuner.training.makes.unruly import room, sound

RATE = 16_000
Floats = NDArray[np.float64]
SEEDS = range(9)


def driven(kind: SoundKind, seed: int, drive: Floats) -> Floats:
    return sound(kind, np.random.default_rng(seed), RATE, drive, 50.0)


@cache
def heard(kind: SoundKind, seed: int) -> Floats:
    return driven(kind, seed, np.ones(60))


def middle_hz(x: Floats) -> float:
    """Return the frequency that halves the power above 150 Hz."""
    hz = np.fft.rfftfreq(x.size, 1.0 / RATE)
    power = np.abs(np.fft.rfft(x)) ** 2 * (hz > 150.0)
    return float(hz[np.searchsorted(np.cumsum(power), 0.5 * power.sum())])


def levels_db(x: Floats) -> Floats:
    """Return the level of each 50 ms."""
    out: Floats = 10.0 * np.log10(np.mean(x.reshape(-1, RATE // 20) ** 2, axis=1) + 1e-20)
    return out


def middles(kind: SoundKind) -> Floats:
    return np.array([middle_hz(heard(kind, seed)) for seed in SEEDS])


def test_air_and_drops_are_brighter_than_falling_water_and_large_bubbles() -> None:
    assert np.median(middles("trickle")) > 2.5 * np.median(middles("roar"))
    assert np.median(middles("hiss")) > 3.0 * np.median(middles("roar"))
    assert np.median(middles("splash")) > 1.5 * np.median(middles("gurgle"))


@pytest.mark.parametrize("kind", ["gurgle", "slurp", "splash", "flush", "roar", "hiss", "rattle"])
def test_a_kind_is_wide(kind: SoundKind) -> None:
    found = middles(kind)
    assert found.max() > 2.5 * found.min()


def test_a_gurgle_never_rests_for_two_seconds() -> None:
    for seed in SEEDS:
        for strength in (0.3, 2.0):
            levels = levels_db(driven("gurgle", seed, np.full(120, strength)))
            loud = np.flatnonzero(levels > np.percentile(levels, 95) - 25.0)
            marks = np.concatenate([[-1], loud, [120]])
            assert np.diff(marks).max() * 0.05 < 2.0


def test_gurgles_run_from_even_to_chugging() -> None:
    depths = [float(np.std(levels_db(heard("gurgle", seed)))) for seed in SEEDS]
    assert min(depths) < 4.0
    assert max(depths) > 8.0


def test_slurps_sound_through_each_bout_and_rest_between() -> None:
    drive = np.concatenate([np.zeros(10), np.ones(40), np.zeros(30), np.ones(20), np.zeros(20)])
    for seed in SEEDS:
        power = np.mean(driven("slurp", seed, drive).reshape(-1, RATE // 20) ** 2, axis=1)
        assert power[:9].max() == 0.0
        assert power[60:79].max() == 0.0
        assert power[111:].max() == 0.0
        assert power[10:50].sum() + power[80:100].sum() > 0.6 * power.sum()
        assert (power[10:50].reshape(-1, 10).max(axis=1) > 1e-5 * power.max()).all()


def test_a_flush_swells_and_gasps_at_its_end_in_some_draws() -> None:
    drive = np.concatenate([np.ones(80), np.zeros(50)])
    swells, gasps = [], []
    for seed in SEEDS:
        levels = levels_db(driven("flush", seed, drive))
        swells.append(levels[30:65].max() - levels[:8].max())
        gasps.append(levels[81:118].max() - levels[30:65].max())
    assert np.median(swells) > 6.0
    assert min(swells) > 0.0
    assert max(gasps) > -10.0


def test_a_hum_is_lines_and_a_hiss_is_steady_noise() -> None:
    def in_lines(x: Floats) -> float:
        power = np.abs(np.fft.rfft(x * np.hanning(x.size))) ** 2
        return float(np.sort(power)[-90:].sum() / power.sum())

    assert np.median([in_lines(heard("hum", seed)) for seed in SEEDS]) > 0.85
    hisses = [heard("hiss", seed) for seed in SEEDS]
    assert np.median([in_lines(x) for x in hisses]) < 0.2
    assert np.median([np.std(levels_db(x)[4:]) for x in hisses]) < 1.5


def test_rattles_and_drops_stand_out_and_rushes_do_not() -> None:
    peaked = {kind: np.median([kurtosis(heard(kind, seed)) for seed in SEEDS]) for kind in
              ("rattle", "trickle", "roar", "hiss")}
    assert min(peaked["rattle"], peaked["trickle"]) > 3.0
    assert max(peaked["roar"], peaked["hiss"]) < 1.5


@pytest.mark.parametrize("kind", ["gurgle", "trickle", "roar"])
def test_a_stronger_drive_is_louder_within_one_sound(kind: SoundKind) -> None:
    drive = np.concatenate([np.full(40, 0.5), np.full(40, 2.5)])
    rises = []
    for seed in SEEDS:
        power = np.mean(driven(kind, seed, drive).reshape(2, -1) ** 2, axis=1)
        rises.append(10.0 * np.log10(power[1] / power[0]))
    assert np.median(rises) > 5.0


def test_rooms_are_low_wide_and_of_any_length() -> None:
    rooms = [room(np.random.default_rng(seed), RATE, 2 * RATE + 7) for seed in range(16)]
    assert all(x.shape == (2 * RATE + 7,) and np.isfinite(x).all() and x.std() > 0.0 for x in rooms)
    found = np.array([middle_hz(x) for x in rooms])
    assert found.max() > 4.0 * found.min()
    assert np.median(found) < 1200.0
    assert not np.array_equal(rooms[0], rooms[1])
