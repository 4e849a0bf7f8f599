"""Scenes and their wear: what is audible is known, real water is one of a set, and a codec leaves length and scale."""

from __future__ import annotations

import numpy as np
import pytest

from tuner.training.recordings import Clip
from tuner.training.scenes import LABELS, draw_scene
from tuner.training.wear import another_speed, worn

RATE = 16000


def tone(hz: float, seconds: float = 2.0) -> np.ndarray:
    return np.sin(2 * np.pi * hz * np.arange(round(seconds * RATE)) / RATE)


def test_the_same_draw_gives_the_same_scene() -> None:
    one, other = (draw_scene(np.random.default_rng(5), sample_rate=RATE, seconds=4.0) for _ in range(2))
    assert np.array_equal(one.samples, other.samples)
    assert np.array_equal(one.over_db, other.over_db)
    assert one.over_db.shape == one.any_of.shape == (7, len(LABELS))


def test_real_water_is_one_of_its_kinds_and_no_other() -> None:
    water = [Clip(np.random.default_rng(0).normal(0, 0.1, RATE * 3).astype(np.float32), ("gurgle", "splash"))]
    scenes = [
        draw_scene(np.random.default_rng(s), sample_rate=RATE, seconds=3.0, household=None, water=water)
        for s in range(25)
    ]
    held = [s for s in scenes if s.any_of.any()]
    assert held, "some scenes hold the water"
    columns = [LABELS.index("gurgle"), LABELS.index("splash")]
    for scene in held:
        assert np.isnan(scene.over_db[:, columns]).all()
        rest = np.delete(scene.over_db, columns, axis=1)
        assert np.all(rest < -7.0)


def test_a_scene_may_hold_what_is_not_the_rigs() -> None:
    own, other = (
        draw_scene(np.random.default_rng(5), sample_rate=RATE, seconds=4.0, otherwise_share=share) for share in (0, 1)
    )
    assert own.samples.shape == other.samples.shape
    assert not np.allclose(own.samples, other.samples)
    assert np.isfinite(other.samples).all()


def test_a_room_at_rest_holds_household_sound_at_most() -> None:
    scenes = [
        draw_scene(np.random.default_rng(s), sample_rate=RATE, seconds=3.0, otherwise_share=1.0, at_rest=True)
        for s in range(12)
    ]
    outside = LABELS.index("outside")
    for scene in scenes:
        assert np.all(np.delete(scene.over_db, outside, axis=1) == -99.0)
        assert not scene.any_of.any()
    heard = [bool((scene.over_db[:, outside] > -7.0).any()) for scene in scenes]
    assert any(heard)
    assert not all(heard)


def test_an_uneven_response_leaves_length_and_range() -> None:
    noise = 0.3 * np.random.default_rng(1).standard_normal(RATE).astype(np.float32)
    worn_ones = [worn(np.random.default_rng(s), noise, RATE, uneven_share=1.0) for s in range(6)]
    assert all(w.shape == noise.shape and float(np.abs(w).max()) <= 1.0 for w in worn_ones)
    assert not np.allclose(worn_ones[0], worn(np.random.default_rng(0), noise, RATE))


def test_an_evening_lies_over_the_scene() -> None:
    noise = np.random.default_rng(1).standard_normal(RATE * 3).astype(np.float32)
    scene = draw_scene(
        np.random.default_rng(2), sample_rate=RATE, seconds=3.0, household=None, evening=(noise, 75.0)
    )
    assert np.all(scene.over_db[:, LABELS.index("outside")] > 1.0)


def test_another_speed_moves_the_pitch_by_up_to_a_half() -> None:
    rng = np.random.default_rng(3)
    found = set()
    for _ in range(40):
        played = another_speed(rng, tone(1000.0), 2 * RATE)
        assert played.shape == (2 * RATE,)
        spectrum = np.abs(np.fft.rfft(played[:RATE] * np.hanning(RATE)))
        found.add(round(float(np.argmax(spectrum))))
    assert min(found) == pytest.approx(667, abs=3)
    assert max(found) == pytest.approx(1500, abs=3)


def test_wear_keeps_length_and_range_and_is_drawn() -> None:
    samples = (0.3 * tone(900.0)).astype(np.float32)
    results = [worn(np.random.default_rng(s), samples, RATE) for s in range(30)]
    assert all(r.shape == samples.shape and float(np.abs(r).max()) <= 1.1 for r in results)
    changed = [not np.allclose(r, samples, atol=1e-4) for r in results]
    assert any(changed)
    assert not all(changed)
