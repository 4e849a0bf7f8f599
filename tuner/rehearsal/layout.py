"""Draws the layout of an installation as a keeper would describe it, and what a keeper forgets to measure.

Pipes are those of two families: inch sizes (Schedule 40) and metric pressure pipe (PN 16, nominal walls). Sizes are
matched to the flow as a keeper would: a siphon that carries 1.3 to 5 times the flow with its valve open.
"""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from typing import Any

import numpy as np

from tuner.rehearsal.installation import Settings
from tuner.rig import (
    Box,
    Channel,
    Emergency,
    Pump,
    Returns,
    Rig,
    Siphon,
    Sump,
    Tank,
    Valve,
    Water,
    Weir,
)
from tuner.water.pipes import ELBOW_K, GRAVITY_M_S2, full_pipe_flow_m3_s, pipe_area_m2
from tuner.water.regimes import flow_at_froude_m3_s
from tuner.water.rim import crest_head_m
from tuner.water.weir import weir_head_kindsvater_carter

LITRE_HOUR_M3_S = 1.0 / 3.6e6

SCHEDULE_40_M = (0.01576, 0.02096, 0.02664, 0.03508, 0.04094, 0.05248)
"""Inner diameters of 1/2 to 2 in Schedule 40."""

METRIC_PN16_M = (0.0170, 0.0212, 0.0272, 0.0340, 0.0426, 0.0536)
"""Inner diameters of 20 to 63 mm pressure pipe, PN 16 (from memory: 20x1.5, 25x1.9, 32x2.4, 40x3.0, 50x3.7, 63x4.7)."""

_FLOWS_L_H = (1000.0, 12000.0)
_CAPACITY_SHARES = (1.3, 5.0)
_STRONGEST_M = 12.0  # head at no flow of the strongest pump that a living room holds
_MARINE_M2_S = 0.94e-6

FORGOTTEN: tuple[str, ...] = (
    "weir.open_share", "siphon.run_m", "siphon.elbows", "siphon.inlet_diameter_m", "siphon.bleed_hole_m",
    "siphon.valve.backlash", "channel.run_m", "channel.elbows", "channel.vent_hole_m", "emergency.run_m",
    "emergency.elbows", "returns.line_run_m", "returns.elbows", "returns.nozzle_diameter_m",
    "returns.nozzle_depth_m", "sump.pump_chamber_m3", "sump.level_m", "tank.glass_above_m",
)  # fmt: skip
"""Fields that a keeper may leave out, so that the description holds their defaults."""


def draw_layout(rng: np.random.Generator) -> Rig | None:
    """Draw a layout, or None when the sizes drawn do not go together."""
    u = rng.uniform
    flow = float(np.exp(u(np.log(_FLOWS_L_H[0]), np.log(_FLOWS_L_H[1])))) * LITRE_HOUR_M3_S
    sizes = SCHEDULE_40_M if rng.random() < 0.5 else METRIC_PN16_M
    drop_m, spare_run_m, elbows = u(0.55, 1.4), u(0.1, 0.8), float(rng.integers(4, 9)) / 2
    fitting = [d for d in sizes if _carries(flow, d, drop_m, drop_m + spare_run_m, elbows)]
    if not fitting:
        return None
    siphon_d = float(rng.choice(fitting))
    at = sizes.index(siphon_d)
    channel_d = sizes[int(np.clip(at + rng.choice([-1, 0, 0, 0, 1]), 0, len(sizes) - 1))]
    emergency_d = sizes[int(np.clip(at + rng.choice([0, 0, 1]), 0, len(sizes) - 1))]
    quiet_m3_s = float(flow_at_froude_m3_s(0.3, channel_d))
    if not 0.012 < quiet_m3_s / flow < 0.3:
        return None
    # Heights in the box, built down from the weir.
    weir_m = u(0.20, 0.50)
    crest_m = weir_m - u(0.012, 0.05) - 0.6 * float(crest_head_m(quiet_m3_s, channel_d))
    rim_m = crest_m + float(crest_head_m(quiet_m3_s, channel_d)) + u(0.012, 0.035)
    inlet_m = crest_m - u(0.06, 0.16)
    channel_inlet_m = crest_m - u(0.03, 0.08)
    if inlet_m < 0.015:
        return None
    box = _box(rng, flow, weir_m, rim_m, max(siphon_d, channel_d, emergency_d))
    tank = _tank(rng, flow)
    weir = _weir(rng, flow, weir_m, box, tank)
    if weir is None:
        return None
    valve = _valve(rng, siphon_d)
    static_m = drop_m + u(0.2, 0.6)
    supply = _supply(rng, flow, static_m, sizes)
    if supply is None:
        return None
    pumps, returns = supply
    u_depth = u(0.010, 0.030)
    return Rig(
        name="rehearsal",
        tank=tank,
        weir=weir,
        box=box,
        siphon=Siphon(
            inner_diameter_m=siphon_d,
            drop_m=round(drop_m, 3),
            run_m=round(drop_m + spare_run_m, 2),
            elbows=elbows,
            inlet_height_m=round(inlet_m, 3),
            inlet_diameter_m=round(siphon_d * u(1.15, 1.9), 3),
            outlet_depth_m=round(u_depth, 3),
            bleed_hole_m=0.0 if rng.random() < 0.12 else round(u(0.002, 0.005), 4),
            valve=valve,
        ),
        channel=Channel(
            inner_diameter_m=channel_d,
            drop_m=round(drop_m, 3),
            run_m=round(drop_m + u(0.1, 0.8), 2),
            elbows=float(rng.integers(4, 9)) / 2,
            crest_height_m=round(crest_m, 3),
            inlet_height_m=round(channel_inlet_m, 3),
            outlet_depth_m=round(max(0.008, u_depth + u(-0.004, 0.004)), 3),
            vent_hole_m=round(_vent_hole(rng, quiet_m3_s), 4),
            vent_tap_turns=float(rng.integers(4, 15)) / 2,
        ),
        emergency=Emergency(
            inner_diameter_m=emergency_d,
            drop_m=round(drop_m + rim_m - crest_m, 3),
            run_m=round(drop_m + u(0.1, 0.6), 2),
            elbows=float(rng.integers(2, 7)) / 2,
            rim_height_m=round(rim_m, 3),
        ),
        pumps=pumps,
        returns=returns,
        sump=_sump(rng, tank),
        water=Water(kind="marine" if rng.random() < 0.75 else "fresh", temperature_c=round(u(23.0, 27.0), 1)),
    )


def _carries(flow: float, diameter_m: float, drop_m: float, run_m: float, elbows: float) -> bool:
    open_m3_s = float(full_pipe_flow_m3_s(drop_m, diameter_m, run_m, 1.7 + ELBOW_K * elbows + 0.2, _MARINE_M2_S))
    return _CAPACITY_SHARES[0] < open_m3_s / flow < _CAPACITY_SHARES[1]


def _box(rng: np.random.Generator, flow: float, weir_m: float, rim_m: float, largest_m: float) -> Box:
    outer_m = largest_m + 0.015
    width_m = max(1.5 * outer_m, rng.uniform(0.09, 0.20))
    length_m = max(3.4 * outer_m, rng.uniform(0.18, 0.45) * (1.0 + 0.35 * flow / (4000 * LITRE_HOUR_M3_S)))
    depth_m = max(weir_m, rim_m) + rng.uniform(0.04, 0.09)
    return Box(length_m=round(length_m, 3), width_m=round(width_m, 3), depth_m=round(depth_m, 3))


def _tank(rng: np.random.Generator, flow: float) -> Tank:
    volume_m3 = flow * 3600.0 / rng.uniform(3.5, 11.0)
    depth_m = float(np.clip(0.5 * volume_m3 ** (1 / 4) * rng.uniform(0.85, 1.3), 0.3, 0.8))
    area_m2 = float(np.clip(volume_m3 / depth_m, 0.12, 6.0))
    ratio = rng.uniform(1.6, 3.0)
    length_m = float(np.clip(np.sqrt(area_m2 * ratio), 0.4, 4.0))
    return Tank(
        length_m=round(length_m, 2),
        width_m=round(float(np.clip(area_m2 / length_m, 0.25, 2.0)), 2),
        glass_above_m=round(rng.uniform(0.025, 0.06), 3),
    )


def _weir(rng: np.random.Generator, flow: float, height_m: float, box: Box, tank: Tank) -> Weir | None:
    length_m = tank.length_m * rng.uniform(0.6, 0.95) if rng.random() < 0.3 else box.length_m * rng.uniform(0.85, 1.6)
    open_share = 1.0 if rng.random() < 0.3 else rng.uniform(0.5, 0.75)
    head_m = float(weir_head_kindsvater_carter(flow, length_m * open_share, height_m))
    if not 0.003 < head_m < 0.035:
        return None
    return Weir(length_m=round(length_m, 3), open_share=round(open_share, 2), height_m=round(height_m, 3))


def _valve(rng: np.random.Generator, diameter_m: float) -> Valve:
    if rng.random() < 0.25:
        return Valve(kind="ball", turns=5.0, backlash=round(rng.uniform(0.2, 1.0), 2))
    turns = round(2.0 * (2.5 + 100.0 * diameter_m + rng.uniform(-0.8, 1.2))) / 2.0
    return Valve(kind="gate", turns=float(max(3.0, turns)), backlash=round(rng.uniform(0.01, 0.08), 3))


def _vent_hole(rng: np.random.Generator, quiet_m3_s: float) -> float:
    # The hole that holds 4 mm of suction at the gurgling flow with the tap about 0.35 open, in its usual sizes.
    jet_m_s = np.sqrt(2.0 * 40.0 / 1.184)
    area_m2 = 2.5 * quiet_m3_s / (0.61 * jet_m_s * rng.uniform(0.15, 0.6))
    return float(np.clip(np.sqrt(4.0 * area_m2 / np.pi), 0.003, 0.020))


def _supply(
    rng: np.random.Generator, flow: float, static_m: float, sizes: tuple[float, ...]
) -> tuple[tuple[Pump, ...], Returns] | None:
    count = 2 if rng.random() < 0.2 else 1
    each = flow / count
    speed_m_s = rng.uniform(0.8, 1.8)
    line_d = min(sizes, key=lambda d: abs(float(pipe_area_m2(d)) * speed_m_s - each))
    nozzles = count * int(rng.integers(1, 3))
    nozzle_d = float(np.sqrt(4.0 * each * count / nozzles / (np.pi * rng.uniform(0.8, 2.0))))
    returns = Returns(
        static_head_m=round(static_m, 2),
        line_diameter_m=line_d,
        line_run_m=round(static_m + rng.uniform(0.3, 1.2), 2),
        elbows=float(rng.integers(4, 13)) / 2,
        nozzles=float(nozzles),
        nozzle_diameter_m=round(float(np.clip(nozzle_d, 0.008, 0.09)), 3),
        nozzle_depth_m=round(rng.uniform(0.010, 0.030), 3),
        siphon_break_depth_m=round(rng.uniform(0.004, 0.010), 3) if rng.random() < 0.3 else None,
    )
    variable = rng.random() < 0.5
    speed = round(rng.uniform(0.6, 0.9), 2) if variable else 1.0
    area = float(pipe_area_m2(line_d))
    loss = (0.65 + returns.elbows * ELBOW_K + 0.022 * returns.line_run_m / line_d) / area**2
    loss += 1.0 / (nozzles / count * float(pipe_area_m2(returns.nozzle_diameter_m))) ** 2
    lost_m = loss / (2.0 * GRAVITY_M_S2) * each**2
    needed_m = static_m + lost_m
    shutoff_m = needed_m / speed**2 * rng.uniform(1.25, 2.2)
    if shutoff_m > _STRONGEST_M:
        return None
    label_m3_s = float(each * np.sqrt(shutoff_m / (shutoff_m * speed**2 - needed_m)))
    pump = Pump(
        flow_m3_s=label_m3_s,
        head_m=round(shutoff_m, 2),
        speed=speed,
        speed_step=float(rng.choice([0.01, 0.05, 0.1])) if variable else 0.0,
    )
    pumps = tuple(replace(pump, name="return pump" if count == 1 else f"return pump {i + 1}") for i in range(count))
    return pumps, returns


def _sump(rng: np.random.Generator, tank: Tank) -> Sump:
    area_m2 = tank.area_m2 * rng.uniform(0.3, 0.6)
    length_m = float(np.clip(np.sqrt(area_m2 * rng.uniform(1.8, 2.8)), 0.3, 3.0))
    width_m = float(np.clip(area_m2 / length_m, 0.2, 1.5))
    level_m = rng.uniform(0.18, 0.30)
    return Sump(
        length_m=round(length_m, 2),
        width_m=round(width_m, 2),
        level_m=round(level_m, 3),
        rim_m=round(level_m + rng.uniform(0.10, 0.25), 3),
        pump_chamber_m3=round(length_m * width_m * rng.uniform(0.25, 0.5) * rng.uniform(0.08, 0.16), 4),
    )


def forget(layout: Rig, settings: Settings, rng: np.random.Generator) -> Rig:
    """Return what the keeper wrote down: the layout with the settings as read, and some figures left to default."""
    valve_full = layout.siphon.valve.full
    step = 0.125 if layout.siphon.valve.kind == "gate" else 1.0
    setting = round(settings.valve * valve_full / step) * step if rng.random() < 0.7 else None
    vent = round(settings.vent * layout.channel.vent_tap_turns * 8) / 8 if rng.random() < 0.7 else None
    parts: dict[str, Any] = {"siphon": replace(layout.siphon, valve=replace(layout.siphon.valve, setting=setting))}
    parts["channel"] = replace(layout.channel, vent_setting=vent)
    rig = replace(layout, **parts)
    share = rng.uniform(0.0, 0.8)
    forgotten = frozenset(name for name in FORGOTTEN if rng.random() < share)
    for name in sorted(forgotten):
        rig = _with_default(rig, name)
    unread = {n for n, v in (("siphon.valve.setting", setting), ("channel.vent_setting", vent)) if v is None}
    return replace(rig, assumed=forgotten | unread)


def _with_default(rig: Rig, dotted: str) -> Rig:
    path = dotted.split(".")

    def put(part: Any, names: list[str]) -> Any:
        if len(names) == 1:
            default = next(f.default for f in fields(part) if f.name == names[0])
            return replace(part, **{names[0]: default})
        inner = getattr(part, names[0])
        assert is_dataclass(inner)
        return replace(part, **{names[0]: put(inner, names[1:])})

    changed: Rig = put(rig, path)
    return changed
