"""Is each part big enough?"""

from __future__ import annotations

import numpy as np
import pytest

from tuner.rig import Channel, Emergency, Fact, Pump, Rig, Siphon, Tank, Weir
from tuner.water.capacity import PartCheck, capacities


def _part(rig: Rig, name: str, *, us: bool = False) -> PartCheck:
    return next(c for c in capacities(rig, np.random.default_rng(1), us=us) if c.part == name)


def test_six_parts_in_the_order_of_the_flow() -> None:
    parts = [c.part for c in capacities(Rig(), np.random.default_rng(1))]
    assert parts == ["return pump", "siphon", "open channel", "emergency pipe", "weir", "siphon inlet"]


@pytest.mark.parametrize(
    ("bore", "size"), [(0.019, "too small"), (0.0266, "just big enough"), (0.035, "big enough")]
)
def test_siphon_by_its_bore(bore: float, size: str) -> None:
    assert _part(Rig(siphon=Siphon(inner_diameter_m=bore)), "siphon").size == size


def test_open_channel_tells_its_quiet_share_and_that_small_stacks_are_an_extrapolation() -> None:
    part = _part(Rig(), "open channel")
    # self-venting flow of 26.6 mm: 307 L/h, 13 % of 2450 L/h; a stack a quarter full: 708 L/h
    assert "13 %" in part.says
    assert "708 L/h" in part.says
    assert "extrapolation" in part.note
    assert _part(Rig(channel=Channel(inner_diameter_m=0.013)), "open channel").size in ("too small", "cannot tell")


def test_emergency_pipe_is_judged_unprimed() -> None:
    assert _part(Rig(), "emergency pipe").size == "cannot tell"
    assert _part(Rig(emergency=Emergency(inner_diameter_m=0.0525)), "emergency pipe").size == "big enough"
    strong = Pump(flow_m3_s=15000 / 3.6e6, head_m=8.0)
    assert _part(Rig(pumps=(strong,)), "emergency pipe").size == "too small"


def test_a_long_fall_into_the_box_is_called_a_splash() -> None:
    assert "splash" in _part(Rig(), "weir").says
    assert "splash" not in _part(Rig(channel=Channel(crest_height_m=0.235), weir=Weir(height_m=0.24, length_m=0.6),
                                     emergency=Emergency(rim_height_m=0.26)), "weir").says
    assert "15-25 %" in _part(Rig(), "weir").note


def test_a_low_glass_over_a_short_weir_is_too_small() -> None:
    assert _part(Rig(weir=Weir(length_m=0.06), tank=Tank(glass_above_m=0.005)), "weir").size == "too small"


def test_water_over_the_inlet_is_compared_with_the_intake_rule() -> None:
    assert "vortex" in _part(Rig(), "siphon inlet").says
    deep = Rig(siphon=Siphon(inlet_height_m=0.0, inlet_diameter_m=0.06))
    assert "vortex may" not in _part(deep, "siphon inlet").says


def test_a_pump_that_does_not_lift_is_told_so() -> None:
    weak = _part(Rig(pumps=(Pump(head_m=0.8),)), "return pump")
    assert weak.size == "too small"
    assert "does not lift water" in weak.says
    assert _part(Rig(), "return pump").size == "big enough"
    assert "an endless share" in _part(Rig(pumps=(Pump(head_m=0.8),)), "open channel").says


def test_units_and_facts() -> None:
    assert "gph" in _part(Rig(), "siphon", us=True).says
    fact = Fact(kind="return flow", flow_m3_s=2900 / 3.6e6)
    fitted = _part(Rig(facts=(fact,)), "siphon").numbers[1].band
    plain = _part(Rig(), "siphon").numbers[1].band
    assert fitted.middle > plain.middle
