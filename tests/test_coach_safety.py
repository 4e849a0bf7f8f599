from __future__ import annotations

from dataclasses import replace
from math import inf

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from tuner.coach.handwork import Hand, hand_for, hands_of
from tuner.coach.safety import (
    LEAST_OPENING,
    LEAST_SPEED_PERCENT,
    MOST_CLOSED_AT_ONCE,
    MOST_CLOSING,
    Situation,
    forbidden,
    make_safe,
)
from tuner.rig import Pump, Rig
from tuner.terms import Step

HANDS = hands_of(Rig(pumps=(Pump(speed_step=0.05),)))
CALM = Situation(emergency=0.0, opening=0.4, closed_so_far=0.0, speed_percent=80.0, worse_in_a_row=0,
                 flushing_much=False, opened_in_a_row=0, gurgling_much=False, opened_too_far=False,
                 gurgles_beside=False, flushing_most=False, closed_in_vain=False, opened_in_vain=False,
                 may_be_full=False, slowest_percent=30.0, room_to_close=inf, most_closed=inf,
                 closed_most=inf, closed_ill=inf, most_sped=inf, proven=0.0, known=0.0)


def step(control: str, amount: float) -> tuple[Step, Hand]:
    hand = next(h for h in HANDS if h.control == control)
    return Step(hand.control, amount, hand.unit, 60.0, "why"), hand


@pytest.mark.parametrize(("control", "amount"), [("siphon valve", -0.125), ("return pump", 5.0)])
def test_nothing_closes_and_nothing_speeds_up_while_the_emergency_carries_water(control: str, amount: float) -> None:
    made, hand = step(control, amount)
    assert forbidden(made, hand, CALM) is None
    assert "emergency" in (forbidden(made, hand, replace(CALM, emergency=0.5)) or "")


def test_the_siphon_may_be_opened_and_the_pump_slowed_while_the_emergency_carries_water() -> None:
    for control, amount in (("siphon valve", 0.25), ("return pump", -10.0)):
        made, hand = step(control, amount)
        assert make_safe(made, hand, replace(CALM, emergency=1.0))[0] == made


def test_the_emergency_pipe_is_no_control() -> None:
    assert {hand.control for hand in HANDS} == {"siphon valve", "vent tap", "return pump"}


def test_the_siphon_is_never_closed_fully() -> None:
    made, hand = step("siphon valve", -0.5)  # 0.1 of five turns
    assert forbidden(made, hand, replace(CALM, opening=LEAST_OPENING + 0.05)) is not None
    assert forbidden(made, hand, replace(CALM, opening=LEAST_OPENING + 0.15)) is None
    assert forbidden(made, hand, replace(CALM, closed_so_far=MOST_CLOSING - 0.05)) is not None


def test_one_move_closes_at_most_a_quarter_of_what_is_open_in_whole_sixteenths() -> None:
    made, hand = step("siphon valve", -1.0)
    # by hand: a quarter of 0.36 of five turns is 0.45 of a turn, in whole sixteenths 7/16
    safe, _ = make_safe(made, hand, replace(CALM, opening=0.36))
    assert safe is not None
    assert safe.amount == pytest.approx(-7 / 16)
    # opening sends nothing to the other pipes
    opened, _ = step("siphon valve", 1.0)
    assert make_safe(opened, hand, replace(CALM, opening=0.36))[0] == opened


def test_a_closing_stays_within_half_of_one_that_made_the_channel_gurgle() -> None:
    made, hand = step("siphon valve", -0.5)
    safe, _ = make_safe(made, hand, replace(CALM, opening=0.9, closed_ill=0.5))
    assert safe is not None
    assert safe.amount == -0.25
    least, _ = make_safe(made, hand, replace(CALM, opening=0.9, closed_ill=0.0625))
    assert least is not None
    assert least.amount == -0.0625


def test_a_pump_is_sped_up_by_no_more_than_may_be_sent_at_once_but_slowed_freely() -> None:
    faster, hand = step("return pump", 15.0)
    safe, _ = make_safe(faster, hand, replace(CALM, most_sped=10.0))
    assert safe is not None
    assert safe.amount == 10.0
    least, _ = make_safe(faster, hand, replace(CALM, most_sped=0.0))
    assert least is not None
    assert least.amount == 5.0  # its finest step
    slower, _ = step("return pump", -15.0)
    assert make_safe(slower, hand, replace(CALM, most_sped=0.0))[0] == slower


def test_pumps_are_not_stopped_nor_driven_beyond_full_speed() -> None:
    slower, hand = step("return pump", -15.0)
    faster, _ = step("return pump", 10.0)
    assert forbidden(slower, hand, replace(CALM, speed_percent=LEAST_SPEED_PERCENT + 10)) is not None
    assert forbidden(faster, hand, replace(CALM, speed_percent=95.0)) is not None
    assert forbidden(slower, hand, replace(CALM, speed_percent=80.0)) is None
    assert "moving" in (forbidden(slower, hand, replace(CALM, speed_percent=80.0, slowest_percent=70.0)) or "")
    quicker, _ = step("return pump", 5.0)
    assert forbidden(quicker, hand, replace(CALM, speed_percent=60.0, slowest_percent=70.0)) is None


def test_it_stops_when_moves_made_it_worse_twice() -> None:
    made, hand = step("siphon valve", 0.125)
    assert "worse" in (forbidden(made, hand, replace(CALM, worse_in_a_row=2)) or "")


@pytest.mark.parametrize(("control", "amount"), [("siphon valve", -0.125), ("return pump", 5.0)])
def test_a_gurgling_channel_is_not_sent_more_water(control: str, amount: float) -> None:
    made, hand = step(control, amount)
    back, _ = step(control, -amount)
    gurgling = replace(CALM, gurgling_much=True)
    assert forbidden(made, hand, gurgling) is not None
    assert forbidden(back, hand, gurgling) is None


@pytest.mark.parametrize(("control", "amount"), [("siphon valve", -0.125), ("return pump", 5.0)])
def test_a_channel_that_flushes_more_than_the_siphon_gulps_is_not_sent_more_water(control: str, amount: float) -> None:
    made, hand = step(control, amount)
    back, _ = step(control, -amount)
    flushing = replace(CALM, flushing_most=True)
    assert "flushing channel" in (forbidden(made, hand, flushing) or "")
    assert forbidden(back, hand, flushing) is None


@pytest.mark.parametrize(("control", "amount"), [("siphon valve", -0.125), ("return pump", 5.0)])
def test_what_closing_made_no_better_is_not_closed_further(control: str, amount: float) -> None:
    made, hand = step(control, amount)
    back, _ = step(control, -amount)
    in_vain = replace(CALM, closed_in_vain=True)
    assert "no better" in (forbidden(made, hand, in_vain) or "")
    assert forbidden(back, hand, in_vain) is None


@pytest.mark.parametrize(("control", "amount"), [("siphon valve", -0.125), ("return pump", 5.0)])
def test_nothing_is_closed_to_where_the_open_channel_gurgled_much(control: str, amount: float) -> None:
    made, hand = step(control, amount)
    back, _ = step(control, -amount)
    beside = replace(CALM, room_to_close=0.0)
    assert "as far open as that" in (forbidden(made, hand, beside) or "")
    assert forbidden(back, hand, beside) is None


def test_closing_stays_within_the_room_and_within_what_the_siphon_may_lose_at_once() -> None:
    made, hand = step("siphon valve", -0.25)
    assert make_safe(made, hand, CALM)[0] == made
    for now in (replace(CALM, room_to_close=0.125), replace(CALM, most_closed=0.125)):
        safe, _ = make_safe(made, hand, now)
        assert safe is not None
        assert safe.amount == -0.125
    safe, _ = make_safe(made, hand, replace(CALM, gurgles_beside=True))
    assert safe is not None
    assert safe.amount == -hand.first / 2
    least, _ = make_safe(made, hand, replace(CALM, most_closed=0.0))
    assert least is not None
    assert least.amount == -hand.finest, "one finest step may always be tried"


def test_a_tap_that_flushes_much_waits_for_the_siphon() -> None:
    made, hand = step("vent tap", 0.25)
    flushing = replace(CALM, flushing_much=True)
    assert "siphon is opened before" in (forbidden(made, hand, flushing) or "")
    assert forbidden(made, hand, replace(flushing, opened_in_a_row=3)) is None
    assert forbidden(made, hand, CALM) is None


@example("siphon valve", -5e-324, 0.0, 0.0, 0.0, 30.0)  # a share that vanishes is a closing move all the same
@given(
    st.sampled_from(["siphon valve", "vent tap", "return pump"]), st.floats(-50, 50), st.floats(0, 1),
    st.floats(0, 1), st.floats(-1, 1), st.floats(30, 100),
)
def test_no_step_that_passes_breaks_a_rule(
    control: str, amount: float, emergency: float, opening: float, closed: float, speed: float
) -> None:
    made, hand = step(control, amount)
    now = replace(CALM, emergency=emergency, opening=opening, closed_so_far=closed, speed_percent=speed)
    safe, reason = make_safe(made, hand, now)
    assert (safe is None) == (reason is not None)
    if safe is None:
        return
    assert abs(safe.amount) <= hand.limit(safe.amount) + 1e-9
    assert safe.amount * amount >= 0
    if emergency >= 0.3:
        assert not (control == "siphon valve" and safe.amount < 0)
        assert not (control == "return pump" and safe.amount > 0)
    if control == "siphon valve" and safe.amount < 0:
        assert -safe.amount / hand.full <= max(MOST_CLOSED_AT_ONCE * opening, hand.finest / hand.full) + 1e-9
        assert opening + safe.amount / hand.full >= LEAST_OPENING - 1e-9


def test_a_fixed_pump_and_a_missing_vent_are_no_controls() -> None:
    rig = Rig()
    bare = hands_of(replace(rig, channel=replace(rig.channel, vent_hole_m=0.0)))
    assert [h.control for h in bare] == ["siphon valve"]
    assert hand_for(bare, "return pump") is None


def test_a_ball_valve_is_turned_by_two_degrees_at_least() -> None:
    rig = Rig()
    hand = hands_of(replace(rig, siphon=replace(rig.siphon, valve=replace(rig.siphon.valve, kind="ball"))))[0]
    # handbook: finer than about 2 degrees should not be promised of a ball handle
    assert min(abs(a) for a in hand.choices()) == 2.0
    assert hand.unit == "degree"


def test_a_gate_moves_in_sixteenths_closing_within_one_turn() -> None:
    hand = HANDS[0]
    assert all(a * 16 == round(a * 16) for a in hand.choices())
    assert min(hand.choices()) == -1.0
    assert max(hand.choices()) == 2.0
    assert hand.rounded(-7.0) == -1.0


def test_a_valve_that_was_opened_by_its_whole_travel_is_not_opened_on() -> None:
    opened, hand = step("siphon valve", 0.5)
    closed, _ = step("siphon valve", -0.25)
    wide = replace(CALM, opening=1.0, closed_so_far=-1.0)
    assert "whole travel" in (forbidden(opened, hand, wide) or "")
    assert forbidden(closed, hand, wide) is None
    assert forbidden(opened, hand, replace(CALM, closed_so_far=-0.9)) is None


def test_a_siphon_that_gulps_after_it_was_opened_is_closed_and_not_opened() -> None:
    opened, hand = step("siphon valve", 0.25)
    closed, _ = step("siphon valve", -0.25)
    gulping = replace(CALM, opened_too_far=True)
    assert "gulps" in (forbidden(opened, hand, gulping) or "")
    assert forbidden(closed, hand, gulping) is None


def test_no_pump_is_sped_up_while_a_siphon_stands_open_in_vain() -> None:
    vainly = replace(CALM, opened_in_vain=True)
    assert "closed again first" in (forbidden(*step("return pump", 5.0), vainly) or "")
    assert "it gulps on" in (forbidden(*step("siphon valve", 0.125), vainly) or "")
    assert forbidden(*step("siphon valve", 0.125), replace(vainly, emergency=0.5)) is None, "the emergency comes first"
    assert forbidden(*step("return pump", -5.0), vainly) is None
    assert forbidden(*step("siphon valve", -0.125), vainly) is None


def test_a_valve_that_nobody_knows_yet_is_closed_little_and_then_by_twice_as_much_at_most() -> None:
    made, hand = step("siphon valve", -1.0)
    for closed_most, size in ((0.0, hand.first), (0.2, 0.375), (0.3125, 0.625)):
        safe, _ = make_safe(made, hand, replace(CALM, opening=0.9, closed_most=closed_most))
        assert safe is not None
        assert safe.amount == pytest.approx(-size)
    opened, hand = step("siphon valve", 1.0)
    assert make_safe(opened, hand, replace(CALM, closed_most=0.0))[0] == opened


def test_what_never_rests_is_opened_for_before_it_is_closed_for() -> None:
    doubtful = replace(CALM, may_be_full=True)
    for made in (("siphon valve", -0.0625), ("return pump", 5.0)):
        assert "may be a full channel" in (forbidden(*step(*made), doubtful) or "")
    assert forbidden(*step("siphon valve", 0.25), doubtful) is None


def test_the_siphon_may_always_be_closed_to_where_it_was_silent_but_not_while_the_emergency_carries_water() -> None:
    gurgles = replace(CALM, gurgling_much=True, room_to_close=0.0, closed_in_vain=True, proven=0.5, closed_ill=0.125)
    back, hand = step("siphon valve", -0.5)
    assert make_safe(back, hand, gurgles)[0] == back
    further, hand = step("siphon valve", -0.5625)
    assert make_safe(further, hand, gurgles)[0] == back, "cut to where it was silent"
    assert make_safe(further, hand, replace(gurgles, proven=0.0))[0] is None
    assert make_safe(back, hand, replace(gurgles, emergency=0.5))[0] is None


def test_the_way_back_to_where_the_siphon_stood_is_not_measured_by_what_nobody_knows() -> None:
    back, hand = step("siphon valve", -0.5)
    unknown = replace(CALM, opening=0.9, closed_most=0.0, closed_ill=0.125, gurgles_beside=True)
    cut = make_safe(back, hand, unknown)[0]
    assert cut is not None
    assert cut.amount == pytest.approx(-0.0625)
    assert make_safe(back, hand, replace(unknown, known=0.5))[0] == back
    # what the siphon may lose at once, and where the channel gurgled much, hold all the same
    for limit in ({"most_closed": 0.25}, {"room_to_close": 0.25}):
        cut = make_safe(back, hand, replace(unknown, known=0.5, **limit))[0]
        assert cut is not None
        assert cut.amount == pytest.approx(-0.25)
