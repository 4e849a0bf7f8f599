"""What uncertainty costs, and what facts gain."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tuner.rig import Fact, Rig, Siphon, Valve
from tuner.rigfile import typical_rig
from tuner.water.certainty import costs, narrowing


def test_an_undescribed_rig_learns_what_to_measure_first() -> None:
    found = costs(typical_rig(), np.random.default_rng(1))
    assert [c.variance_share for c in found] == sorted((c.variance_share for c in found), reverse=True)
    assert sum(c.variance_share for c in found) <= 1.1  # chance correlations add a little
    fields = [c for c in found if "." in c.name]
    assert fields[0].name == "siphon.valve.turns"  # a setting in turns cannot be known without their number
    assert fields[0].narrower > 0.05
    assert fields[0].how.startswith("turns of the wheel")


def test_a_measured_field_costs_nothing_more() -> None:
    described = replace(typical_rig(), assumed=typical_rig().assumed - {"siphon.valve.turns"})
    assert all(c.name != "siphon.valve.turns" for c in costs(described, np.random.default_rng(1)))


def test_a_fully_described_rig_is_left_with_the_models_own_uncertainty() -> None:
    found = costs(Rig(), np.random.default_rng(1))
    assert found
    assert all("." not in c.name and c.narrower == 0.0 for c in found)
    assert {"valve_deviation", "elbow_k_siphon"} <= {c.name for c in found}


def test_no_window_has_no_costs() -> None:
    assert costs(Rig(siphon=Siphon(inner_diameter_m=0.012)), np.random.default_rng(1)) == ()


def test_the_gain_is_told_in_the_valves_unit() -> None:
    rig = replace(Rig(), facts=(Fact(kind="just slurps", setting=2.3),))
    gain = narrowing(rig, np.random.default_rng(1))
    assert gain.before.setting_mid is not None
    assert gain.after.setting_mid is not None
    assert gain.after.setting_mid.width < gain.before.setting_mid.width
    assert "instead of 1 1/4 turns" in gain.says
    ball = Rig(siphon=Siphon(valve=Valve(kind="ball")), facts=(Fact(kind="just slurps", setting=60.0),))
    assert "degrees instead of" in narrowing(ball, np.random.default_rng(1)).says


def test_without_facts_the_most_telling_one_is_named() -> None:
    assert "just slurps tells most" in narrowing(Rig(), np.random.default_rng(1)).says


def test_contradictory_facts_are_called_so() -> None:
    rig = replace(Rig(), facts=(Fact(kind="just slurps", setting=4.9),))
    assert "do not fit the description" in narrowing(rig, np.random.default_rng(1)).says
