"""From the period of a slurp to litres an hour and to turns, by hand; and the coach against halving a bracket.

The installation is the program's middling one: a box of 0.0425 m2, a siphon of 26.6 mm with a gate valve of five
turns, 2452 L/h. The level must rise 20 mm to drown the siphon's inlet again, and a siphon that draws air carries half
of its flow (both are defaults of the description, common practice, no source).
"""

from __future__ import annotations

from math import ceil, log2

import numpy as np
import pytest

from tuner.coach import Coach
from tuner.coach.belief import Belief
from tuner.coach.hearing_odds import evidence_of
from tuner.coach.outlook import Settings, outlook
from tuner.rig import Channel, Rig
from tuner.terms import Heard, Levels, Question, Reading, SoundKind, Step
from tuner.water import laws
from tuner.water.plumbing import plumbing_of

RIG = Rig()
P = plumbing_of(RIG)
L_H = 3.6e6
SUPPLY_M3_S = float(laws.supply_flow_m3_s(P, [1.0]))
TURNS = 5.0


def edge_turns(over: float) -> float:
    """Return the turns at which the siphon, drawing at its inlet's edge, takes ``over`` times the supply."""
    flow = SUPPLY_M3_S * over
    return TURNS * float(laws.opening_for_siphon_flow(P, flow, laws.gulp_level_m(P, flow)))


def test_a_slurp_every_44_s_is_74_litres_an_hour_and_a_tenth_of_a_turn() -> None:
    # Volume between the gulps: 0.0425 m2 x 0.02 m = 0.85 L.
    assert float(P.box_area_m2 * P.regain_rise_m) == pytest.approx(0.85e-3, rel=0.01)
    # The siphon takes 3 % too much: 0.03 x 2452 = 73.6 L/h = 20.4 mL/s. The fall takes 850 / 20.4 = 41.6 s. Drawing
    # air it carries half of 2525 L/h; 2452 - 1263 = 1189 L/h = 330 mL/s fill the box again in 2.6 s. Together 44.2 s.
    fall_s = 850 / (0.03 * 2452 / 3.6)
    rise_s = 850 / ((2452 - 0.5 * 1.03 * 2452) / 3.6)
    opening = edge_turns(1.03) / TURNS
    assert float(laws.slurp_period_s(P, SUPPLY_M3_S, opening)) == pytest.approx(fall_s + rise_s, rel=0.01)
    # Near its working point that valve gives some 780 L/h a turn: 73.6 / 780 = 0.094 of a turn back to the edge.
    per_turn = (1.02 - 1.00) * 2452 / (edge_turns(1.02) - edge_turns(1.00))
    assert per_turn == pytest.approx(780, rel=0.02)
    assert edge_turns(1.03) - edge_turns(1.00) == pytest.approx(73.6 / per_turn, rel=0.03)


def test_the_belief_reads_the_same_from_the_period() -> None:
    believed = []
    for period_s in (88.0, 44.0, 11.0):
        belief = Belief(RIG, np.random.default_rng(1), over_room=True)
        heard = (Heard("slurp", 0.15, 0.15, 22.0, period_s, 3),)
        levels = Levels(-40.0, -38.0, -41.0, -43.0, -35.0, (1000.0,), (-45.0,))
        belief.heard(evidence_of(Reading(120.0, 120.0, levels, (), heard, 22.0, 0.0), 0.0, 1e6, 1e6, over_room=True))
        o = belief.outlook()
        gulp_flow = P.box_area_m2 * P.regain_rise_m / period_s  # the fall is nearly all of a slow cycle
        # The mismatch as it counts between the gulps, at the low level; the box's area is known to a few percent, and
        # a period to a third.
        order = np.argsort(o.slurp_period_s)
        middle = o.slurp_period_s[order][np.searchsorted(np.cumsum(belief.weights[order]), 0.5)]
        believed.append(float(-belief.expected().mismatch_m3_s))
        assert float(middle) == pytest.approx(period_s, rel=0.6)
        assert believed[-1] > gulp_flow
    assert believed == sorted(believed)


VENTED = Rig(channel=Channel(vent_hole_m=0.02))  # a vent so wide that only the siphon's two edges are heard
TAP_TURNS = VENTED.channel.vent_tap_turns


def reading_at(turns: float, tap: float = 1.0) -> Reading:
    """What perfect ears hear of an installation with its valve at ``turns``: no periods and no levels."""
    o = outlook(plumbing_of(VENTED), Settings(np.array(turns / TURNS), np.array(tap), (1.0,)))
    levels = Levels(-40.0, -38.0, -41.0, -43.0, -35.0, (1000.0,), (-45.0,))
    over_closed = o.gurgling + o.flushing
    sounds: tuple[tuple[SoundKind, float, float], ...] = (
        ("slurp", float(o.gulping), 0.3), ("gurgle", float(over_closed), 0.95),
    )
    heard = tuple(Heard(kind, share, share, 20.0) for kind, activity, share in sounds if activity > 0.5)
    return Reading(25.0, 25.0, levels, (), heard, 20.0 if heard else 0.0, 0.0)


@pytest.mark.parametrize("start", [1.35, 1.6, 2.5, 2.75, 2.8])
def test_the_coach_needs_no_more_moves_than_halving_a_bracket(start: float) -> None:
    # Halving a range R down to a window w takes ceil(log2(R / w)) moves. Here the valve may stand anywhere within two
    # turns, and the window is what lies between the two edges of the same water model. From further open than these
    # the limit of the first closing (``safety``) costs one move more.
    quiet = [t for t in np.linspace(1.2, 3.2, 401) if not reading_at(float(t)).heard]
    bound = ceil(log2(2.0 / (max(quiet) - min(quiet))))
    assert bound == 2
    coach, turns, tap, moves = Coach(VENTED), start, 1.0, 0
    while reading_at(turns, tap).heard and moves <= bound:
        coach.hear_reading(reading_at(turns, tap))
        step = coach.advise()
        while isinstance(step, Question):
            coach.look(step.id, None)
            step = coach.advise()
        assert isinstance(step, Step)
        if step.control == "siphon valve":
            turns += step.amount
        elif step.control == "vent tap":
            tap = float(np.clip(tap + step.amount / TAP_TURNS, 0.0, 1.0))
        moves += step.amount != 0
        coach.did(step)
    assert moves <= bound
    assert min(quiet) <= turns <= max(quiet)
