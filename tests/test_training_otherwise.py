"""Sounds built otherwise than by the rig's voices: level, drive, kinds that differ, and rooms of a level."""

from __future__ import annotations

import numpy as np
import pytest

from tuner.rehearsal.voices.loudness import a_level_db
from tuner.terms import SOUND_KINDS, SoundKind
from tuner.training.otherwise import otherwise, room_tone

RATE = 16_000
STEP = RATE // 20


def made(kind: SoundKind, drive: np.ndarray, seed: int = 1) -> np.ndarray:
    return otherwise(kind, np.random.default_rng(seed), RATE, drive, 50.0)


def bouts(steps: int = 240, on: int = 30, off: int = 50) -> np.ndarray:
    return (np.arange(steps) % (on + off) < on).astype(float)


@pytest.mark.parametrize("kind", SOUND_KINDS)
def test_every_kind_sounds_while_driven_at_about_its_level(kind: SoundKind) -> None:
    for seed in range(4):
        sound = made(kind, np.ones(100), seed)
        assert sound.shape == (100 * STEP,) and np.isfinite(sound).all()
        assert 28.0 < a_level_db(sound, sample_rate=RATE) < 65.0


@pytest.mark.parametrize("kind", SOUND_KINDS)
def test_no_kind_sounds_long_after_its_drive(kind: SoundKind) -> None:
    drive = np.concatenate([np.zeros(20), np.ones(60), np.zeros(120)])
    sound = made(kind, drive)
    assert not sound[: 18 * STEP].any()
    if kind != "flush":  # its gasp comes at the end and after it
        assert not sound[81 * STEP:].any()
    assert not sound[130 * STEP:].any()


@pytest.mark.parametrize("kind", SOUND_KINDS)
def test_the_same_seed_gives_the_same_sound_and_another_one_another(kind: SoundKind) -> None:
    drive = bouts()
    assert np.array_equal(made(kind, drive, 3), made(kind, drive, 3))
    assert not np.array_equal(made(kind, drive, 3), made(kind, drive, 4))


def test_what_is_never_driven_is_silent() -> None:
    assert not made("gurgle", np.zeros(40)).any()


def test_a_stronger_drive_is_louder() -> None:
    soft, strong = (
        np.mean([a_level_db(made("roar", np.full(60, d), seed), sample_rate=RATE) for seed in range(16)])
        for d in (0.3, 2.0)
    )
    assert strong > soft + 6.0


def test_a_hiss_is_brighter_than_a_roar() -> None:
    def share_above(sound: np.ndarray, edge_hz: float) -> float:
        power = np.abs(np.fft.rfft(sound)) ** 2
        return float(power[np.fft.rfftfreq(sound.size, 1 / RATE) > edge_hz].sum() / power.sum())

    for seed in range(12):
        assert share_above(made("hiss", np.ones(60), seed), 1200.0) > 0.7
        assert share_above(made("roar", np.ones(60), seed), 1200.0) < 0.5


@pytest.mark.parametrize("level_db", [20.0, 34.0])
def test_a_room_has_its_level(level_db: float) -> None:
    for seed in range(5):
        tone = room_tone(np.random.default_rng(seed), RATE, 4 * RATE, level_db)
        assert a_level_db(tone, sample_rate=RATE) == pytest.approx(level_db, abs=1e-6)
