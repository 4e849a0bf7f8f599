"""The quiet window."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tuner.rig import Pump, Rig, Siphon, Valve
from tuner.rigfile import typical_rig
from tuner.water.balance import balance
from tuner.water.laws import gurgle_flow_m3_s, siphon_flow_m3_s, supply_flow_m3_s
from tuner.water.plumbing import plumbing_of, sample_plumbing
from tuner.water.window import channel_limit_m3_s, quiet_window, step_of

P = plumbing_of(Rig())
W = quiet_window(P, [1.0], [0.01])
BALL = quiet_window(plumbing_of(Rig(siphon=Siphon(valve=Valve(kind="ball")))), [1.0], [0.01])


@settings(deadline=None)
@given(st.floats(0.0, 0.05), st.floats(0.0, 0.05))
def test_window_shrinks_as_the_pumps_swing_grows(a: float, b: float) -> None:
    less, more = sorted((a, b))
    calm, restless = (quiet_window(replace(P, pump_swing=s), [1.0], [0.0]) for s in (less, more))
    assert restless.width_m3_s <= calm.width_m3_s
    if restless.exists and more > less + 1e-6:
        assert restless.setting_width < calm.setting_width
        assert restless.speed_high - restless.speed_low < calm.speed_high - calm.speed_low


def test_a_pump_that_swings_wider_than_the_window_leaves_none() -> None:
    w = quiet_window(replace(P, pump_swing=0.10), [1.0], [0.0])
    assert not w.exists
    assert w.width_m3_s < 0
    assert np.isnan(w.setting_mid)


def test_edges_are_where_the_balance_changes_its_mind() -> None:
    # without swing, just inside the narrow edge it is self-venting, just outside it gurgles; likewise the dry edge
    calm = replace(P, pump_swing=0.0)
    w = quiet_window(calm, [1.0], [0.0])
    step = 0.002
    assert balance(calm, [1.0], w.opening_low - step, 1.0).gurgling
    assert not balance(calm, [1.0], w.opening_low + 3 * step, 1.0).gurgling
    assert balance(calm, [1.0], w.opening_high + step, 1.0).dry
    assert not balance(calm, [1.0], w.opening_high - step, 1.0).dry


def test_slurp_edge_lies_beyond_the_dry_edge() -> None:
    assert W.slurp_setting > W.setting_high
    opening = float(W.slurp_setting) / P.valve_full
    assert balance(P, [1.0], opening + 0.005, 1.0).gulping
    assert not balance(P, [1.0], opening - 0.005, 1.0).gulping


def test_mid_window_is_quiet_with_the_tap_in_the_middle() -> None:
    b = balance(P, [1.0], W.opening_mid, W.vent_mid_turns / P.vent_tap_turns)
    assert b.quiet
    assert float(b.channel_m3_s) == pytest.approx(0.5 * float(gurgle_flow_m3_s(P)), rel=0.05)


def test_pump_speeds_at_the_edges_run_dry_and_gurgle() -> None:
    calm = replace(P, pump_swing=0.0)
    w = quiet_window(calm, [1.0], [0.0])
    assert balance(calm, [0.995 * w.speed_low], w.opening_mid, 1.0).dry
    assert not balance(calm, [1.005 * w.speed_low], w.opening_mid, 1.0).dry
    assert balance(calm, [1.01 * w.speed_high], w.opening_mid, 1.0).gurgling
    assert not balance(calm, [0.99 * w.speed_high], w.opening_mid, 1.0).gurgling


def test_a_step_moves_what_the_balance_says() -> None:
    half = 0.5 * step_of("gate") / P.valve_full
    a, b = (balance(P, [1.0], W.opening_mid + d, 1.0).siphon_m3_s for d in (-half, half))
    assert float(W.step_m3_s) == pytest.approx(float(b - a), rel=0.05)
    slower = balance(P, [0.99], W.opening_mid, 1.0).supply_m3_s
    assert float(W.speed_step_m3_s[0]) == pytest.approx(float(W.supply_m3_s - slower), rel=1e-9)


def test_a_gate_valve_resolves_the_window_and_a_ball_valve_does_not() -> None:
    # common practice, no source. A hand sets a sixteenth of a turn, or two degrees.
    gate_steps = float(W.width_m3_s) / (float(W.step_m3_s) / 2)
    ball_steps = float(BALL.width_m3_s) / (float(BALL.step_m3_s) * 2)
    assert gate_steps > 3
    assert ball_steps < 3
    assert gate_steps > 2 * ball_steps


def test_a_tight_tap_narrows_the_window_by_flushing() -> None:
    assert channel_limit_m3_s(P, None) == gurgle_flow_m3_s(P)
    assert channel_limit_m3_s(P, 0.3) < gurgle_flow_m3_s(P)
    assert quiet_window(P, [1.0], [0.0], 0.3).setting_width < W.setting_width


def test_a_siphon_that_cannot_carry_the_supply_has_no_window() -> None:
    narrow = plumbing_of(Rig(siphon=Siphon(inner_diameter_m=0.016)))
    w = quiet_window(narrow, [1.0], [0.0])
    assert not w.siphon_reaches
    assert not w.exists
    assert np.isnan(w.width_m3_s)


def test_a_siphon_that_nearly_carries_it_is_parked_wide_open() -> None:
    supply = supply_flow_m3_s(P, [1.0])
    tight = replace(P, siphon_loss_k=P.siphon_loss_k + 7.0)
    at_full = siphon_flow_m3_s(tight, tight.crest_height_m, 1.0)
    assert supply - gurgle_flow_m3_s(P) < at_full < supply
    w = quiet_window(tight, [1.0], [0.0])
    assert w.opening_high == 1.0
    assert w.exists


def test_two_pumps_have_each_their_step() -> None:
    p = plumbing_of(Rig(pumps=(Pump(speed_step=0.01), Pump(name="second", speed_step=0.05))))
    w = quiet_window(p, [0.8, 0.8], [0.01, 0.05])
    assert w.speed_step_m3_s[1] > 4 * w.speed_step_m3_s[0] > 0
    fixed = quiet_window(p, [0.8, 0.8], [0.0, 0.0])
    assert fixed.speed_step_m3_s == (0.0, 0.0)


def test_a_sample_gives_a_band() -> None:
    w = quiet_window(sample_plumbing(typical_rig(), np.random.default_rng(1), 500), [1.0], [0.01])
    assert w.setting_mid.shape == (500,)
    assert w.exists.mean() > 0.9
    ordered = w.exists & np.isfinite(w.setting_mid)
    assert (w.setting_low[ordered] < w.setting_mid[ordered]).all()
    assert (w.setting_mid[ordered] <= w.setting_high[ordered]).all()
