"""Failures of level."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tuner.rig import Box, Channel, Emergency, Pump, Rig, Siphon, Tank, Valve, Weir
from tuner.rigfile import typical_rig
from tuner.water.flood import flood_check
from tuner.water.verdict import FloodCase

BACK, DRY, SIPHON, BOTH, PUMPS, BACKUP, RETURN = range(7)


def _case(rig: Rig, which: int, *, us: bool = False) -> FloodCase:
    return flood_check(rig, np.random.default_rng(1), 600, us=us).cases[which]


def _number(case: FloodCase, name: str) -> float:
    return next(n.band.middle for n in case.numbers if n.name.startswith(name))


def test_a_one_inch_emergency_pipe_cannot_be_proved_for_a_large_pump() -> None:
    # an unprimed 1 inch pipe needs 563 mm over its rim for 4000 L/h (spillway forms)
    big = Pump(flow_m3_s=9000 / 3.6e6, head_m=5.0)
    case = _case(Rig(pumps=(big,)), BOTH)
    assert case.verdict in ("cannot tell", "does not hold")
    assert case.hold_share < 0.05
    assert any("wider emergency pipe" in m for m in case.mend)
    wide = _case(Rig(pumps=(big,), emergency=Emergency(inner_diameter_m=0.063)), BOTH)
    assert wide.verdict == "holds"


def test_both_pipes_hold_more_than_one() -> None:
    rig = Rig()
    assert _case(rig, SIPHON).hold_share >= _case(rig, BOTH).hold_share
    assert _case(rig, SIPHON).verdict == "holds"


def test_what_only_priming_would_carry_asks_for_an_attended_test() -> None:
    case = _case(Rig(), BOTH)
    assert case.verdict == "cannot tell"
    assert "attended" in case.measure[0]


def test_a_low_box_limits_before_the_glass_does() -> None:
    low = Rig(box=Box(depth_m=0.262), weir=Weir(height_m=0.25), channel=Channel(), tank=Tank(glass_above_m=0.10))
    assert _number(_case(low, SIPHON), "highest level") == pytest.approx(0.262, abs=0.01)


def test_all_pumps_at_full_speed() -> None:
    one = _case(Rig(), PUMPS)
    assert one.verdict == "holds"
    assert one.says.startswith("The pump at full speed")
    two = _case(Rig(pumps=(Pump(speed=0.8), Pump(name="second", speed=0.8))), PUMPS)
    assert two.says.startswith("Both pumps at full speed")
    strong = Pump(flow_m3_s=9000 / 3.6e6, head_m=6.0, speed=0.5)
    small = Rig(
        pumps=(strong, replace(strong, name="second")),
        siphon=Siphon(valve=Valve(setting=1.0)),
    )
    assert _case(small, PUMPS).verdict != "holds"


def test_backup_pump() -> None:
    none = _case(Rig(), BACKUP)
    assert "No pump is described" in none.says
    weak = Rig(pumps=(Pump(), Pump(name="backup", on_backup=True, flow_m3_s=300 / 3.6e6)))
    case = _case(weak, BACKUP)
    assert case.verdict == "holds"
    assert "open channel carries it quietly" in case.says
    strong = Rig(pumps=(Pump(on_backup=True),))
    assert "it primes" in _case(strong, BACKUP).says
    slow = Rig(pumps=(Pump(on_backup=True, speed=0.5),))
    assert "does not lift water" in _case(slow, BACKUP).says


def test_power_returns_with_and_without_a_bleed_hole() -> None:
    with_hole = _case(Rig(), RETURN)
    assert "bleed hole lets the trapped air out" in with_hole.says
    # 0.67 L through 3 mm under some 0.19 m of water: 2.7 s (hole of Cd 0.61)
    assert _number(with_hole, "time to let the air out") == pytest.approx(2.7, abs=0.7)
    # a deep outlet holds the air in: more water over the outlet than over the inlet
    deep = Siphon(bleed_hole_m=0.0, outlet_depth_m=0.20, inlet_height_m=0.14)
    without = _case(Rig(siphon=deep), RETURN)
    assert without.verdict == "does not hold"
    assert any("bleed hole" in m for m in without.mend)


def test_a_measured_rig_is_judged_more_surely_than_a_guessed_one() -> None:
    guessed = replace(typical_rig(), emergency=Emergency(inner_diameter_m=0.0525))
    measured = Rig(emergency=Emergency(inner_diameter_m=0.0525))
    assert _case(measured, BOTH).hold_share >= _case(guessed, BOTH).hold_share
