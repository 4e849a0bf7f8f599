"""Weirs against published examples, against ``fluids`` where it is right, and against it where it is wrong."""

from __future__ import annotations

from pathlib import Path

import fluids.open_flow as reference
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import tuner
from tuner.water import weir

GRAVITY = 9.80665


def test_francis_of_a_contracted_weir() -> None:
    # problem: length 1.407 m, head 0.20 m, two end contractions (a published exercise); answer 0.2250 m3/s
    assert weir.weir_flow_francis(0.20, 1.407, 2) == pytest.approx(0.2250, rel=1e-3)


def test_rehbock_with_the_constants_of_blevins() -> None:
    # fluids 1.3.1, Q_weir_rectangular_full_Rehbock (Blevins 1984): 0.64869 m3/s
    assert weir.weir_flow_rehbock(0.3, 2.0, 0.4) == pytest.approx(0.6486856330601333, rel=1e-6)


def test_kindsvater_and_carter_full_width() -> None:
    # fluids 1.3.1, Q_weir_rectangular_full_Kindsvater_Carter: 0.64156 m3/s
    assert weir.weir_flow_kindsvater_carter(0.3, 2.0, 0.4) == pytest.approx(0.641560300081563, rel=1e-6)


@pytest.mark.parametrize("head", [0.03, 0.1, 0.3])
def test_agrees_with_the_reference_library_where_it_is_right(head: float) -> None:
    ours = weir.weir_flow_rehbock(head, 1.2, 0.3), weir.weir_flow_kindsvater_carter(head, 1.2, 0.3)
    theirs = (
        reference.Q_weir_rectangular_full_Rehbock(head, 0.3, 1.2),
        reference.Q_weir_rectangular_full_Kindsvater_Carter(head, 0.3, 1.2),
    )
    assert ours == pytest.approx(theirs, rel=1e-6)


def test_disagrees_with_the_two_sia_weirs_of_the_reference_library() -> None:
    full = weir.weir_flow_kindsvater_carter(0.3, 2.0, 0.4)
    assert reference.Q_weir_rectangular_full_SIA(0.3, 0.4, 2.0) > 1.5 * full
    # contracted, h 0.2, p 0.5, b 1 m: 0.554 (1 - .0035 h/p)(b + .0025) sqrt(g) (h + .0001)^1.5 gives 0.15546 m3/s
    contracted = 0.554 * (1 - 0.0035 * 0.4) * 1.0025 * np.sqrt(GRAVITY) * 0.2001**1.5
    assert contracted == pytest.approx(0.15546, rel=1e-4)
    assert reference.Q_weir_rectangular_SIA(0.2, 0.5, 1.0, 2.0) > 5 * contracted


def test_the_v_notch_of_the_reference_library_is_a_third_too_high() -> None:
    # Q = 8/15 Cd sqrt(2g) tan(22.5 deg) h^2.5 with Cd 0.58, the textbook form of a 45 degree notch
    textbook = 8 / 15 * 0.58 * np.sqrt(2 * GRAVITY) * np.tan(np.pi / 8) * 0.6**2.5
    assert reference.Q_weir_V_Shen(0.6, angle=45) > 1.25 * textbook


def test_nothing_in_the_program_calls_the_wrong_ones() -> None:
    sources = Path(tuner.__file__).parent.rglob("*.py")
    wrong = ("Q_weir_rectangular_SIA", "Q_weir_rectangular_full_SIA", "Q_weir_V_Shen")
    assert not [path for path in sources if any(name in path.read_text(encoding="utf-8") for name in wrong)]


@pytest.mark.parametrize(
    ("head", "litres_per_second"), [(0.010, 2.057), (0.015, 3.616), (0.020, 5.449), (0.030, 9.813), (0.050, 20.877)]
)
def test_flow_of_one_metre_at_low_heads(head: float, litres_per_second: float) -> None:
    # Kindsvater-Carter, edge 0.3 m over the floor, computed independently with a length correction of -1 mm
    assert weir.weir_flow_kindsvater_carter(head, 1.001, 0.3) * 1e3 == pytest.approx(litres_per_second, rel=1.5e-3)


def test_heads_of_an_aquarium_are_outside_every_standard_and_say_so() -> None:
    for head, share in ((0.010, 0.25), (0.020, 0.15)):
        estimate = weir.weir_flow(head, 0.3, 0.3)
        assert not estimate.within_limits
        assert estimate.high / estimate.value - 1 == pytest.approx(share)
        assert "outside the standards" in estimate.note
    assert weir.weir_flow(0.05, 0.3, 0.3).within_limits


@pytest.mark.parametrize(
    ("litres_per_hour", "share", "head_mm"),
    # Rehbock (ISO constants), length 0.30 m, edge 0.3 m high, computed independently
    [(4000, 1.0, 15.0), (4000, 0.6, 21.6), (4000, 0.5, 24.5), (2000, 0.6, 13.2), (6000, 1.0, 20.0), (6000, 0.5, 32.4)],
)
def test_teeth_raise_the_head(litres_per_hour: float, share: float, head_mm: float) -> None:
    estimate = weir.weir_head(litres_per_hour / 3.6e6, 0.30, 0.3, share)
    assert estimate.low < head_mm / 1e3 < estimate.high
    assert estimate.value * 1e3 == pytest.approx(head_mm, rel=0.03)


def test_half_the_edge_open_raises_the_head_by_a_factor_of_1_59() -> None:
    # head goes as length to the power -2/3: 2^(2/3) = 1.587
    ratio = weir.weir_head(3e-3, 2.0, 0.5, 0.5).value / weir.weir_head(3e-3, 2.0, 0.5).value
    assert ratio == pytest.approx(1.587, rel=0.05)


@settings(deadline=None)
@given(st.floats(0.002, 0.3), st.floats(0.1, 3.0), st.floats(0.1, 1.0))
def test_head_and_flow_are_inverse(head: float, length: float, height: float) -> None:
    flow = weir.weir_flow_kindsvater_carter(head, length, height)
    assert weir.weir_head_kindsvater_carter(flow, length, height) == pytest.approx(head, rel=2e-3)


@pytest.mark.parametrize(("fall", "speed"), [(0.020, 0.63), (0.050, 0.99), (0.100, 1.40), (0.200, 1.98)])
def test_speed_of_the_falling_sheet(fall: float, speed: float) -> None:
    assert weir.nappe_speed_m_s(fall) == pytest.approx(speed, abs=0.01)  # sqrt(2gz), free fall
