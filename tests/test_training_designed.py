"""The patched sounds: shape, rests, repeatability, level, and what tells the kinds apart."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from tuner.rehearsal.voices.loudness import a_level_db
from tuner.terms import SOUND_KINDS, SoundKind
from tuner.training.designed import sound

RATE = 16_000
NOMINAL_DB = {
    "gurgle": 42.0, "slurp": 47.0, "trickle": 38.0, "splash": 44.0, "hiss": 38.0, "flush": 50.0, "roar": 54.0,
    "hum": 36.0, "rattle": 40.0,
}  # fmt: skip

Floats = NDArray[np.float64]


def heard(kind: SoundKind, seed: int, drive: Floats | None = None) -> Floats:
    return sound(kind, np.random.default_rng(seed), RATE, np.ones(60) if drive is None else drive, 50.0)


def brightness_hz(kind: SoundKind) -> float:
    middles = []
    for seed in range(9):
        power = np.abs(np.fft.rfft(heard(kind, seed))) ** 2
        middles.append(float(np.searchsorted(np.cumsum(power), 0.5 * power.sum())) / 3.0)
    return float(np.median(middles))


@pytest.mark.parametrize("kind", SOUND_KINDS)
def test_every_kind_fills_the_drive_with_finite_pressure_at_its_level(kind: SoundKind) -> None:
    levels = []
    for seed in range(6):
        out = heard(kind, seed)
        assert out.shape == (60 * RATE // 20,)
        assert np.all(np.isfinite(out))
        levels.append(a_level_db(out, sample_rate=RATE))
    assert np.abs(np.array(levels) - NOMINAL_DB[kind]).max() < 10.0


@pytest.mark.parametrize("kind", SOUND_KINDS)
def test_it_is_silent_where_not_driven(kind: SoundKind) -> None:
    drive = np.zeros(100)
    drive[20:50] = 1.0
    out = heard(kind, 3, drive)
    tail = 20 if kind == "flush" else 10
    assert not out[: 20 * RATE // 20].any()
    assert out[20 * RATE // 20 : 50 * RATE // 20].any()
    assert not out[(50 + tail) * RATE // 20 :].any()
    assert not heard(kind, 3, np.zeros(10)).any()


@pytest.mark.parametrize("kind", SOUND_KINDS)
def test_a_seed_gives_one_sound_and_another_seed_another(kind: SoundKind) -> None:
    assert np.array_equal(heard(kind, 5), heard(kind, 5))
    assert not np.allclose(heard(kind, 5), heard(kind, 6))


def test_a_stronger_drive_is_louder() -> None:
    drive = np.concatenate((np.ones(60), np.full(60, 3.0)))
    out = heard("roar", 1, drive)
    rise_db = a_level_db(out[len(out) // 2 :], sample_rate=RATE) - a_level_db(out[: len(out) // 2], sample_rate=RATE)
    assert 3.0 < rise_db < 11.0


def test_one_step_of_drive_and_other_rates_do_no_harm() -> None:
    for kind in SOUND_KINDS:
        assert np.all(np.isfinite(heard(kind, 2, np.array([0.0, 0.01, 0.0]))))
        assert sound(kind, np.random.default_rng(4), 44_100, np.ones(7), 60.0).shape == (7 * 2205,)


def test_air_and_drops_are_brighter_than_falling_water_and_large_bubbles() -> None:
    assert brightness_hz("hiss") > 3.0 * brightness_hz("roar")
    assert brightness_hz("trickle") > 3.0 * brightness_hz("gurgle")


def test_a_hum_is_lines_and_a_hiss_is_not() -> None:
    def in_lines(kind: SoundKind, seed: int) -> float:
        power = np.abs(np.fft.rfft(heard(kind, seed) * np.hanning(60 * RATE // 20))) ** 2
        return float(np.sort(power)[-60:].sum() / power.sum())

    assert np.median([in_lines("hum", seed) for seed in range(7)]) > 0.9
    assert np.median([in_lines("hiss", seed) for seed in range(7)]) < 0.3
