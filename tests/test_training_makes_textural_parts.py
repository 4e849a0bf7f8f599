"""Parts of textures: events at their rate, grains and lines at their pitch, pulses, textures in their band."""

from __future__ import annotations

import numpy as np
import pytest

from tuner.training.makes.textural_parts import (
    Marks,
    Scene,
    Statistics,
    events,
    grains,
    lines,
    modulators,
    rough,
    scene,
    texture,
    unit,
)

RATE = 16_000


def driven(seconds: float = 8.0, drive: float = 1.0, seed: int = 0) -> Scene:
    return scene(np.random.default_rng(seed), RATE, np.full(round(20 * seconds), drive))


def power_of(x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    return np.fft.rfftfreq(x.size, 1 / RATE), np.abs(np.fft.rfft(x)) ** 2


def test_a_scene_knows_its_bouts_and_its_level() -> None:
    sc = scene(np.random.default_rng(0), RATE, np.concatenate([np.zeros(20), np.full(40, 2.0), np.zeros(20)]))
    assert sc.bouts == [(1.0, 3.0)]
    assert sc.n == 4 * RATE
    assert sc.level.max() == pytest.approx(2.0**0.7)
    assert not sc.level[(sc.times < 0.99) | (sc.times > 3.01)].any()


@pytest.mark.parametrize("regularity", [1.0, 50.0])
def test_events_fall_at_their_rate(regularity: float) -> None:
    sc = driven()
    times = events(sc, np.full(len(sc.times), 40.0), regularity)
    assert times.size == pytest.approx(320, rel=0.15)
    assert np.all(np.diff(times) >= 0)


def test_events_rest_where_their_rate_is_nought() -> None:
    sc = driven()
    times = events(sc, np.where(sc.times < 4.0, 40.0, 0.0))
    assert times.max() < 4.2
    assert times.size == pytest.approx(160, rel=0.25)


def test_grains_ring_about_their_pitch() -> None:
    sc = driven()
    made = grains(sc, events(sc, np.full(len(sc.times), 30.0)), Marks(900.0, 0.1, 25.0, chirp=0.02))
    hz, power = power_of(made)
    assert power[(hz > 600.0) & (hz < 1350.0)].sum() > 0.8 * power.sum()


def test_lines_stand_at_multiples_of_their_fundamental() -> None:
    hz, power = power_of(lines(driven(), 120.0, np.array([1.0, 0.0, 0.5])))
    near = [power[np.abs(hz - at) < 2.0].sum() for at in (120.0, 360.0)]
    assert sum(near) > 0.99 * power.sum()
    assert near[1] / near[0] == pytest.approx(0.25, rel=0.05)


def test_pulses_have_a_mean_power_of_one_at_their_rate() -> None:
    gain = rough(driven(), 25.0, 0.8, 3.0, 0.0)
    assert np.mean(gain**2) == pytest.approx(1.0, rel=0.01)
    hz, power = power_of(gain - gain.mean())
    assert hz[int(np.argmax(power))] == pytest.approx(25.0, abs=0.5)


def test_modulators_are_unit_and_slow() -> None:
    rows = modulators(np.random.default_rng(0), 6, 4000, 100.0, 2.0, 3.0)
    assert np.std(rows, axis=1) == pytest.approx(np.ones(6), rel=0.25)
    power = np.abs(np.fft.rfft(rows, axis=1)) ** 2
    slow = np.fft.rfftfreq(4000, 0.01) < 8.0
    assert power[:, slow].sum() > 0.9 * power.sum()


def test_a_texture_lies_about_its_centre() -> None:
    def centre_hz(wanted_hz: float) -> float:
        sc = driven()
        hz, power = power_of(texture(sc, Statistics(wanted_hz, 12.0, 12.0, 0.3, humps=0), sc.level))
        return float(np.exp(np.average(np.log(hz[1:]), weights=power[1:])))

    assert centre_hz(2500.0) > 2.5 * centre_hz(600.0)


def test_unit_counts_what_sounds_alone() -> None:
    x = np.concatenate([np.zeros(300), 0.02 * np.random.default_rng(1).standard_normal(700)])
    assert np.sqrt(np.mean(unit(x)[300:] ** 2)) == pytest.approx(1.0, rel=0.01)
