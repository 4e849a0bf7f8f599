"""The other rig that the coach is tried on: its water adds up, and it sounds where and only where it should."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.bench.another_rig.hydraulics import setting_for
from tests.bench.another_rig.plant import Plant
from tests.bench.another_rig.water import STEP_S, Course

SEEDS = (1, 2)
RATE = 48000
SETTLE_S = 900.0  # five times what the level takes between crest and inlet

Flow = NDArray[np.float64]


def settled(plant: Plant, share: float) -> Plant:
    """Set siphon to a share of the flow and vent to its quiet stretch, and let the water settle."""
    built, water = plant.installation, plant.water
    setting = setting_for(built.siphon, water.valve, share * built.flow_m3_s)
    assert setting is not None
    water.valve.handle = water.valve.plug = setting
    water.vent = (built.vent_quiet + built.vent_torn) / 2
    plant.wait(SETTLE_S)
    return plant


def middle(plant: Plant) -> float:
    return sum(plant.quiet_window()) / 2


def drained_m3_s(course: Course) -> Flow:
    return course.siphon_m3_s + course.channel_m3_s + course.emergency_m3_s


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("of_middle", [0.7, 1.0])
def test_what_flows_in_flows_out_once_settled(seed: int, of_middle: float) -> None:
    plant = Plant(seed)
    settled(plant, of_middle * middle(plant))
    course = plant.peek(600.0)
    assert course.supplied_m3_s.mean() == pytest.approx(plant.installation.flow_m3_s, rel=0.02)
    assert drained_m3_s(course).mean() == pytest.approx(course.supplied_m3_s.mean(), rel=5e-3)


@pytest.mark.parametrize("seed", SEEDS)
def test_what_does_not_flow_out_is_in_the_box(seed: int) -> None:
    water = Plant(seed).water
    water.valve.turn(-0.2 * water.valve.full)
    before_m = water.level_m
    course = water.run(5.0, np.random.default_rng(seed))
    gained_m3 = (course.supplied_m3_s - drained_m3_s(course)).sum() * STEP_S
    assert (water.level_m - before_m) * water.installation.box.surface_m2 == pytest.approx(gained_m3, rel=1e-9)


@pytest.mark.parametrize("seed", SEEDS)
def test_mid_window_is_silent_in_truth(seed: int) -> None:
    plant = Plant(seed)
    settled(plant, middle(plant))
    assert plant.audible(plant.peek(600.0)) == set()


@pytest.mark.parametrize("seed", SEEDS)
def test_a_start_is_noisy(seed: int) -> None:
    plant = Plant(seed)
    assert plant.audible(plant.peek(180.0))


@pytest.mark.parametrize("seed", SEEDS)
def test_siphon_opened_far_gulps(seed: int) -> None:
    plant = Plant(seed)
    settled(plant, plant.quiet_window()[1] + 0.2)
    course = plant.peek(120.0)
    assert course.gulping.any()
    assert "slurp" in plant.audible(course)


@pytest.mark.parametrize("seed", SEEDS)
def test_siphon_closed_far_makes_the_channel_gurgle_or_the_emergency_run(seed: int) -> None:
    plant = Plant(seed)
    settled(plant, plant.quiet_window()[0] - 0.3)
    course = plant.peek(120.0)
    assert plant.audible(course) & {"gurgle", "roar"}
    assert not course.gulping.any()


def test_same_seed_same_sound() -> None:
    plants = Plant(5), Plant(5)
    assert plants[0].rig == plants[1].rig
    first, second = (plant.listen(2.0, RATE) for plant in plants)
    assert first.any()
    np.testing.assert_array_equal(first, second)
    plants[0].peek(60.0)
    plants[0].with_flow(1.03)
    np.testing.assert_array_equal(*(plant.listen(2.0, RATE) for plant in plants))
    assert not np.array_equal(first, Plant(6).listen(2.0, RATE))
