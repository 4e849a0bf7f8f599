"""Pump curve, affinity and the point where it meets the line."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tuner.water import pumps


def test_label_curve_passes_through_both_figures() -> None:
    shutoff, loss = pumps.curve_of_label(0.001, 3.0)
    assert pumps.pump_head_m(shutoff, loss, 0.0, 1.0) == 3.0
    assert pumps.pump_head_m(shutoff, loss, 0.001, 1.0) == pytest.approx(0.0)


@settings(deadline=None)
@given(st.floats(0.3, 1.0), st.floats(1e-5, 1e-3))
def test_affinity_laws(speed: float, flow: float) -> None:
    # flow goes as the speed and head as its square (affinity laws of turbomachines)
    shutoff, loss = pumps.curve_of_label(0.001, 3.0)
    full = pumps.pump_head_m(shutoff, loss, flow, 1.0)
    assert pumps.pump_head_m(shutoff, loss, speed * flow, speed) == pytest.approx(speed**2 * full, rel=1e-9, abs=1e-12)


def test_operating_point_lies_on_curve_and_line() -> None:
    shutoff, loss = pumps.curve_of_label(4200 / 3.6e6, 3.0)
    flow = pumps.operating_flow_m3_s(shutoff, loss, 1.3, 1.5e6, 0.9)
    assert pumps.pump_head_m(shutoff, loss, flow, 0.9) == pytest.approx(1.3 + 1.5e6 * flow**2)
    assert pumps.speed_for_flow(shutoff, loss, 1.3, 1.5e6, flow) == pytest.approx(0.9)


def test_a_pump_too_slow_to_lift_gives_nothing() -> None:
    shutoff, loss = pumps.curve_of_label(0.001, 3.0)
    assert pumps.operating_flow_m3_s(shutoff, loss, 1.3, 1e6, 0.5) == 0.0


def test_fit_recovers_a_curve_and_tells_how_far_points_lie_off() -> None:
    exact = tuple((2.0 - 1e6 * q**2, q) for q in (0.0, 0.0005, 0.001, 0.0014))
    fit = pumps.fit_curve(exact)
    assert (fit.shutoff_m, fit.loss, fit.worst_miss_m) == pytest.approx((2.0, 1e6, 0.0), abs=1e-6)
    bent = (*exact[:2], (1.2, 0.001), exact[3])
    assert pumps.fit_curve(bent).worst_miss_m > 0.05
