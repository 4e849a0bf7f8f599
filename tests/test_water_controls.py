"""The window as bands, and which control is fine enough."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tuner.rig import Channel, Fact, Pump, Rig, Siphon, Valve
from tuner.rigfile import typical_rig
from tuner.water.controls import window_bands

FINE_PUMP = (Pump(speed_step=0.01),)
BALL = Rig(siphon=Siphon(valve=Valve(kind="ball")), pumps=FINE_PUMP)


def _bands(rig: Rig, **kwargs: object) -> object:
    return window_bands(rig, np.random.default_rng(1), **kwargs)  # type: ignore[arg-type]


def test_answers_are_bands_in_the_valves_own_unit() -> None:
    w = window_bands(Rig(), np.random.default_rng(1))
    assert w.unit == "turn"
    assert w.setting_width is not None
    assert w.setting_width.low < w.setting_width.middle < w.setting_width.high
    # the window of a 1 inch rig with a five-turn gate: a fifth to half a turn
    assert w.setting_width.low > 0.1
    assert w.setting_width.high < 0.8
    assert window_bands(BALL, np.random.default_rng(1)).unit == "degree"


def test_the_same_seed_gives_the_same_answer() -> None:
    assert _bands(Rig()) == _bands(Rig())


def test_a_described_rig_has_narrower_bands_than_a_guessed_one() -> None:
    described = window_bands(Rig(), np.random.default_rng(1)).setting_mid
    guessed = window_bands(typical_rig(), np.random.default_rng(1)).setting_mid
    assert described is not None
    assert guessed is not None
    assert described.width < 0.8 * guessed.width


def test_gate_is_fine_enough_and_ball_too_coarse() -> None:
    # common practice, no source
    gate = window_bands(Rig(), np.random.default_rng(1))
    assert gate.controls[0].fineness == "fine enough"
    assert gate.advice.startswith("The siphon valve is fine enough: 1/16 turn")
    ball = window_bands(BALL, np.random.default_rng(1))
    assert ball.controls[0].fineness == "too coarse"
    assert ball.controls[1].control == "return pump"
    assert ball.controls[1].fineness == "fine enough"
    assert "park with the pump" in ball.advice


def test_a_ball_valve_with_a_fixed_pump_is_told_what_would_park_it() -> None:
    w = window_bands(replace(BALL, pumps=(Pump(),)), np.random.default_rng(1))
    assert len(w.controls) == 1
    assert "gate valve" in w.advice


def test_a_coarse_pump_is_not_recommended() -> None:
    w = window_bands(replace(BALL, pumps=(Pump(speed_step=0.10),)), np.random.default_rng(1))
    assert "park with the pump" not in w.advice


def test_no_window_is_said() -> None:
    w = window_bands(Rig(siphon=Siphon(inner_diameter_m=0.013)), np.random.default_rng(1))
    assert w.exists_share < 0.05
    assert w.advice.startswith("There is hardly a quiet window")


def test_one_fact_narrows() -> None:
    plain = window_bands(Rig(), np.random.default_rng(1))
    fitted = window_bands(replace(Rig(), facts=(Fact(kind="just slurps", setting=2.3),)), np.random.default_rng(1))
    assert plain.setting_mid is not None
    assert fitted.setting_mid is not None
    assert fitted.setting_mid.width < 0.3 * plain.setting_mid.width
    assert (plain.facts_used, fitted.facts_used, fitted.facts_strained) == (0, 1, False)


def test_gallons_where_asked_for() -> None:
    assert "gph" in window_bands(Rig(), np.random.default_rng(1), us=True).advice
    assert "L/h" in window_bands(Rig(), np.random.default_rng(1)).advice


def test_a_tap_nearly_shut_narrows_the_window() -> None:
    tight = window_bands(Rig(channel=Channel(vent_setting=1.0)), np.random.default_rng(1))
    free = window_bands(Rig(), np.random.default_rng(1))
    assert tight.setting_width is not None
    assert free.setting_width is not None
    assert tight.setting_width.middle < 0.6 * free.setting_width.middle


def test_slower_pumps_shift_the_window_down() -> None:
    slow = window_bands(Rig(), np.random.default_rng(1), speeds=[0.85])
    full = window_bands(Rig(), np.random.default_rng(1))
    assert slow.setting_mid is not None
    assert full.setting_mid is not None
    assert slow.setting_mid.middle < full.setting_mid.middle
    assert full.speed_width_percent is not None
    assert full.speed_width_percent.middle == pytest.approx(6.7, abs=1.0)
