"""What a tape measure and a measured fact are worth."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tuner.rig import Rig, Siphon, Valve
from tuner.rigfile import typical_rig
from tuner.water.controls import WindowBands, window_bands
from tuner.water.standing import standing
from tuner.water.worth import Worth, worth_of_facts, worth_of_measures


@pytest.fixture(scope="module")
def weighed() -> tuple[WindowBands, tuple[Worth, ...]]:
    return worth_of_measures(typical_rig(), np.random.default_rng(1), draws=400)


Weighed = tuple[WindowBands, tuple[Worth, ...]]


def test_each_assumed_field_is_weighed_dearest_first(weighed: Weighed) -> None:
    rig = typical_rig()
    now, found = weighed
    assert [w.saved for w in found] == sorted((w.saved for w in found), reverse=True)
    assert {w.name for w in found} <= rig.assumed
    assert found[0].name == "siphon.valve.turns"  # a setting in turns cannot be known without their number
    assert now == window_bands(rig, np.random.default_rng(1), draws=400)
    assert all(0.0 <= w.saved < 1.0 for w in found)


def test_what_has_no_part_in_the_window_costs_nothing(weighed: Weighed) -> None:
    _, found = weighed
    worth = {w.name: w.saved for w in found}
    for name in ("tank.length_m", "sump.rim_m", "emergency.rim_height_m", "box.depth_m"):
        assert worth[name] == 0.0


def test_the_channels_bore_tells_the_width_and_the_valves_turns_the_middle(weighed: Weighed) -> None:
    # the quiet share goes as bore^2.5 (Froude), the middle setting hardly
    _, found = weighed
    worth = {w.name: w for w in found}
    assert worth["channel.inner_diameter_m"].width_saved > worth["channel.inner_diameter_m"].setting_saved
    assert worth["siphon.valve.turns"].setting_saved > worth["siphon.valve.turns"].width_saved


def test_knowing_is_sampled_with_the_same_numbers(weighed: Weighed) -> None:
    rig = typical_rig()
    _, found = weighed
    known = replace(rig, assumed=rig.assumed - {"siphon.valve.turns"})
    assert found[0].setting == window_bands(known, np.random.default_rng(1), draws=400).setting_mid


def test_a_described_rig_has_nothing_left_to_measure() -> None:
    assert worth_of_measures(Rig(), np.random.default_rng(1), draws=100)[1] == ()


def test_an_edge_found_by_ear_is_worth_more_than_any_tape(weighed: Weighed) -> None:
    _, tapes = weighed
    facts = worth_of_facts(typical_rig(), np.random.default_rng(1), draws=3000)
    assert {f.name for f in facts} == {"just slurps", "just gurgles", "return flow"}
    assert facts[0].setting_saved > 0.5 > tapes[0].setting_saved


def test_without_a_window_the_bands_cannot_narrow() -> None:
    rig = replace(typical_rig(), siphon=Siphon(inner_diameter_m=0.012))
    _, found = worth_of_measures(rig, np.random.default_rng(1), draws=100)
    assert all(w.setting_saved == 0.0 for w in found)


class TestStanding:
    def test_mid_window_the_water_stands_a_film_over_the_crest(self) -> None:
        stand = standing(Rig(), np.random.default_rng(1))
        assert not stand.described
        assert abs(stand.over_crest_m.middle) < 0.015
        assert stand.slurping_share == 0.0
        assert stand.wet_emergency_share < 0.05

    @pytest.mark.parametrize(("turns", "regime"), [(5.0, "slurping_share"), (0.5, "gurgling_share")])
    def test_a_wrong_setting_is_recognised(self, turns: float, regime: str) -> None:
        rig = Rig(siphon=Siphon(valve=Valve(setting=turns)))
        stand = standing(rig, np.random.default_rng(1))
        assert stand.described
        assert getattr(stand, regime) > 0.9
        assert stand.quiet_share < 0.05
