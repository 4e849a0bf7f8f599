"""Water that runs back when the pumps stop."""

from __future__ import annotations

import pytest

from tuner.rig import Returns, Rig, Weir
from tuner.water import backflow
from tuner.water.laws import supply_flow_m3_s
from tuner.water.plumbing import plumbing_of
from tuner.water.scene import weir_head_m


@pytest.mark.parametrize(
    ("length", "width", "drop_mm", "litres"), [(1.2, 0.6, 25, 18.0), (1.8, 0.6, 20, 21.6), (1.5, 0.5, 50, 37.5)]
)
def test_volume(length: float, width: float, drop_mm: float, litres: float) -> None:
    assert backflow.back_siphon_volume_m3(length * width, drop_mm / 1e3) * 1e3 == pytest.approx(litres)


@pytest.mark.parametrize(("end_mm", "seconds"), [(2, 38), (1, 62)])
def test_tail_of_the_weir(end_mm: float, seconds: float) -> None:
    # 0.72 m2, 0.3 m of edge, from 15 mm; integrated independently
    assert backflow.weir_tail_time_s(0.72, 0.3, 0.015, end_mm / 1e3) == pytest.approx(seconds, rel=0.02)


def test_flow_back_through_a_nozzle() -> None:
    # 20 mm, net head 1 m, sum K 5: 2240 L/h, which takes 30 mm off 0.72 m2 in 35 s
    flow = backflow.back_siphon_flow_m3_s(0.020, 1.0, 5.0, 0.9e-6)
    assert flow * 3.6e6 == pytest.approx(2240, rel=5e-3)
    assert backflow.back_siphon_volume_m3(0.72, 0.030) / flow == pytest.approx(35, rel=0.02)


def test_the_deeper_of_edge_and_nozzle_ends_the_fall() -> None:
    assert backflow.tank_drop_m(0.010, 0.025) == 0.025
    assert backflow.tank_drop_m(0.015, 0.005) == 0.015


def test_nozzles_just_under_the_surface_cost_half_an_inch() -> None:
    # common practice, no source: about half an inch (12.7 mm)
    rig = Rig(weir=Weir(length_m=0.45), returns=Returns(nozzle_depth_m=0.0127))
    p = plumbing_of(rig)
    drop = backflow.tank_drop_m(weir_head_m(p, supply_flow_m3_s(p, [1.0])), p.nozzle_depth_m)
    assert drop == pytest.approx(0.0127, abs=0.003)
