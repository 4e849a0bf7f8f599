"""The laws of one plumbing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tuner.rig import Pump, Rig, Siphon, Valve
from tuner.water import laws
from tuner.water.plumbing import plumbing_of, sample_plumbing

P = plumbing_of(Rig())
BALL = plumbing_of(Rig(siphon=Siphon(valve=Valve(kind="ball"))))
CREST = P.crest_height_m


@settings(deadline=None)
@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.floats(0.05, 0.3), st.sampled_from((P, BALL)), st.floats(-2.5, 2.5))
def test_more_opening_never_lowers_siphon_flow(a: float, b: float, level: float, p: object, deviation: float) -> None:
    plumbing = replace(P if p is P else BALL, valve_deviation=deviation)
    less, more = sorted((a, b))
    assert laws.siphon_flow_m3_s(plumbing, level, more) >= laws.siphon_flow_m3_s(plumbing, level, less)


@settings(deadline=None)
@given(st.floats(0.05, 0.3), st.floats(0.05, 0.3))
def test_a_higher_level_never_lowers_any_flow(a: float, b: float) -> None:
    low, high = sorted((a, b))
    for law in (
        lambda x: laws.siphon_flow_m3_s(P, x, 0.4), lambda x: laws.channel_crest_flow_m3_s(P, x, 0.0),
        lambda x: laws.emergency_flow_m3_s(P, x), lambda x: laws.channel_siphon_flow_m3_s(P, x),
    ):
        assert law(high) >= law(low)


@settings(deadline=None)
@given(st.floats(0.05, 0.99))
def test_opening_is_the_inverse_of_siphon_flow(opening: float) -> None:
    flow = laws.siphon_flow_m3_s(P, CREST, opening)
    found = laws.opening_for_siphon_flow(P, flow, CREST)
    assert laws.siphon_flow_m3_s(P, CREST, found) == pytest.approx(float(flow), rel=1e-3)


def test_an_open_valve_that_is_too_small_has_no_opening() -> None:
    assert np.isnan(laws.opening_for_siphon_flow(P, 2 * laws.siphon_flow_m3_s(P, CREST, 1.0), CREST))


def test_levels_are_inverse_to_flows() -> None:
    flow = laws.channel_crest_flow_m3_s(P, CREST + 0.010, 0.002)
    assert laws.channel_level_m(P, flow, 0.002) == pytest.approx(CREST + 0.010)
    over = laws.emergency_flow_m3_s(P, P.emergency_rim_height_m + 0.02)
    assert laws.emergency_level_m(P, over) == pytest.approx(P.emergency_rim_height_m + 0.02)


def test_an_outlet_above_the_sump_surface_loses_its_height() -> None:
    high = replace(P, siphon_outlet_depth_m=-0.10)
    assert laws.siphon_head_m(P, CREST) - laws.siphon_head_m(high, CREST) == pytest.approx(0.10)
    deep = replace(P, siphon_outlet_depth_m=0.10)
    assert laws.siphon_head_m(deep, CREST) == laws.siphon_head_m(P, CREST)


def test_suction_grows_as_the_flow_squared_and_as_the_tap_closes() -> None:
    one = laws.vent_suction_m(P, 5e-5, 1.0)
    assert laws.vent_suction_m(P, 1e-4, 1.0) == pytest.approx(4 * one)
    assert laws.vent_suction_m(P, 5e-5, 0.5) == pytest.approx(4 * one)
    assert laws.vent_suction_m(P, 0.0, 0.0) == 0.0


def test_a_closed_tap_pulls_at_most_the_water_in_the_leg() -> None:
    assert laws.vent_suction_m(P, 5e-5, 0.0) == P.channel_drop_m


def test_vent_inverses() -> None:
    suction = laws.vent_suction_m(P, 6e-5, 0.6)
    assert laws.vent_opening_for_suction(P, 6e-5, suction) == pytest.approx(0.6)
    assert laws.channel_flow_at_suction_m3_s(P, 0.6, suction) == pytest.approx(6e-5)
    assert laws.vent_jet_m_s(P, laws.hiss_suction_m(P)) == pytest.approx(P.hiss_jet_m_s)


def test_two_pumps_add_and_branches_take_off() -> None:
    rig = Rig(pumps=(Pump(), Pump(name="second", branch_flow_m3_s=300 / 3.6e6)))
    p = plumbing_of(rig)
    alone = laws.supply_flow_m3_s(p, [1.0, 0.0])
    both = laws.supply_flow_m3_s(p, [1.0, 1.0])
    assert both == pytest.approx(2 * alone)
    assert both - laws.supply_flow_m3_s(p, [1.0, 1.0], branches_run=True) == pytest.approx(300 / 3.6e6)


def test_the_siphon_draws_air_later_than_a_pump_intake_would() -> None:
    supply = laws.supply_flow_m3_s(P, [1.0])
    assert P.siphon_inlet_height_m < laws.gulp_level_m(P, supply) < CREST


def test_period_shortens_as_the_mismatch_grows() -> None:
    supply = 0.85 * laws.supply_flow_m3_s(P, [1.0])
    near, far = (float(laws.slurp_period_s(P, supply, opening)) for opening in (0.40, 0.44))
    assert 1.0 < far < near < 600.0
    assert np.isinf(laws.slurp_period_s(P, supply, 0.30))  # the siphon takes less than comes: no gulps


def test_the_emergency_pipe_carries_more_once_it_runs_full() -> None:
    level = P.emergency_rim_height_m + 2 * P.emergency_diameter_m
    assert laws.emergency_full_flow_m3_s(P, level) > laws.emergency_flow_m3_s(P, level)
    low = P.emergency_rim_height_m + 0.5 * P.emergency_diameter_m
    assert laws.emergency_full_flow_m3_s(P, low) == laws.emergency_flow_m3_s(P, low)


def test_laws_work_on_samples() -> None:
    p = sample_plumbing(Rig(), np.random.default_rng(1), 100)
    assert laws.siphon_flow_m3_s(p, p.crest_height_m, 0.4).shape == (100,)
    assert laws.vent_suction_m(p, laws.gurgle_flow_m3_s(p), 0.5).shape == (100,)
    assert laws.channel_froude(p, laws.gurgle_flow_m3_s(p)) == pytest.approx(p.quiet_froude)
