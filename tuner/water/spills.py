"""Failures of volume: what runs back into the sump, and what the pump can send into the tank."""

from __future__ import annotations

import numpy as np

from tuner.units import length_text, volume_text
from tuner.water.backflow import back_siphon_volume_m3, tank_drop_m
from tuner.water.pipes import pipe_area_m2
from tuner.water.scene import Setup, case_of, weir_head_m
from tuner.water.verdict import FloodCase, judge, number, to_measure

NARROW_GLASS_M = 0.005
NARROW_SHARE = 0.10  # of the sump's free volume


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
        if s.med(head) < s.med(deepest) and 0.8 * s.med(deepest) < s.med(p.nozzle_depth_m):
            depth = length_text(0.8 * s.med(deepest), us=us)
            mend.append(f"raise the return nozzles to at most {depth} under the surface")
        if s.med(highest) > 0.05:
            mend.append(f"run the sump at most {length_text(0.9 * s.med(highest), us=us)} deep")
        mend.append("an anti-siphon hole helps but clogs: the case without it must hold")
    says = (
        f"About {volume_text(s.med(back), us=us)} runs back into {volume_text(s.med(free), us=us)} of free sump;"
        f" the tank falls by about {length_text(s.med(drop), us=us)}."
    )
    return case_of("pumps stop: back-siphon into the sump", verdict, says, numbers, share, mend, measure)


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
    return case_of("all drains blocked: the sump is pumped into the tank", verdict, says, numbers, share, mend, measure)
