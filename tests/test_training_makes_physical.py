from typing import get_args

import numpy as np
import pytest

from tuner.terms import SoundKind
from tuner.training.makes import physical

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
