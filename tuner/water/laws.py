"""The laws of flow of one plumbing, shared by the balance, the flood check and the rehearsal rig.

Levels are of the box, above its floor; ``opening`` is the valve's setting over its full setting, 0-1, and
``vent_opening`` that of the air tap. Every figure may be an array of shape (n,). The formulas and their
sources are in the modules named after their subject; here they are put together.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from tuner.water.air import AIR_DENSITY_KG_M3, hole_pressure_pa, jet_speed_m_s, pressure_as_water_m
from tuner.water.intake import submergence_hecker_m
from tuner.water.pipes import GRAVITY_M_S2, full_pipe_flow_m3_s, loss_k_for_flow, pipe_area_m2
from tuner.water.plumbing import Figure, Plumbing
from tuner.water.pumps import operating_flow_m3_s
from tuner.water.regimes import flow_at_froude_m3_s, froude
from tuner.water.rim import crest_flow_m3_s, crest_head_m, rim_flow_m3_s, rim_head_m
from tuner.water.valves import valve_loss_k, valve_opening_for_k


def supply_flow_m3_s(p: Plumbing, speeds: Sequence[Figure], branches_run: bool = False) -> Figure:
    """Return the flow that all pumps together send into the tank at ``speeds`` (share of full speed, one each).

    Each pump has a return line of its own: h0 s^2 - b Q^2 = static head + line loss Q^2 (curve H = h0 - b Q^2,
    scaled by the affinity laws H ~ s^2, Q ~ s). A pump too slow for the static head gives nothing.
    ``branches_run`` takes off the flow of part-time loops.
    """
    total: Any = 0.0
    for shutoff, loss, branch, speed in zip(
        p.pump_shutoff_m, p.pump_loss, p.pump_branch_m3_s, speeds, strict=True
    ):
        flow = operating_flow_m3_s(shutoff, loss, p.static_head_m, p.line_loss, speed)
        total = total + (np.maximum(flow - branch, 0.0) if branches_run else flow)
    return total


def siphon_head_m(p: Plumbing, level_m: Figure) -> Figure:
    """Return the head on the siphon: box level down to the sump surface, or to an outlet that ends above it."""
    return level_m - p.crest_height_m + p.siphon_drop_m + np.minimum(p.siphon_outlet_depth_m, 0.0)


def siphon_flow_m3_s(p: Plumbing, level_m: Figure, opening: Figure) -> Figure:
    """Return the flow of the siphon running full at a box level and valve opening."""
    k = p.siphon_loss_k + valve_loss_k(p.valve_kind, opening, p.valve_deviation)
    return full_pipe_flow_m3_s(
        siphon_head_m(p, level_m), p.siphon_diameter_m, p.siphon_length_m, k, p.viscosity_m2_s
    )


def opening_for_siphon_flow(p: Plumbing, flow_m3_s: Figure, level_m: Figure) -> Figure:
    """Return the valve opening at which the full siphon carries ``flow_m3_s``; NaN where the open valve cannot."""
    k = loss_k_for_flow(
        flow_m3_s, siphon_head_m(p, level_m), p.siphon_diameter_m, p.siphon_length_m, p.viscosity_m2_s
    )
    return valve_opening_for_k(p.valve_kind, k - p.siphon_loss_k, p.valve_deviation)


def gulp_level_m(p: Plumbing, siphon_flow: Figure) -> Figure:
    """Return the box level at which the siphon's inlet draws air: a share of Hecker's submergence over the inlet."""
    depth = p.gulp_share * submergence_hecker_m(siphon_flow, p.siphon_inlet_diameter_m)
    return p.siphon_inlet_height_m + depth


def channel_crest_flow_m3_s(p: Plumbing, level_m: Figure, suction_m: Figure) -> Figure:
    """Return the flow over the crest of the vented open channel; the suction in its elbow adds to the head."""
    return p.crest_share * crest_flow_m3_s(level_m - p.crest_height_m + suction_m, p.channel_diameter_m)


def channel_level_m(p: Plumbing, channel_flow: Figure, suction_m: Figure) -> Figure:
    """Return the box level at which ``channel_flow`` runs over the crest: inverse of ``channel_crest_flow_m3_s``."""
    return p.crest_height_m + crest_head_m(channel_flow / p.crest_share, p.channel_diameter_m) - suction_m


def channel_siphon_flow_m3_s(p: Plumbing, level_m: Figure) -> Figure:
    """Return the flow of the open channel when it runs full, as a second siphon."""
    head = level_m - p.crest_height_m + p.channel_drop_m + np.minimum(p.channel_outlet_depth_m, 0.0)
    return full_pipe_flow_m3_s(head, p.channel_diameter_m, p.channel_length_m, p.channel_loss_k, p.viscosity_m2_s)


def vent_suction_m(p: Plumbing, channel_flow: Figure, vent_opening: Figure) -> Figure:
    """Return the under-pressure in the channel's elbow, as metres of water.

    The film takes ``film_air_ratio`` volumes of air along per volume of water; the air comes through the tap,
    whose area is its opening times the hole's. The suction never exceeds the weight of the water in the leg,
    the channel's drop: that bound stands for a closed tap, which would give infinity.
    """
    area = pipe_area_m2(p.vent_hole_m) * vent_opening
    pressure = hole_pressure_pa(p.film_air_ratio * channel_flow, area, p.vent_discharge)
    return np.minimum(pressure_as_water_m(pressure, p.density_kg_m3), p.channel_drop_m)


def vent_jet_m_s(p: Plumbing, suction_m: Figure) -> Figure:
    """Return the speed of the air behind the tap at a suction."""
    return jet_speed_m_s(suction_m * p.density_kg_m3 * GRAVITY_M_S2)


def hiss_suction_m(p: Plumbing) -> Figure:
    """Return the suction from which the tap hisses."""
    return pressure_as_water_m(AIR_DENSITY_KG_M3 / 2 * p.hiss_jet_m_s**2, p.density_kg_m3)


def vent_opening_for_suction(p: Plumbing, channel_flow: Figure, suction_m: Figure) -> Figure:
    """Return the tap opening that holds ``suction_m`` at a channel flow; above 1 when the hole is too small."""
    at_full = vent_suction_m(p, channel_flow, 1.0)
    return np.sqrt(at_full / suction_m)


def channel_flow_at_suction_m3_s(p: Plumbing, vent_opening: Figure, suction_m: Figure) -> Figure:
    """Return the channel flow at which a tap opening brings about ``suction_m``."""
    area = pipe_area_m2(p.vent_hole_m) * vent_opening
    speed = jet_speed_m_s(suction_m * p.density_kg_m3 * GRAVITY_M_S2)
    return p.vent_discharge * area * speed / p.film_air_ratio


def channel_froude(p: Plumbing, channel_flow: Figure) -> Figure:
    """Return the Froude number of the open channel."""
    return froude(channel_flow, p.channel_diameter_m)


def gurgle_flow_m3_s(p: Plumbing) -> Figure:
    """Return the channel flow from which it gurgles."""
    return flow_at_froude_m3_s(p.quiet_froude, p.channel_diameter_m)


def emergency_flow_m3_s(p: Plumbing, level_m: Figure) -> Figure:
    """Return the flow into the emergency pipe, counted as unprimed."""
    return p.rim_share * rim_flow_m3_s(level_m - p.emergency_rim_height_m, p.emergency_diameter_m)


def emergency_full_flow_m3_s(p: Plumbing, level_m: Figure) -> Figure:
    """Return the flow of the emergency pipe if it primes, once the water stands a bore over its rim; unprimed below."""
    over = level_m - p.emergency_rim_height_m
    full = full_pipe_flow_m3_s(
        over + p.emergency_drop_m, p.emergency_diameter_m, p.emergency_length_m, p.emergency_loss_k, p.viscosity_m2_s
    )
    return np.where(over >= p.emergency_diameter_m, full, emergency_flow_m3_s(p, level_m))


def emergency_level_m(p: Plumbing, emergency_flow: Figure) -> Figure:
    """Return the box level at which the emergency pipe carries a flow: inverse of ``emergency_flow_m3_s``."""
    return p.emergency_rim_height_m + rim_head_m(emergency_flow / p.rim_share, p.emergency_diameter_m)


def slurp_period_s(p: Plumbing, supply: Figure, opening: Figure) -> Figure:
    """Return the time between two gulps of an over-open siphon; infinite where it does not gulp.

    The level falls by ``regain_rise_m`` at the mismatch between siphon and supply, then rises again while the
    siphon, drawing air, carries only ``broken_share`` of its flow. A siphon whose broken flow still exceeds
    the supply keeps drawing air without a period.
    """
    level = p.siphon_inlet_height_m + 0.5 * (p.crest_height_m - p.siphon_inlet_height_m)
    full = siphon_flow_m3_s(p, level, opening)
    volume = p.box_area_m2 * p.regain_rise_m
    gulp = siphon_flow_m3_s(p, gulp_level_m(p, full), opening)
    fall, rise = gulp - supply, supply - p.broken_share * gulp
    cyclic = (fall > 0) & (rise > 0)
    safe_fall, safe_rise = np.where(cyclic, fall, 1.0), np.where(cyclic, rise, 1.0)
    return np.where(cyclic, volume / safe_fall + volume / safe_rise, np.inf)
