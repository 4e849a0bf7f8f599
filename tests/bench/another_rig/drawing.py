"""Draws an installation, by chance from within what keepers build, and a start that is out of tune.

What a draw has is tried against what a keeper would not build (a siphon too small for the pump, a vent without a quiet
stretch, a quiet window wider or narrower than such overflows have) and drawn anew where it fails.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from tests.bench.another_rig.hydraulics import (
    LITRES_AN_HOUR,
    PA_A_METRE,
    AirCore,
    Box,
    Channel,
    Emergency,
    Installation,
    ReturnLine,
    Siphon,
    Unrest,
    Valve,
    air_m_s,
    gurgle_share,
    setting_for,
)

FLOWS_M3_S = (1500 / LITRES_AN_HOUR, 6000 / LITRES_AN_HOUR)
PIPES_M = (0.0210, 0.0266, 0.0351, 0.0409, 0.0525)
HALF_WIDTHS = (0.03, 0.08)  # of the quiet window, as shares of the flow
HISS_M_S = 14.0  # in the tap: faster, and no opening is quiet
FAULTS = ("siphon too open", "siphon too closed", "vent too wide", "vent too closed")
FAULT_ODDS = (0.35, 0.35, 0.12, 0.18)


@dataclass(frozen=True)
class Start:
    """What is out of tune, and the settings that make it so."""

    fault: str
    valve: Valve
    vent: float


def draw_installation(rng: np.random.Generator) -> tuple[Installation, Valve]:
    """Return the first draw that a keeper would have built, and its valve."""
    for _ in range(2000):
        drawn = _try_installation(rng)
        if drawn is not None:
            return drawn
    raise RuntimeError("no draw out of 2000 is an installation that a keeper would build")


def draw_start(rng: np.random.Generator, built: Installation, valve: Valve) -> Start | None:
    """Return settings that are out of tune, or None where the valve cannot be set to them."""
    u = rng.uniform
    low, high = gurgle_share(built.channel, built.unrest, built.flow_m3_s), built.overfull_share
    vent = u(built.vent_quiet * 1.15, max(built.vent_quiet * 1.2, built.vent_torn * 0.95))
    u(0.3, 0.7)  # stands for nothing: the later draws of a seed count on it
    fault = str(rng.choice(FAULTS, p=FAULT_ODDS))
    if fault == "siphon too open":
        share = high + math.exp(u(math.log(0.006), math.log(0.25)))
    elif fault == "siphon too closed":
        share = low - math.exp(u(math.log(0.02), math.log(0.3)))
    else:
        share = u(0.2, 0.7) * (1.0 - low) + low  # water runs in the channel, or no vent is heard
        wide = fault == "vent too wide"
        vent = u(min(built.vent_torn + 0.1, 0.95), 1.0) if wide else built.vent_quiet * u(0.02, 0.7)
    setting = setting_for(built.siphon, valve, share * built.flow_m3_s)
    return None if setting is None else Start(fault, replace(valve, handle=setting, plug=setting), vent)


def _try_installation(rng: np.random.Generator) -> tuple[Installation, Valve] | None:
    line = _draw_line(rng)
    flow_m3_s = line.flow_m3_s(line.speed)
    if not FLOWS_M3_S[0] < flow_m3_s < FLOWS_M3_S[1]:
        return None
    box = _draw_box(rng)
    if box is None:
        return None
    u = rng.uniform
    drop_m = u(0.7, 1.25)
    valve = _draw_valve(rng)
    siphon = _draw_siphon(rng, valve, box.crest_m, drop_m, flow_m3_s)
    if siphon is None:
        return None
    core = _draw_core(rng)
    channel = _draw_channel(rng, siphon)
    emergency = Emergency(diameter_m=float(rng.choice([siphon.diameter_m, max(siphon.diameter_m, 0.0409)])), elbows=2)
    outlets_m = u(0.01, 0.03), u(0.01, 0.03)
    unrest = Unrest(
        wave_m=u(0.0002, 0.0008), wave_s=u(0.3, 1.2), film_share=u(0.02, 0.08), film_s=u(0.4, 2.0),
        wander_share=u(0.001, 0.004), wander_s=u(30, 90),
    )
    least_drop_m = siphon.drop_m - (box.crest_m - box.siphon_inlet_m - core.reaches_m)
    overfull = math.sqrt(siphon.drop_m / least_drop_m)
    if not HALF_WIDTHS[0] <= (overfull - gurgle_share(channel, unrest, flow_m3_s)) / 2 <= HALF_WIDTHS[1]:
        return None
    quiet = [opening for opening in np.linspace(0.03, 0.95, 60).tolist() if _vent_is_quiet(channel, opening)]
    if not quiet or quiet[0] > 0.45:
        return None
    torn = min(quiet[0] * u(1.8, 3.5), 0.85)
    return Installation(
        line, box, siphon, core, channel, emergency, unrest, *outlets_m, flow_m3_s, overfull, quiet[0], torn
    ), valve


def _draw_line(rng: np.random.Generator) -> ReturnLine:
    u = rng.uniform
    static_m, shutoff_m, free_m3_s = u(1.0, 1.7), u(2.2, 5.0), u(2200, 9500) / LITRES_AN_HOUR
    diameter_m, run_m = float(rng.choice([0.0204, 0.0266, 0.0351])), u(1.4, 3.0)
    elbows, nozzles, nozzle_m = int(rng.integers(3, 7)), int(rng.integers(1, 4)), u(0.014, 0.022)
    variable = bool(rng.random() < 0.6)
    speed = round(u(0.65, 0.95), 2) if variable else 1.0
    step = float(rng.choice([0.01, 0.02, 0.05])) if variable else 0.0
    return ReturnLine(
        static_m, shutoff_m, free_m3_s, diameter_m, run_m, elbows, nozzles, nozzle_m, variable, speed, step
    )


def _draw_box(rng: np.random.Generator) -> Box | None:
    """Return a box with the weir over it; None where the channel's mouth would hang too low."""
    u = rng.uniform
    length_m, width_m = u(0.2, 0.5), u(0.1, 0.2)
    inlet_m = u(0.025, 0.07)
    crest_m = inlet_m + u(0.08, 0.16)
    mouth_m = crest_m - u(0.03, 0.07)
    if mouth_m < inlet_m + 0.02:
        return None
    rim_m = crest_m + u(0.03, 0.06)
    weir_m = rim_m + u(0.01, 0.07)
    depth_m = weir_m + u(0.03, 0.08)
    return Box(
        length_m, width_m, depth_m, inlet_m, crest_m, mouth_m, rim_m, weir_m, weir_length_m=u(0.2, 0.6),
        weir_open_share=u(0.5, 0.7), tank_length_m=u(0.9, 2.0), tank_width_m=u(0.5, 0.8),
    )


def _draw_valve(rng: np.random.Generator) -> Valve:
    u = rng.uniform
    if rng.random() < 0.6:
        full, dead = float(rng.choice([3.5, 4, 4.5, 5, 6, 7, 8])), u(0.0, 0.05)
        return Valve("gate", full, contraction=u(0.56, 0.72), play=u(0.02, 0.08), hand_sd=0.012, dead_share=dead)
    shut = u(70, 80)
    return Valve("ball", 90.0, contraction=u(0.58, 0.72), play=u(0.1, 0.6), hand_sd=0.15, shut_degrees=shut)


def _draw_siphon(
    rng: np.random.Generator, valve: Valve, crest_m: float, drop_m: float, flow_m3_s: float
) -> Siphon | None:
    """Return a siphon of the first pipe that takes the flow with something over; None where none does."""
    u = rng.uniform
    run_m, elbows, elbow_loss = drop_m + u(0.2, 1.0), int(rng.integers(2, 5)), u(0.5, 1.1)
    for pipe_m in PIPES_M:
        siphon = Siphon(crest_m, drop_m, pipe_m, pipe_m * u(1.0, 1.5), run_m, elbows, elbow_loss)
        most_m3_s = siphon.capacity_m3_s(crest_m, siphon.loss(valve.loss(valve.full)))
        if most_m3_s > flow_m3_s * (1.35 if rng.random() < 0.7 else 1.9):
            return siphon
    return None


def _draw_core(rng: np.random.Generator) -> AirCore:
    u = rng.uniform
    reaches_m = u(0.006, 0.022)
    return AirCore(
        reaches_m, lets_go_m=reaches_m + u(0.005, 0.022), swallowed_share=u(0.18, 0.5), sweep=u(0.8, 2.5),
        purge_s=u(1.5, 6.0),
    )


def _draw_channel(rng: np.random.Generator, siphon: Siphon) -> Channel:
    u = rng.uniform
    diameter_m = float(rng.choice([0.0210, 0.0266, 0.0351, 0.0409]))
    return Channel(
        siphon.drop_m, diameter_m, run_m=siphon.drop_m + u(0.1, 0.8), elbows=int(rng.integers(1, 4)),
        elbow_loss=siphon.elbow_loss, crest_width_m=u(1.0, 1.5) * diameter_m, gurgle_froude=u(0.26, 0.42),
        vent_diameter_m=u(0.005, 0.010), vent_turns=float(rng.choice([2, 3, 4, 5, 6])), vent_exponent=u(0.9, 1.6),
        entrained=u(1.5, 4.0), plug_m=u(0.035, 0.08), suction_s=u(0.4, 1.1),
    )


def _vent_is_quiet(channel: Channel, opening: float) -> bool:
    """Tell whether the level rises with the film's flow (else it flushes) and the tap does not hiss."""
    last_m, fastest_m_s = -1.0, 0.0
    for flow_m3_s in (np.linspace(0.15, 1.15, 12) * channel.gurgle_m3_s).tolist():
        suction_pa = channel.suction_pa(flow_m3_s, opening)
        fastest_m_s = air_m_s(suction_pa)
        level_m = (flow_m3_s / channel.crest_m1_5_s) ** (2 / 3) - suction_pa / PA_A_METRE
        if level_m <= last_m:
            return False
        last_m = level_m
    return fastest_m_s < HISS_M_S
