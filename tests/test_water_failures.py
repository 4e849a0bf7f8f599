"""Each failure of the flood check."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tuner.rig import Box, Channel, Emergency, Pump, Returns, Rig, Siphon, Sump, Tank, Valve, Weir
from tuner.rigfile import typical_rig
from tuner.water.flood import flood_check
from tuner.water.verdict import FloodCase

BACK, DRY, SIPHON, BOTH, PUMPS, BACKUP, RETURN = range(7)


def _case(rig: Rig, which: int, *, us: bool = False) -> FloodCase:
    return flood_check(rig, np.random.default_rng(1), 600, us=us).cases[which]


def _number(case: FloodCase, name: str) -> float:
    return next(n.band.middle for n in case.numbers if n.name.startswith(name))


def test_back_siphon_by_hand() -> None:
    # 0.72 m2 x 25 mm = 18.0 L from the tank; beside it pipes and box: line 1.0 L, siphon 0.7 L, box 0.043 m2 x 0.11 m
    case = _case(Rig(returns=Returns(nozzle_depth_m=0.025)), BACK)
    assert _number(case, "water running back") * 1e3 == pytest.approx(18.0 + 1.0 + 0.7 + 4.7, abs=1.0)
    # free sump: 0.9 x 0.4 m x 0.18 m = 64.8 L
    assert _number(case, "free volume") * 1e3 == pytest.approx(64.8, abs=1.0)
    assert case.verdict == "holds"


def test_deep_nozzles_overflow_the_sump_and_the_mend_is_a_depth() -> None:
    case = _case(Rig(returns=Returns(nozzle_depth_m=0.15)), BACK)
    assert case.verdict == "does not hold"
    assert case.mend[0].startswith("raise the return nozzles to at most")
    mended = _case(Rig(returns=Returns(nozzle_depth_m=0.060)), BACK)
    assert mended.verdict in ("holds", "holds narrowly")


def test_an_anti_siphon_hole_is_comfort_not_proof() -> None:
    deep = Returns(nozzle_depth_m=0.15, siphon_break_depth_m=0.01)
    case = _case(Rig(returns=deep), BACK)
    assert case.verdict == "does not hold"
    opened = _number(case, "water running back, the anti-siphon hole open")
    assert opened < 0.3 * _number(case, "water running back, any")


def test_sump_pumped_into_the_tank_by_hand() -> None:
    # 30 L in 0.72 m2: 41.7 mm
    case = _case(Rig(tank=Tank(glass_above_m=0.06)), DRY)
    assert _number(case, "rise of the tank") * 1e3 == pytest.approx(41.7, abs=0.5)
    assert case.verdict == "holds"
    low = _case(Rig(tank=Tank(glass_above_m=0.02)), DRY)
    assert low.verdict == "does not hold"
    assert "float switch" in " ".join(low.mend)


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


def test_assumed_figures_make_the_answer_uncertain_and_say_what_to_measure() -> None:
    case = _case(typical_rig(), DRY)
    assert case.verdict == "cannot tell"
    assert case.measure[0].startswith("tank.glass_above")


def test_inches_and_gallons_where_asked_for() -> None:
    assert "gal" in _case(Rig(), BACK, us=True).says
    assert "L " in _case(Rig(), BACK).says


def test_more_free_sump_never_worsens_the_verdict() -> None:
    shares = [_case(Rig(sump=Sump(level_m=level)), BACK).hold_share for level in (0.38, 0.34, 0.30, 0.22)]
    assert shares == sorted(shares)


def test_a_measured_rig_is_judged_more_surely_than_a_guessed_one() -> None:
    guessed = replace(typical_rig(), emergency=Emergency(inner_diameter_m=0.0525))
    measured = Rig(emergency=Emergency(inner_diameter_m=0.0525))
    assert _case(measured, BOTH).hold_share >= _case(guessed, BOTH).hold_share
