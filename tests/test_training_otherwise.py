"""Sounds made otherwise than by the rig's voices, in each of the ways: level, drive, rests, seeds; rooms of a level."""

from __future__ import annotations

import numpy as np
import pytest

from tuner.rehearsal.voices.loudness import a_level_db
from tuner.terms import SOUND_KINDS, SoundKind
from tuner.training.makes import designed, everyday, layered, physical, plumbed, textural
from tuner.training.otherwise import LEVEL_DB, otherwise, room_tone

RATE = 16_000
STEP = RATE // 20
MAKES = {
    "layered": layered, "physical": physical, "designed": designed, "everyday": everyday, "textural": textural,
    "plumbed": plumbed,
}
every_make = pytest.mark.parametrize("make", MAKES)
every_kind = pytest.mark.parametrize("kind", SOUND_KINDS)


def made(make: str, kind: SoundKind, drive: np.ndarray, seed: int = 1, rate: int = RATE) -> np.ndarray:
    return MAKES[make].sound(kind, np.random.default_rng(seed), rate, drive, 50.0)


@every_make
@every_kind
def test_a_sound_is_as_long_as_its_drive_and_finite(make: str, kind: SoundKind) -> None:
    drive = np.concatenate((np.zeros(5), np.full(25, 0.6), np.zeros(25), np.full(25, 3.0)))
    for seed in range(3):
        sound = made(make, kind, drive, seed)
        assert sound.shape == (80 * STEP,)
        assert np.isfinite(sound).all()
        assert sound.any()
    assert np.isfinite(made(make, kind, np.array([0.0, 0.01, 0.0]))).all()
    assert made(make, kind, np.ones(7), rate=44_100).shape == (7 * 2205,)


@every_make
@every_kind
def test_no_kind_sounds_before_or_long_after_its_drive(make: str, kind: SoundKind) -> None:
    drive = np.concatenate([np.zeros(20), np.ones(40), np.zeros(60)])
    tail = 45 if kind == "flush" else 11  # a flush gasps after its end
    for seed in range(3):
        sound = made(make, kind, drive, seed)
        assert not sound[: 18 * STEP].any()
        assert not sound[(60 + tail) * STEP:].any()
    assert not made(make, kind, np.zeros(30)).any()


@every_make
@every_kind
def test_the_same_seed_gives_the_same_sound_and_another_one_another(make: str, kind: SoundKind) -> None:
    assert np.array_equal(made(make, kind, np.ones(30), 3), made(make, kind, np.ones(30), 3))
    assert not np.array_equal(made(make, kind, np.ones(30), 3), made(make, kind, np.ones(30), 4))


@every_kind
def test_every_kind_has_about_its_level_and_rises_with_the_drive(kind: SoundKind) -> None:
    def level_db(drive: float, seed: int) -> float:
        sound = otherwise(kind, np.random.default_rng(seed), RATE, np.full(60, drive), 50.0)
        return a_level_db(sound, sample_rate=RATE)

    levels = [level_db(1.0, seed) for seed in range(5)]
    assert np.abs(np.array(levels) - LEVEL_DB[kind]).max() < 8.0
    soft, strong = (np.mean([level_db(d, seed) for seed in range(5)]) for d in (0.4, 3.0))
    assert strong > soft + 5.0


def test_sounds_are_made_in_every_way() -> None:
    rate_of = {name: [] for name in MAKES}
    for seed in range(40):
        sound = otherwise("roar", np.random.default_rng(seed), RATE, np.ones(20), 50.0)
        rng = np.random.default_rng(seed)
        name = list(MAKES)[int(rng.integers(6))]
        raw = MAKES[name].sound("roar", rng, RATE, np.ones(20), 50.0)
        rate_of[name].append(np.corrcoef(sound, raw)[0, 1])
    assert all(r and min(r) > 0.999 for r in rate_of.values())


@pytest.mark.parametrize("level_db", [20.0, 34.0])
def test_a_room_has_its_level(level_db: float) -> None:
    for seed in range(5):
        tone = room_tone(np.random.default_rng(seed), RATE, 4 * RATE, level_db)
        assert a_level_db(tone, sample_rate=RATE) == pytest.approx(level_db, abs=1e-6)
