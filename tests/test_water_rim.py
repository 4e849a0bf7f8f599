"""Rim of the emergency pipe and crest of the open channel."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tuner.water import rim

GRAVITY = 9.80665
BORES = {"1": 0.02664, "1 1/4": 0.03508, "1 1/2": 0.04094, "2": 0.05248}


@pytest.mark.parametrize(
    ("litres_per_hour", "bore", "head_mm"),
    # drop-inlet spillway forms, computed independently: the larger of the weir's and the orifice's head
    [(1000, "1", 35), (1000, "1 1/4", 13), (1000, "1 1/2", 11), (1000, "2", 10), (2000, "1", 141), (2000, "1 1/2", 25),
     (4000, "1", 563), (4000, "1 1/4", 187), (4000, "2", 37), (6000, "1", 1266), (6000, "1 1/2", 227), (6000, "2", 84)],
)
def test_head_over_an_unprimed_rim(litres_per_hour: float, bore: str, head_mm: float) -> None:
    head = rim.rim_head_m(litres_per_hour / 3.6e6, BORES[bore])
    assert head * 1e3 == pytest.approx(head_mm, rel=0.01, abs=0.5)  # printed in whole mm


@settings(deadline=None)
@given(st.floats(1e-3, 0.5), st.floats(0.015, 0.1))
def test_rim_head_is_the_inverse_of_rim_flow(head: float, bore: float) -> None:
    assert rim.rim_head_m(rim.rim_flow_m3_s(head, bore), bore) == pytest.approx(head, rel=1e-9)


@settings(deadline=None)
@given(st.floats(1e-3, 0.5), st.floats(0.015, 0.1))
def test_crest_head_is_the_inverse_of_crest_flow(head: float, bore: float) -> None:
    assert rim.crest_head_m(rim.crest_flow_m3_s(head, bore), bore) == pytest.approx(head, rel=1e-6)


def _critical_flow(head: float, bore: float) -> float:
    """Critical flow in a round section from first principles: head = depth + A/(2T), Q^2 T = g A^3."""
    depth = np.linspace(1e-4, 0.999, 20000) * bore
    half_angle = np.arccos(1 - 2 * depth / bore)
    area = bore**2 / 4 * (half_angle - np.sin(2 * half_angle) / 2)
    top = bore * np.sin(half_angle)
    at = int(np.argmin(np.abs(depth + area / (2 * top) - head)))
    return float(np.sqrt(GRAVITY * area[at] ** 3 / top[at]))


@pytest.mark.parametrize("share", [0.1, 0.2, 0.4, 0.6, 0.8, 0.95])
def test_crest_agrees_with_critical_flow(share: float) -> None:
    exact = _critical_flow(share * 0.0266, 0.0266)
    assert rim.crest_flow_m3_s(share * 0.0266, 0.0266) == pytest.approx(exact, rel=0.08)


def test_nothing_flows_below_the_rim() -> None:
    assert rim.rim_flow_m3_s(np.array([-0.01, 0.0]), 0.03).tolist() == [0.0, 0.0]
    assert rim.crest_flow_m3_s(np.array([-0.01, 0.0]), 0.03).tolist() == [0.0, 0.0]
