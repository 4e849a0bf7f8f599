"""Failures of level: a blocked pipe, too much flow, too little, and the return of power.

A pipe counts as unprimed: what it carries only if it happens to run full is told, but never relied upon. The
box may fill to its rim, or until the tank behind it reaches the rim of its glass, whichever is lower.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from tuner.units import flow_text, length_text
from tuner.water.air import CLEARING_FROUDE, bleed_purge_time_s
from tuner.water.backflow import tank_drop_m
from tuner.water.balance import balance_at_supply
from tuner.water.band import share_of
from tuner.water.laws import (
    channel_crest_flow_m3_s,
    channel_siphon_flow_m3_s,
    emergency_flow_m3_s,
    emergency_full_flow_m3_s,
    gurgle_flow_m3_s,
    siphon_flow_m3_s,
    supply_flow_m3_s,
)
from tuner.water.pipes import pipe_area_m2
from tuner.water.plumbing import Figure
from tuner.water.regimes import froude
from tuner.water.scene import Setup, box_limit_m, case_of, weir_head_m
from tuner.water.verdict import FloodCase, Verdict, judge, number, to_measure, worst_of

NARROW_LEVEL_M = 0.010
TALLEST_M = 3.0  # a level is searched up to this height
HALVINGS = 40
PURGE_SOON_S = 60.0
ATTENDED = "do the test itself, attended, with a hand at the pump's switch"


def _level_for(carried: Callable[[Figure], Figure], supply: Figure, lowest: Figure) -> Figure:
    """Return the level at which what the pipes carry equals the supply (halving, rising law)."""
    low = np.array(np.broadcast_to(lowest, np.shape(supply)), float)
    high = low + TALLEST_M
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        less = carried(middle) < supply
        low, high = np.where(less, middle, low), np.where(less, high, middle)
    return high


def siphon_blocked(s: Setup) -> FloodCase:
    """Siphon blocked at full pump flow: do open channel and emergency hold the level?"""
    p = s.plumbing

    def unprimed(level: Figure) -> Figure:
        return channel_crest_flow_m3_s(p, level, 0.0) + emergency_flow_m3_s(p, level)

    def primed(level: Figure) -> Figure:
        over = level - p.crest_height_m >= p.channel_diameter_m
        film = channel_crest_flow_m3_s(p, level, 0.0)
        full = np.where(over, np.maximum(channel_siphon_flow_m3_s(p, level), film), film)
        return full + emergency_flow_m3_s(p, level)

    return _blocked(s, "siphon blocked at full pump flow", unprimed, primed, "open channel and emergency pipe")


def channel_blocked_too(s: Setup) -> FloodCase:
    """Siphon and open channel blocked: does the emergency pipe alone hold the level?"""
    p = s.plumbing
    return _blocked(
        s, "siphon and open channel blocked at full pump flow", lambda level: emergency_flow_m3_s(p, level),
        lambda level: emergency_full_flow_m3_s(p, level), "emergency pipe alone",
    )


def _blocked(
    s: Setup, name: str, unprimed: Callable[[Figure], Figure], primed: Callable[[Figure], Figure], who: str
) -> FloodCase:
    p, us, supply = s.plumbing, s.us, s.full_supply_m3_s
    limit = box_limit_m(p, supply)
    level = _level_for(unprimed, supply, p.crest_height_m)
    hoped = _level_for(primed, supply, p.crest_height_m)
    fields = ("emergency.inner_diameter_m", "emergency.rim_height_m", "box.depth_m", "tank.glass_above_m",
              "channel.inner_diameter_m", "weir.height_m")
    measure = to_measure(s.rig, fields, 3)
    verdict, share = judge(limit - level, NARROW_LEVEL_M, bool(measure), s.weights, limit - hoped)
    carried = unprimed(limit)
    numbers = [
        number("level needed in the box", level, "m", s.weights),
        number("highest level allowed", limit, "m", s.weights),
        number("flow to carry", supply, "m3/s", s.weights),
        number("flow carried at the highest level, unprimed", carried, "m3/s", s.weights),
    ]
    slower = 0.8 * s.med(carried)
    mend = [] if verdict == "holds" else [
        f"let the pumps give at most {flow_text(slower, us=us)}, even at full speed (a smaller pump, or a speed limit)",
        "a wider emergency pipe: its rim takes water as a weir, its bore as an orifice",
        "a lower emergency rim: more height between it and the highest level",
    ]
    needed, fits = flow_text(s.med(supply), us=us), flow_text(s.med(carried), us=us)
    says = f"The {who} must carry {needed}; unprimed, about {fits} fits below the highest level."
    if verdict == "cannot tell" and share < 0.5:
        says += " It holds only if the pipe fills and runs full, which no formula can promise."
        measure = (ATTENDED, *measure)
    elif verdict == "cannot tell":
        measure = (*measure, ATTENDED)
    return case_of(name, verdict, says, numbers, share, mend, measure)


def all_pumps(s: Setup) -> FloodCase:
    """Every pump at full speed with the siphon valve where it stands: does the level hold?"""
    p, us = s.plumbing, s.us
    b = balance_at_supply(p, s.full_supply_m3_s, s.opening, s.vent_opening)
    limit = box_limit_m(p, s.full_supply_m3_s)
    measure = to_measure(s.rig, ("siphon.valve.turns", "emergency.rim_height_m", "box.depth_m"), 3)
    verdict, share = judge(limit - b.level_m, NARROW_LEVEL_M, bool(measure), s.weights)
    wet = share_of(np.asarray(b.emergency_m3_s) > 0, s.weights)
    count = len(s.rig.pumps)
    who = "Both pumps" if count == 2 else "The pump" if count == 1 else "All pumps"
    says = (
        f"{who} at full speed: {flow_text(s.med(s.full_supply_m3_s), us=us)} against"
        f" {flow_text(s.med(s.supply_m3_s), us=us)} now; the level stands near {length_text(s.med(b.level_m), us=us)}."
    )
    if wet > 0.5:
        says += " The emergency pipe carries water then: loud, as it should be."
    numbers = [
        number("level in the box", b.level_m, "m", s.weights), number("highest level allowed", limit, "m", s.weights),
        number("flow into the emergency pipe", b.emergency_m3_s, "m3/s", s.weights),
    ]
    mend = [] if verdict == "holds" else ["open the siphon valve a little", "interlock the pumps, or limit their speed"]
    return case_of("all pumps at full speed", verdict, says, numbers, share, mend, measure)


def backup_alone(s: Setup) -> FloodCase:
    """Only the pumps on backup power run: does the siphon still prime, and where does the water go?"""
    p, us = s.plumbing, s.us
    name = "backup pump alone"
    speeds = [pump.speed if pump.on_backup else 0.0 for pump in s.rig.pumps]
    if not any(speeds):
        says = "No pump is described as running on backup power: in a power cut everything stops (see back-siphon)."
        return case_of(name, "holds", says, [], 1.0, [], ())
    supply = supply_flow_m3_s(p, speeds)
    level = _level_for(
        lambda x: channel_crest_flow_m3_s(p, x, 0.0) + emergency_flow_m3_s(p, x), supply, p.crest_height_m
    )
    verdict, share = judge(box_limit_m(p, supply) - level, NARROW_LEVEL_M, False, s.weights)
    fr = froude(supply, p.siphon_diameter_m)
    says = f"The backup pump gives {flow_text(s.med(supply), us=us)}. "
    if s.med(supply) <= 0:
        says += "At its speed it does not lift water into the tank."
    elif s.med(supply) < s.med(gurgle_flow_m3_s(p)):
        says += "The open channel carries it quietly, whether or not the siphon primes."
    elif s.med(fr) >= CLEARING_FROUDE[2]:
        says += "That clears the siphon of air: it primes."
    elif s.med(fr) >= CLEARING_FROUDE[0]:
        says += "That may or may not clear the siphon of air."
    else:
        says += "That is too little to clear the siphon of air; the open channel carries it, and gurgles."
    if s.med(supply) > 0 > s.med(supply - siphon_flow_m3_s(p, p.crest_height_m, s.opening)):
        says += " A siphon that does prime takes more than the pump gives, and slurps."
    numbers = [number("flow", supply, "m3/s", s.weights), number("Froude number in the siphon", fr, "", s.weights)]
    return case_of(name, verdict, says, numbers, share, [], ())


def power_returns(s: Setup) -> FloodCase:
    """Power returns: the level must hold while air is trapped in the siphon, and the air must find a way out."""
    p, us, supply = s.plumbing, s.us, s.supply_m3_s
    level = _level_for(
        lambda x: channel_crest_flow_m3_s(p, x, 0.0) + emergency_flow_m3_s(p, x), supply, p.crest_height_m
    )
    limit = box_limit_m(p, supply)
    drop = tank_drop_m(weir_head_m(p, supply), p.nozzle_depth_m)
    outlet = p.siphon_outlet_depth_m + p.tank_area_m2 * drop / p.sump_area_m2
    push = np.minimum(level, limit) - p.siphon_inlet_height_m
    trapped = pipe_area_m2(p.siphon_diameter_m) * p.siphon_length_m
    purge = bleed_purge_time_s(p.bleed_hole_m, trapped, np.maximum(push, 1e-6), p.density_kg_m3)
    fields = ("emergency.inner_diameter_m", "emergency.rim_height_m", "box.depth_m", "siphon.bleed_hole_m")
    measure = to_measure(s.rig, fields, 4)
    held, share = judge(limit - level, NARROW_LEVEL_M, bool(measure), s.weights)
    if s.rig.siphon.bleed_hole_m > 0:
        vented: Verdict = "holds" if s.med(purge) < PURGE_SOON_S else "holds narrowly"
        how = f"the bleed hole lets the trapped air out in about {s.med(purge):.0f} s (far longer if water wets it)"
    else:
        vented, ways = judge(push - outlet, NARROW_LEVEL_M, bool(measure), s.weights)
        share = min(share, ways)
        how = (
            f"without a bleed hole {length_text(s.med(push), us=us)} of water over the inlet must push the air"
            f" out under {length_text(s.med(outlet), us=us)} at the outlet, as deep as the sump stands after the stop"
        )
    verdict = worst_of((held, vented))
    mend = [] if vented == "holds" else [
        "a bleed hole of 3 mm at the top of the siphon", "a shallower outlet of the siphon in the sump",
    ]
    if held != "holds":
        mend.append("whatever mends the blocked siphon: while it is air-locked it is one")
    if verdict != "holds":
        mend.append("never restart in a loop: wait until the air has left")
    if verdict == "cannot tell":
        measure = (*measure, "three attended restarts, unaided")
    says = (
        f"Until the siphon primes, open channel and emergency hold the level near {length_text(s.med(level), us=us)}"
        f" (highest allowed {length_text(s.med(limit), us=us)}); {how}."
    )
    numbers = [
        number("level while the siphon is air-locked", level, "m", s.weights),
        number("highest level allowed", limit, "m", s.weights),
        number("depth of the siphon's outlet at the restart", outlet, "m", s.weights),
    ]
    if s.rig.siphon.bleed_hole_m > 0:
        numbers.append(number("time to let the air out", purge, "s", s.weights))
    return case_of("power returns", verdict, says, numbers, share, mend, measure)
