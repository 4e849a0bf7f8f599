"""One cause of noise at a time, brought about by a setting or a fault of the plant, never by a label.

A fault that lies in how the thing is built (a pipe cut short, a nozzle set high, a box far below its weir, no bleed
hole) stands in the keeper's description too, where the keeper measured that figure; one that came later (a sump that
ran low, a hole that clogged) does not.

Each recipe takes a tuned installation and returns the one with the cause, or None when this installation cannot have
it (a valve that is fully open already, an air hole too small to be too wide ...). What follows is left to the plant.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from tuner.rehearsal.draw import (
    MIDDLE_SHARE,
    channel_level_m,
    opening_for,
    vent_for_film,
    vent_for_suction,
)
from tuner.rehearsal.installation import Installation
from tuner.rig import measures
from tuner.terms import CauseName
from tuner.water import laws
from tuner.water.pipes import GRAVITY_M_S2
from tuner.water.plumbing import Plumbing
from tuner.water.regimes import flow_at_froude_m3_s

Recipe = Callable[[Installation, np.random.Generator], Installation | None]

_OPEN_TO = 0.98
_LONGEST_PERIOD_S = 100.0


def _log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def with_channel_flow(truth: Installation, channel_m3_s: float, vent: float) -> Installation:
    """Return the installation with the valve set so that the channel carries a flow at a vent opening."""
    p = truth.plumbing
    supply = float(laws.supply_flow_m3_s(p, truth.settings.speeds))
    valve = opening_for(p, supply - channel_m3_s, channel_level_m(p, channel_m3_s, vent))
    return replace(truth, settings=replace(truth.settings, valve=valve, vent=vent))


def _built(truth: Installation, rng: np.random.Generator, figures: dict[str, float]) -> Installation:
    """Return the installation whose keeper found these figures, a few percent off, unless they were not measured."""
    rig = truth.rig
    for dotted, value in figures.items():
        part_name, name = dotted.split(".")
        if dotted in rig.assumed:
            continue
        measure = measures(getattr(rig, part_name))[name]
        read = round(value * (1.0 + float(np.clip(rng.normal(0.0, 0.03), -0.08, 0.08))), 4)
        part = replace(getattr(rig, part_name), **{name: float(np.clip(read, measure.lowest, measure.highest))})
        rig = replace(rig, **{part_name: part})
    return replace(truth, rig=rig)


def retuned(truth: Installation) -> Installation:
    """Return the installation with its valve set to the middle of the window at its vent and speeds."""
    gurgle = float(laws.gurgle_flow_m3_s(truth.plumbing))
    return with_channel_flow(truth, MIDDLE_SHARE * gurgle, truth.settings.vent)


def quiet(truth: Installation, rng: np.random.Generator) -> Installation | None:
    """Return the installation somewhere in the middle half of its window."""
    gurgle = float(laws.gurgle_flow_m3_s(truth.plumbing))
    p, vent = truth.plumbing, truth.settings.vent
    thin = float(laws.channel_flow_at_suction_m3_s(p, vent, p.breakup_head_m))
    low = max(MIDDLE_SHARE - 0.2, 1.1 * thin / gurgle)
    return with_channel_flow(truth, float(rng.uniform(low, 0.78)) * gurgle, vent)


def siphon_over_open(truth: Installation, rng: np.random.Generator) -> Installation | None:
    """Open the valve past the slurp edge, by 1 to 30 % of the flow."""
    p = truth.plumbing
    supply = float(laws.supply_flow_m3_s(p, truth.settings.speeds))
    wanted = supply * (1.0 + _log_uniform(rng, 0.012, 0.30))
    valve = opening_for(p, wanted, float(laws.gulp_level_m(p, wanted)))
    period_s = float(laws.slurp_period_s(p, supply, valve))
    if valve > _OPEN_TO or (np.isfinite(period_s) and period_s > _LONGEST_PERIOD_S):
        return None
    return replace(truth, settings=replace(truth.settings, valve=valve))


def siphon_over_closed(truth: Installation, rng: np.random.Generator) -> Installation | None:
    """Close the valve until the channel carries 1.06 to 3 times its gurgling flow; its tap lets enough air in."""
    p = truth.plumbing
    flow = _log_uniform(rng, 1.06, 3.0) * float(laws.gurgle_flow_m3_s(p))
    vent = max(vent_for_film(p, flow), truth.settings.vent)
    under_rim_m = float(p.emergency_rim_height_m) - channel_level_m(p, flow, min(vent, 1.0))
    if vent > 1.0 or under_rim_m < 0.002:
        return None
    return with_channel_flow(truth, flow, vent)


def vent_too_wide(truth: Installation, rng: np.random.Generator) -> Installation | None:
    """Open the tap until the film breaks up."""
    p = truth.plumbing
    flow = float(rng.uniform(0.4, 0.85)) * float(laws.gurgle_flow_m3_s(p))
    vent = vent_for_suction(p, flow, _log_uniform(rng, 0.05, 0.85) * float(p.breakup_head_m))
    return None if vent > 1.0 else with_channel_flow(truth, flow, vent)


def vent_too_closed(truth: Installation, rng: np.random.Generator) -> Installation | None:
    """Close the tap until the channel turns into a siphon, or until the tap hisses."""
    p = truth.plumbing
    flow = float(rng.uniform(0.3, 0.8)) * float(laws.gurgle_flow_m3_s(p))
    if rng.random() < 0.4:
        hiss_m, full_m = float(laws.hiss_suction_m(p)), float(p.vent_siphon_head_m)
        head_m = float(laws.channel_level_m(p, flow, 0.0) - p.crest_height_m)
        most_m = min(0.8 * full_m, 0.23 * head_m)
        if most_m < 1.15 * hiss_m:
            return None
        suction_m = float(rng.uniform(1.15 * hiss_m, most_m))
    else:
        suction_m = _log_uniform(rng, 1.3, 6.0) * float(p.vent_siphon_head_m)
        dumped_m3 = float(p.box_area_m2 * (p.crest_height_m - p.channel_inlet_height_m))
        if dumped_m3 / flow > _LONGEST_PERIOD_S:
            return None
    vent = vent_for_suction(p, flow, suction_m)
    # The valve keeps the setting it had with a quiet tap: only the tap was turned.
    tuned = with_channel_flow(truth, flow, truth.settings.vent)
    return replace(tuned, settings=replace(tuned.settings, vent=vent))


def emergency_carrying(truth: Installation, rng: np.random.Generator) -> Installation | None:
    """Close the valve too far, block the siphon, or send more water than the drains take."""
    p = truth.plumbing
    supply = float(laws.supply_flow_m3_s(p, truth.settings.speeds))
    spilled = _log_uniform(rng, 0.02, 0.35) * supply
    level_m = float(laws.emergency_level_m(p, spilled))
    if level_m > float(p.weir_height_m) + 0.01 or level_m > float(p.box_depth_m) - 0.01:
        return None
    vent = 1.0 if rng.random() < 0.5 else min(1.0, 2.0 * truth.settings.vent)
    channel = float(laws.channel_crest_flow_m3_s(p, level_m, 0.0))
    carried = supply - spilled - channel
    if carried < 0.05 * supply:
        return None
    way = int(rng.integers(3))
    if way == 0:
        settings = replace(truth.settings, valve=opening_for(p, carried, level_m), vent=vent)
        return replace(truth, settings=settings)
    now = float(laws.siphon_flow_m3_s(p, level_m, truth.settings.valve))
    if now <= carried:
        return None
    if way == 1:
        return replace(truth, plumbing=_blocked(p, carried, now), settings=replace(truth.settings, vent=vent))
    # A stronger pump was fitted: the head grows until the surplus flows.
    more = now + channel + spilled
    shutoff = tuple(
        float(p.static_head_m) / s**2 + (h - float(p.static_head_m) / s**2) * (more / supply) ** 2
        for h, s in zip(p.pump_shutoff_m, truth.settings.speeds, strict=True)
    )
    strong = replace(p, pump_shutoff_m=shutoff)
    return replace(truth, plumbing=strong, settings=replace(truth.settings, vent=vent))


def _blocked(p: Plumbing, carried_m3_s: float, now_m3_s: float) -> Plumbing:
    """Return the plumbing with something stuck in the siphon, so that it carries less at its setting."""
    area_m2 = np.pi / 4.0 * float(p.siphon_diameter_m) ** 2
    head_m = float(p.siphon_drop_m)
    lost = 2.0 * GRAVITY_M_S2 * head_m * area_m2**2
    more_k = lost / carried_m3_s**2 - lost / now_m3_s**2
    return replace(p, siphon_loss_k=float(p.siphon_loss_k) + more_k)


def siphon_not_purged(truth: Installation, rng: np.random.Generator) -> Installation | None:
    """Clog the bleed hole and let the outlet end deep: the air of the last stop stays."""
    p = truth.plumbing
    over_inlet_m = float(p.emergency_rim_height_m - p.siphon_inlet_height_m)
    deep = replace(p, siphon_outlet_depth_m=over_inlet_m * float(rng.uniform(0.85, 1.6)), bleed_hole_m=0.0)
    hole_m = 0.0 if rng.random() < 0.6 else float(rng.uniform(0.0005, 0.0012))
    froude = float(laws.supply_flow_m3_s(p, truth.settings.speeds) / flow_at_froude_m3_s(1.0, p.siphon_diameter_m))
    truth = _built(truth, rng, {"siphon.outlet_depth_m": float(deep.siphon_outlet_depth_m)})
    if hole_m == 0.0:
        truth = _built(truth, rng, {"siphon.bleed_hole_m": 0.0})
    habit = replace(
        truth.siphon,
        bleed_hole_m=hole_m,
        sweep_froude=float(rng.uniform(0.5, 1.0)) * max(1.2, froude),
        sweep_share=float(rng.uniform(0.03, 0.1)),
        trapped_share=_log_uniform(rng, 0.08, 1.0),
    )
    return replace(truth, plumbing=deep, siphon=habit)


def outlet_above_water(truth: Installation, rng: np.random.Generator) -> Installation | None:
    """Let one or both drains end above the sump's surface."""
    which = int(rng.integers(3))
    above_m = -_log_uniform(rng, 0.003, 0.08)
    p = truth.plumbing
    if which in (0, 2):
        p = replace(p, siphon_outlet_depth_m=above_m)
    if which in (1, 2):
        p = replace(p, channel_outlet_depth_m=above_m * float(rng.uniform(0.6, 1.2)))
    cut_short = rng.random() < 0.5  # else the sump ran low after it was measured
    if cut_short:
        depths = {"siphon": float(p.siphon_outlet_depth_m), "channel": float(p.channel_outlet_depth_m)}
        truth = _built(truth, rng, {f"{drain}.outlet_depth_m": depth for drain, depth in depths.items()})
    return retuned(replace(truth, plumbing=p))


def pump_hum(truth: Installation, rng: np.random.Generator) -> Installation | None:
    """Let the pump touch the cabinet, wear its rotor, or both."""
    way = int(rng.integers(3))
    hum = _log_uniform(rng, 0.4, 3.0) if way != 1 else truth.returns.hum
    rattle = _log_uniform(rng, 0.25, 2.5) if way != 0 else 0.0
    return replace(truth, returns=replace(truth.returns, hum=hum, rattle=rattle))


def pump_drawing_air(truth: Installation, rng: np.random.Generator) -> Installation | None:
    """Let the pump's chamber run low, short of the depth at which the pump loses its flow."""
    sump = truth.sump
    fall_m = sump.intake_m + _log_uniform(rng, 0.0008, 0.008)
    short_m3 = fall_m * sump.chamber_share * float(truth.plumbing.sump_area_m2)
    return replace(truth, sump=replace(sump, short_m3=short_m3))


def return_drawing_air(truth: Installation, rng: np.random.Generator) -> Installation | None:
    """Raise the nozzle until its jet drags air in."""
    r = truth.returns
    depth_m = r.entrain_depth_m * (1.0 - _log_uniform(rng, 0.08, 1.0))
    truth = _built(truth, rng, {"returns.nozzle_depth_m": depth_m})
    return replace(truth, returns=replace(r, nozzle_depth_m=depth_m, break_depth_m=min(depth_m, r.break_depth_m)))


def weir_drop(truth: Installation, rng: np.random.Generator) -> Installation | None:
    """Let the box run far below the weir, and the sheet fall free."""
    p = truth.plumbing
    deeper_m = _log_uniform(rng, 0.03, 0.22)
    high = replace(p, weir_height_m=float(p.weir_height_m) + deeper_m, box_depth_m=float(p.box_depth_m) + deeper_m)
    figures = {"box.depth_m": float(high.box_depth_m), "weir.height_m": float(high.weir_height_m)}
    truth = _built(truth, rng, figures)
    return replace(truth, plumbing=high, weir=replace(truth.weir, cling_m=float(rng.uniform(0.015, 0.05))))


RECIPES: dict[CauseName, Recipe] = {
    "siphon over-open": siphon_over_open,
    "siphon over-closed": siphon_over_closed,
    "vent too wide": vent_too_wide,
    "vent too closed": vent_too_closed,
    "emergency carrying flow": emergency_carrying,
    "siphon not purged": siphon_not_purged,
    "outlet above water": outlet_above_water,
    "pump hum": pump_hum,
    "pump drawing air": pump_drawing_air,
    "return drawing air": return_drawing_air,
    "weir drop": weir_drop,
}
"""How each cause of the plumbing and the pump is brought about."""
