"""Failures of volume."""

from __future__ import annotations

import numpy as np
import pytest

from tuner.rig import Returns, Rig, Sump, Tank
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
