"""The seven failures of the flood check, each with its numbers, its verdict and what would mend it.

A pipe counts as unprimed: what it carries only if it happens to run full is told, but never relied upon. The
box may fill to its rim, or until the tank behind it reaches the rim of its glass, whichever is lower.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tuner.rig import Rig
from tuner.units import flow_text, length_text, volume_text
from tuner.water.air import CLEARING_FROUDE, bleed_purge_time_s
from tuner.water.backflow import back_siphon_volume_m3, tank_drop_m
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
from tuner.water.plumbing import Figure, Plumbing
from tuner.water.regimes import froude
from tuner.water.verdict import FloodCase, Verdict, judge, number, to_measure, worst_of
from tuner.water.weir import weir_head_kindsvater_carter

NARROW_LEVEL_M = 0.010
NARROW_GLASS_M = 0.005
NARROW_SHARE = 0.10  # of the sump's free volume
TALLEST_M = 3.0  # a level is searched up to this height
HALVINGS = 40
PURGE_SOON_S = 60.0
ATTENDED = "do the test itself, attended, with a hand at the pump's switch"


@dataclass(frozen=True, slots=True)
class Setup:
    """What every failure is computed from: the rig, its draws and weights, its normal supply and settings."""

    rig: Rig
    plumbing: Plumbing
    weights: NDArray[np.float64] | None
    supply_m3_s: Figure  # at the present speeds
    full_supply_m3_s: Figure  # every pump at full speed
    opening: Figure  # of the siphon valve, now or mid-window
    vent_opening: Figure
    us: bool

    def med(self, values: Any) -> float:
        """Return the median of sampled values, weighted as the draws are; NaN when none is finite."""
        return number("", values, "", self.weights).band.middle


def weir_head_m(p: Plumbing, supply: Figure) -> Figure:
    """Return the head over the tank's edge at a flow."""
    return weir_head_kindsvater_carter(supply / p.weir_share, p.weir_length_m * p.weir_open_share, p.weir_height_m)


def box_limit_m(p: Plumbing, supply: Figure) -> Figure:
    """Return the highest level that the box may reach: its rim, or the tank at the rim of its glass."""
    return np.minimum(p.box_depth_m, p.weir_height_m + weir_head_m(p, supply) + p.tank_glass_above_m)


def _level_for(carried: Callable[[Figure], Figure], supply: Figure, lowest: Figure) -> Figure:
    """Return the level at which what the pipes carry equals the supply (halving, rising law)."""
    low = np.array(np.broadcast_to(lowest, np.shape(supply)), float)
    high = low + TALLEST_M
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        less = carried(middle) < supply
        low, high = np.where(less, middle, low), np.where(less, high, middle)
    return high


def back_siphon(s: Setup) -> FloodCase:
    """Pumps stop: does the sump hold what runs back, with the anti-siphon hole clogged and with it open?"""
    p, us = s.plumbing, s.us
    head = weir_head_m(p, s.supply_m3_s)
    pipes_and_box = (
        p.return_lines_m3
        + pipe_area_m2(p.siphon_diameter_m) * p.siphon_length_m
        + p.box_area_m2 * (p.crest_height_m - p.siphon_inlet_height_m)
    )
    free = p.sump_area_m2 * (p.sump_rim_m - p.sump_level_m)
    drop = tank_drop_m(head, p.nozzle_depth_m)
    back = back_siphon_volume_m3(p.tank_area_m2, drop) + pipes_and_box
    numbers = [
        number("water running back, any anti-siphon hole clogged", back, "m3", s.weights),
        number("free volume of the sump", free, "m3", s.weights),
        number("fall of the tank's surface", drop, "m", s.weights),
    ]
    if s.rig.returns.siphon_break_depth_m is not None:
        opened = tank_drop_m(head, np.minimum(p.siphon_break_depth_m, p.nozzle_depth_m))
        volume = back_siphon_volume_m3(p.tank_area_m2, opened) + pipes_and_box
        numbers.append(number("water running back, the anti-siphon hole open", volume, "m3", s.weights))
    fields = ("sump.level_m", "sump.rim_m", "sump.length_m", "sump.width_m", "returns.nozzle_depth_m", "tank.length_m",
              "tank.width_m")
    measure = to_measure(s.rig, fields, 3)
    verdict, share = judge(free - back, NARROW_SHARE * free, bool(measure), s.weights)
    deepest = (free - pipes_and_box) / p.tank_area_m2
    highest = p.sump_rim_m - back / p.sump_area_m2
    mend = []
    if verdict != "holds":
        if s.med(deepest) > s.med(head):
            depth = length_text(0.8 * s.med(deepest), us=us)
            mend.append(f"raise the return nozzles to at most {depth} under the surface")
        if s.med(highest) > 0.05:
            mend.append(f"run the sump at most {length_text(0.9 * s.med(highest), us=us)} deep")
        mend.append("an anti-siphon hole helps but clogs: the case without it must hold")
    says = (
        f"About {volume_text(s.med(back), us=us)} runs back into {volume_text(s.med(free), us=us)} of free sump;"
        f" the tank falls by about {length_text(s.med(drop), us=us)}."
    )
    return _case("pumps stop: back-siphon into the sump", verdict, says, numbers, share, mend, measure)


def sump_into_tank(s: Setup) -> FloodCase:
    """All drains blocked: the pump empties its chamber into the tank; does the glass hold it?"""
    p, us = s.plumbing, s.us
    rise = p.pump_chamber_m3 / p.tank_area_m2
    fields = ("tank.glass_above_m", "sump.pump_chamber_m3", "tank.length_m", "tank.width_m")
    measure = to_measure(s.rig, fields, 3)
    verdict, share = judge(p.tank_glass_above_m - rise, NARROW_GLASS_M, bool(measure), s.weights)
    room = volume_text(0.85 * s.med(p.tank_glass_above_m * p.tank_area_m2), us=us)
    mend = [] if verdict == "holds" else [
        f"let the pump take at most {room}: raise it in its chamber, or lower the chamber's level",
        "a float switch in the tank that stops the pump",
    ]
    chamber, glass = volume_text(s.med(p.pump_chamber_m3), us=us), length_text(s.med(p.tank_glass_above_m), us=us)
    says = (
        f"The pump can send {chamber} into the tank before it runs dry:"
        f" the surface rises {length_text(s.med(rise), us=us)} under {glass} of glass."
    )
    numbers = [
        number("rise of the tank's surface", rise, "m", s.weights),
        number("glass above the running surface", p.tank_glass_above_m, "m", s.weights),
    ]
    return _case("all drains blocked: the sump is pumped into the tank", verdict, says, numbers, share, mend, measure)


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
    return _case(name, verdict, says, numbers, share, mend, measure)


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
    return _case("all pumps at full speed", verdict, says, numbers, share, mend, measure)


def backup_alone(s: Setup) -> FloodCase:
    """Only the pumps on backup power run: does the siphon still prime, and where does the water go?"""
    p, us = s.plumbing, s.us
    name = "backup pump alone"
    speeds = [pump.speed if pump.on_backup else 0.0 for pump in s.rig.pumps]
    if not any(speeds):
        says = "No pump is described as running on backup power: in a power cut everything stops (see back-siphon)."
        return _case(name, "holds", says, [], 1.0, [], ())
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
    return _case(name, verdict, says, numbers, share, [], ())


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
    return _case("power returns", verdict, says, numbers, share, mend, measure)


def _case(
    name: str, verdict: Verdict, says: str, numbers: list[Any], share: float, mend: list[str], measure: tuple[str, ...]
) -> FloodCase:
    wanted = () if verdict == "holds" else measure
    return FloodCase(name, verdict, says, tuple(numbers), share, tuple(mend), wanted)
