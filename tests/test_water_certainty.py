"""What facts gain."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tuner.rig import Fact, Rig, Siphon, Valve
from tuner.water.certainty import narrowing


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
