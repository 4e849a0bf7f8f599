from typing import get_args

import numpy as np
import pytest

from tuner.rehearsal.voices.control import CONTROL_S, step_samples
from tuner.rehearsal.voices.loudness import a_level_db
from tuner.terms import SoundKind
from tuner.training import physical

RATE = 16_000
KINDS: tuple[SoundKind, ...] = get_args(SoundKind)
STEADY = np.ones(80)


def heard(kind: SoundKind, seed: int, drive: np.ndarray = STEADY, rate: int = RATE) -> np.ndarray:
    return physical.sound(kind, np.random.default_rng(seed), rate, drive, 50.0)


def centroid(pressure: np.ndarray) -> float:
    power = np.abs(np.fft.rfft(pressure)) ** 2
    return float(np.sum(power * np.fft.rfftfreq(len(pressure), 1.0 / RATE)) / np.sum(power))


def prominence_db(pressure: np.ndarray) -> float:
    """Return how far the strongest fine line stands over the middle of its neighbourhood of 100 Hz."""
    power = np.abs(np.fft.rfft(pressure * np.hanning(len(pressure)))) ** 2
    wide = round(50.0 * len(pressure) / RATE)
    top = int(np.argmax(power[wide:-wide])) + wide
    return float(10.0 * np.log10(power[top] / np.median(power[top - wide : top + wide])))


@pytest.mark.parametrize("kind", KINDS)
def test_is_finite_and_as_long_as_the_drive(kind: SoundKind) -> None:
    drive = np.concatenate((np.zeros(5), np.full(25, 0.6), np.zeros(25), np.full(25, 3.0)))
    for seed in range(4):
        pressure = heard(kind, seed, drive)
        assert pressure.shape == (80 * step_samples(RATE),)
        assert np.all(np.isfinite(pressure))
        assert np.any(pressure)


@pytest.mark.parametrize("rate", [44_100, 48_000])
def test_fits_the_other_rates(rate: int) -> None:
    for seed, kind in enumerate(KINDS):
        pressure = heard(kind, seed, np.ones(10), rate)
        assert pressure.shape == (10 * step_samples(rate),)
        assert np.all(np.isfinite(pressure))


@pytest.mark.parametrize("kind", KINDS)
def test_is_silent_where_not_driven(kind: SoundKind) -> None:
    drive = np.concatenate((np.zeros(20), np.ones(20), np.zeros(40)))
    tail_s = 1.0 if kind == "flush" else 0.5
    end = round((40 * CONTROL_S + tail_s) * RATE)
    for seed in range(4):
        pressure = heard(kind, seed, drive)
        assert not np.any(pressure[: 20 * step_samples(RATE)])
        assert not np.any(pressure[end + 1 :])
    assert not np.any(heard(kind, 0, np.zeros(30)))


@pytest.mark.parametrize("kind", KINDS)
def test_is_set_by_its_seed(kind: SoundKind) -> None:
    assert np.array_equal(heard(kind, 3), heard(kind, 3))
    assert not np.array_equal(heard(kind, 3), heard(kind, 4))


@pytest.mark.parametrize("kind", KINDS)
def test_has_its_level_and_rises_with_drive(kind: SoundKind) -> None:
    for seed in range(5):
        level = a_level_db(heard(kind, seed), sample_rate=RATE)
        assert abs(level - physical.LEVELS_DB[kind]) < 10.0
    quiet = np.mean([a_level_db(heard(kind, s, 0.4 * STEADY), sample_rate=RATE) for s in range(5)])
    loud = np.mean([a_level_db(heard(kind, s, 3.0 * STEADY), sample_rate=RATE) for s in range(5)])
    assert loud > quiet + 5.0


@pytest.mark.parametrize("kind", KINDS)
def test_has_several_methods(kind: SoundKind) -> None:
    assert len(set(physical._METHODS[kind])) >= 3


@pytest.mark.parametrize(("bright", "dull"), [("hiss", "roar"), ("trickle", "gurgle"), ("trickle", "roar")])
def test_is_brighter_than(bright: SoundKind, dull: SoundKind) -> None:
    above = np.median([centroid(heard(bright, s)) for s in range(12)])
    below = np.median([centroid(heard(dull, s)) for s in range(12)])
    assert above > 1.5 * below


def test_hum_has_lines_and_hiss_has_none() -> None:
    hum = np.median([prominence_db(heard("hum", s)) for s in range(8)])
    hiss = np.median([prominence_db(heard("hiss", s)) for s in range(8)])
    assert hum > hiss + 15.0


def test_a_flush_may_gasp_after_its_drive_stops() -> None:
    drive = np.concatenate((np.ones(40), np.zeros(30)))
    after = [heard("flush", s, drive)[round(2.1 * RATE) : round(2.4 * RATE)] for s in range(6)]
    assert np.median([np.std(part) for part in after]) > 0.0
