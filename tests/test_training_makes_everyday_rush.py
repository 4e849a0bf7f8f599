"""Rushing air, flushes, falling water and machines by likeness: every way of making each kind."""

from __future__ import annotations

import numpy as np
import pytest
from _pytest.mark import ParameterSet

from tuner.training.makes.everyday_parts import Floats, Scene
from tuner.training.makes.everyday_rush import MACHINES, Method

RATE = 16_000


def ways(*kinds: str) -> list[ParameterSet]:
    return [
        pytest.param(way, id=f"{kind} {way.__name__.strip('_')}")
        for kind in kinds or MACHINES for way in MACHINES[kind]
    ]


def made(way: Method, drive: Floats, seed: int = 2) -> Floats:
    return way(Scene(np.random.default_rng(seed), RATE, drive, 50.0))


def share_above(x: Floats, hz: float) -> float:
    power = np.abs(np.fft.rfft(x)) ** 2
    return float(power[np.fft.rfftfreq(x.size, 1 / RATE) > hz].sum() / power.sum())


@pytest.mark.parametrize("way", ways())
def test_a_sound_is_as_long_as_its_drive_and_the_same_again(way: Method) -> None:
    drive = np.ones(60)
    sound = made(way, drive)
    assert sound.shape == (3 * RATE,)
    assert np.isfinite(sound).all()
    assert sound.any()
    assert np.array_equal(sound, made(way, drive))
    assert not np.array_equal(sound, made(way, drive, seed=3))


@pytest.mark.parametrize("way", ways("hiss"))
def test_rushing_air_is_bright(way: Method) -> None:
    assert np.median([share_above(made(way, np.ones(60), seed), 1000.0) for seed in range(7)]) > 0.6


@pytest.mark.parametrize("way", ways("roar"))
def test_falling_water_is_low_and_goes_on(way: Method) -> None:
    sounds = [made(way, np.ones(60), seed) for seed in range(7)]
    assert np.median([share_above(x, 1000.0) for x in sounds]) < 0.4
    seconds = [np.std(x.reshape(3, -1), axis=1) for x in sounds]
    assert np.median([s.max() / s.min() for s in seconds]) < 1.6


@pytest.mark.parametrize("way", ways("flush"))
def test_a_flush_is_heard_in_its_bout(way: Method) -> None:
    drive = np.concatenate([np.zeros(40), np.ones(80), np.zeros(60)])
    sound = made(way, drive)
    inside = float(np.sum(sound[2 * RATE : 7 * RATE] ** 2))
    assert not sound[: 2 * RATE - RATE // 20].any()
    assert inside > 0.99 * float(np.sum(sound**2))
