"""Regimes and stacks against published worked cases, code tables and standards."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tuner.water import regimes

GPM, INCH, FOOT = 6.30902e-5, 0.0254, 0.3048
BORES = {"3/4": 0.02096, "1": 0.02664, "1 1/4": 0.03508, "1 1/2": 0.04094, "2": 0.05248}  # schedule 40, m


def test_froude_of_a_published_gravity_overflow() -> None:
    # 36 m3/h in 180 mm: 0.296 (a worked case of Hills' method)
    assert regimes.froude(36 / 3600, 0.180) == pytest.approx(0.296, abs=1e-3)


def test_froude_is_not_its_square() -> None:
    # some pages print V^2/(gD) < 0.3, which would pass nearly twice the flow
    square = regimes.froude(36 / 3600, 0.180) ** 2
    assert square == pytest.approx(0.0875, abs=1e-3)
    assert regimes.drain_regime(1.5 * 36 / 3600, 0.180) == "entraining"


@pytest.mark.parametrize(("gpm", "inches"), [(5, 1.751), (10, 2.311), (20, 3.049), (50, 4.399)])
def test_simpsons_bore_and_its_froude_number(gpm: float, inches: float) -> None:
    # D = 0.92 Q^0.4, which is a Froude number of 0.3073 at every flow (Simpson's limit is 0.31)
    bore = regimes.self_venting_diameter_m(gpm * GPM)
    assert bore / INCH == pytest.approx(inches, rel=1e-3)
    assert regimes.froude(gpm * GPM, bore) == pytest.approx(0.3073, rel=1e-3)


@pytest.mark.parametrize(
    ("bore", "froude", "litres_per_hour"),
    # computed independently from V = Fr sqrt(gD)
    [("3/4", 0.3, 169), ("1", 0.3, 308), ("1 1/4", 0.3, 612), ("1 1/2", 0.3, 901), ("2", 0.3, 1676),
     ("1", 1.0, 1026), ("1 1/2", 1.0, 3003), ("1", 2.0, 2051), ("2", 2.0, 11173)],
)
def test_flow_at_a_froude_number(bore: str, froude: float, litres_per_hour: float) -> None:
    flow = regimes.flow_at_froude_m3_s(froude, BORES[bore])
    assert flow * 3.6e6 == pytest.approx(litres_per_hour, rel=2e-3)


@pytest.mark.parametrize(
    ("froude", "regime"), [(0.29, "self-venting"), (0.5, "entraining"), (1.5, "pulsating or full"), (2.5, "full")]
)
def test_regime_words(froude: float, regime: str) -> None:
    assert regimes.drain_regime(float(regimes.flow_at_froude_m3_s(froude, 0.0266)), 0.0266) == regime


@pytest.mark.parametrize(("inches", "gpm"), [(2, 23), (3, 67), (4, 144), (5, 261), (6, 424), (8, 913)])
def test_stack_capacity_of_the_national_standard_plumbing_code(inches: float, gpm: float) -> None:
    # 2006 NSPC, table 13.6.1, conductors 7/24 full; rounded to whole gal/min
    assert regimes.stack_capacity_wyly_eaton_m3_s(inches * INCH, 7 / 24) / GPM == pytest.approx(gpm, rel=0.02)


@pytest.mark.parametrize(
    ("mm", "fill", "litres_per_second"), [(100, 0.33, 10.71), (100, 0.20, 4.65), (50, 0.33, 1.687)]
)
def test_downpipe_capacity_of_en_12056_3(mm: float, fill: float, litres_per_second: float) -> None:
    # EN 12056-3, Wyly-Eaton with roughness 0.25 mm
    assert regimes.stack_capacity_en12056_m3_s(mm / 1e3, fill) * 1e3 == pytest.approx(litres_per_second, rel=2e-3)


def test_the_two_stack_rules_agree() -> None:
    american = regimes.stack_capacity_wyly_eaton_m3_s(0.1, 1 / 3) * 1e3
    assert american == pytest.approx(10.86, rel=1e-3)
    assert american == pytest.approx(float(regimes.stack_capacity_en12056_m3_s(0.1, 0.33)) * 1e3, rel=0.02)


@pytest.mark.parametrize(
    ("inches", "fill", "feet_per_second", "feet"), [(3, 7 / 24, 10.38, 5.60), (4, 1 / 4, 11.34, 6.69)]
)
def test_terminal_velocity_and_length(inches: float, fill: float, feet_per_second: float, feet: float) -> None:
    # Wyly and Eaton, evaluated independently
    flow = regimes.stack_capacity_wyly_eaton_m3_s(inches * INCH, fill)
    speed = regimes.terminal_velocity_wyly_eaton_m_s(flow, inches * INCH)
    assert speed / FOOT == pytest.approx(feet_per_second, rel=2e-3)
    assert regimes.terminal_length_wyly_eaton_m(speed) / FOOT == pytest.approx(feet, rel=5e-3)


@settings(deadline=None)
@given(st.floats(0.02, 0.2), st.floats(0.15, 0.4))
def test_stack_flow_is_film_area_times_terminal_velocity(bore: float, fill: float) -> None:
    # q = r A V: the two formulas of Wyly and Eaton must agree with each other
    flow = regimes.stack_capacity_wyly_eaton_m3_s(bore, fill)
    film = fill * 3.141592653589793 / 4 * bore**2 * regimes.terminal_velocity_wyly_eaton_m_s(flow, bore)
    assert film == pytest.approx(flow, rel=5e-3)


@pytest.mark.parametrize("bore", [BORES[b] for b in ("1", "1 1/4", "1 1/2", "2")])
def test_a_stack_a_quarter_full_is_not_self_venting(bore: float) -> None:
    # the stack rule is a capacity with air supplied: 0.69-0.78, not 0.3
    assert 0.68 < regimes.froude(regimes.stack_capacity_wyly_eaton_m3_s(bore, 0.25), bore) < 0.79


def test_small_bores_are_an_extrapolation_and_say_so() -> None:
    assert not regimes.stack_capacity(BORES["1"], 0.25).within_limits
    assert regimes.stack_capacity(4 * INCH, 0.25).within_limits
    assert regimes.stack_capacity(BORES["1"], 0.25).value * 3.6e6 == pytest.approx(712, rel=0.01)  # computed apart
