from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.bench.looking import next_step
from tuner.coach import Coach
from tuner.coach.belief import Belief
from tuner.coach.closing import Closing, closing_of, remarks
from tuner.coach.handwork import hands_of
from tuner.coach.outlook import Settings, outlook
from tuner.coach.standing import bearing, loop_share
from tuner.rig import Channel, Pump, Rig
from tuner.terms import Heard, Levels, Reading, SoundKind
from tuner.water.laws import supply_flow_m3_s
from tuner.water.plumbing import plumbing_of

FAIR = Closing(width=0.08, finest=0.02, control="siphon valve", loop=0.0, bears_loop=1.0)
LEVELS = Levels(-40.0, -38.0, -41.0, -43.0, -35.0, (1000.0,), (-45.0,))


def test_a_wide_window_without_a_loop_needs_no_word() -> None:
    assert remarks(FAIR) == ""


def test_a_window_narrower_than_the_finest_step_names_the_control() -> None:
    text = remarks(replace(FAIR, width=0.01))
    assert "1.0% of the flow wide" in text
    assert "2.0%" in text
    assert "siphon's valve" in text
    assert "more turns" in text


def test_a_window_narrower_than_the_pump_wavers_names_the_part() -> None:
    text = remarks(replace(FAIR, width=0.015, finest=0.005))
    assert "wavers" in text
    assert "open channel" in text


@pytest.mark.parametrize(("bears", "word"), [(0.9, "both states should be quiet"), (0.1, "pump of its own")])
def test_a_part_time_loop_is_borne_or_not(bears: float, word: str) -> None:
    assert word in remarks(replace(FAIR, loop=0.05, bears_loop=bears))


def test_the_share_of_a_loop_by_hand() -> None:
    # 245 L/h of 2452 L/h is a tenth
    rig = Rig(pumps=(Pump(branch_flow_m3_s=245 / 3.6e6),))
    supply = np.array([float(supply_flow_m3_s(plumbing_of(rig), [1.0]))])
    assert float(loop_share(plumbing_of(rig), supply)[0]) == pytest.approx(245 / 2452, rel=0.01)


def test_the_finest_step_of_a_ball_valve_moves_more_than_that_of_a_gate() -> None:
    finest = {}
    for kind in ("gate", "ball"):
        rig = Rig(channel=Channel(vent_hole_m=0.012))
        rig = replace(rig, siphon=replace(rig.siphon, valve=replace(rig.siphon.valve, kind=kind, turns=12.0)))
        belief = Belief(rig, np.random.default_rng(1), over_room=True)
        finest[kind] = closing_of(belief, rig, hands_of(rig)).finest
    assert finest["ball"] > 2 * finest["gate"] > 0.0


def silent_end(rig: Rig) -> tuple[float, str]:
    """Tune the middling installation with perfect ears; return its valve's share open and the last words."""
    p, coach, opening, tap = plumbing_of(rig), Coach(rig), 0.38, 0.5
    for _ in range(60):
        o = outlook(p, Settings(np.array(opening), np.array(tap), (1.0,)))
        sounds: tuple[tuple[SoundKind, float, float], ...] = (
            ("slurp", float(o.gulping), 0.3), ("gurgle", float(o.gurgling), 0.95), ("flush", float(o.flushing), 0.5),
            ("trickle", float(o.trickling), 0.95), ("hiss", float(o.hissing), 0.95),
        )
        heard = tuple(Heard(kind, share, share, 20.0) for kind, activity, share in sounds if activity > 0.5)
        coach.hear_reading(Reading(25.0, 25.0, LEVELS, (), heard, 20.0 if heard else 0.0, 0.0))
        step = next_step(coach)
        if step is None:
            break
        if step.control == "siphon valve":
            opening += step.amount / rig.siphon.valve.full
        elif step.control == "vent tap":
            tap = float(np.clip(tap + step.amount / rig.channel.vent_tap_turns, 0.0, 1.0))
        coach.did(step)
    return opening, coach.summary().text


def test_a_loop_that_takes_more_than_any_window_is_called_so() -> None:
    rig = Rig(channel=Channel(vent_hole_m=0.012), pumps=(Pump(branch_flow_m3_s=700 / 3.6e6),))
    _, text = silent_end(rig)
    assert "pump of its own" in text


def test_a_small_loop_is_named_at_the_end() -> None:
    _, text = silent_end(Rig(channel=Channel(vent_hole_m=0.012), pumps=(Pump(branch_flow_m3_s=90 / 3.6e6),)))
    assert "part-time loop takes about 4%" in text


def test_with_a_loop_the_best_bearing_lies_further_from_the_slurp() -> None:
    openings = np.linspace(0.3, 0.5, 401)
    o = outlook(plumbing_of(Rig(channel=Channel(vent_hole_m=0.02))), Settings(openings, np.ones(401), (1.0,)))
    alone, looped = (float(openings[np.argmax(bearing(o, np.full(401, loop)))]) for loop in (0.0, 0.03))
    assert looped < alone
