"""The quiet window: the settings that keep the siphon full and the open channel self-venting.

Its wide side is the dry edge, where the siphon takes the whole supply and the channel's film ends; beyond it
the level sinks until the siphon draws air (the slurp edge). Its narrow side is the gurgle edge, where the
channel passes its Froude limit (or, at a known tap setting, where it fills and flushes). The pump's slow swing
moves the supply both ways and is taken off both sides.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from tuner.rig import ValveKind
from tuner.water.laws import (
    channel_flow_at_suction_m3_s,
    channel_level_m,
    gulp_level_m,
    gurgle_flow_m3_s,
    hiss_suction_m,
    opening_for_siphon_flow,
    siphon_flow_m3_s,
    supply_flow_m3_s,
    vent_opening_for_suction,
)
from tuner.water.plumbing import Figure, Plumbing

GATE_STEP_TURNS, BALL_STEP_DEGREES = 0.125, 1.0  # the moves whose flow is told
FASTEST = 1.6  # pump speeds are searched up to this multiple of the present ones
SPEED_HALVINGS = 26


@dataclass(frozen=True, slots=True)
class QuietWindow:
    """One window. Figures are floats or arrays (n,); settings in turns (gate) or degrees (ball) from closed.

    A figure is NaN where there is nothing to tell: no window, or an edge that the fully open valve does not
    reach. ``width_m3_s`` is negative where the pump's swing is wider than the window.
    """

    supply_m3_s: Figure
    channel_limit_m3_s: Figure  # channel flow at the gurgle edge
    width_m3_s: Figure
    opening_low: Figure  # gurgle edge, share of full
    opening_high: Figure  # dry edge
    opening_mid: Figure
    setting_low: Figure
    setting_high: Figure
    setting_mid: Figure
    setting_width: Figure
    slurp_setting: Figure
    step_m3_s: Figure  # flow moved by 1/8 turn or 1 degree at the middle
    speed_low: Figure  # multiple of the present speeds, at the valve's middle setting
    speed_high: Figure
    speed_step_m3_s: tuple[Figure, ...]  # flow moved by one step of each pump; 0 for a fixed speed
    vent_low_turns: Figure  # tap: flushing or hissing below
    vent_high_turns: Figure  # tap: film breaking up above; the tap's full travel where it never does
    vent_mid_turns: Figure
    level_m: Figure  # box level mid-window
    siphon_reaches: Figure  # whether the open valve can carry all but the channel's share

    @property
    def exists(self) -> Figure:
        """Whether there is a window at all."""
        return np.isfinite(self.opening_mid)


def step_of(kind: ValveKind) -> float:
    """Return the move whose flow is told: 1/8 turn of a gate valve, 1 degree of a ball valve."""
    return GATE_STEP_TURNS if kind == "gate" else BALL_STEP_DEGREES


def channel_limit_m3_s(p: Plumbing, vent_opening: Figure | None) -> Figure:
    """Return the channel flow at which it stops being self-venting: Froude limit, or flushing at a known tap."""
    limit = gurgle_flow_m3_s(p)
    if vent_opening is None:
        return limit
    return np.minimum(limit, channel_flow_at_suction_m3_s(p, vent_opening, p.vent_siphon_head_m))


def quiet_window(
    p: Plumbing,
    speeds: Sequence[Figure],
    speed_steps: Sequence[float],
    vent_opening: Figure | None = None,
    branches_run: bool = False,
) -> QuietWindow:
    """Return the window at pump speeds (one per pump); ``speed_steps`` are their finest steps, 0 for fixed.

    With ``vent_opening`` (0-1) the channel's limit counts flushing at that tap, without it the tap is taken as
    well set.
    """
    supply = supply_flow_m3_s(p, speeds, branches_run)
    limit = channel_limit_m3_s(p, vent_opening)
    swing = p.pump_swing * supply
    crest, level_at_limit = p.crest_height_m, _quiet_level(p, limit)
    most, least = supply - swing, np.maximum(supply + swing - limit, 1e-9)
    width = most - least
    middle = 0.5 * (most + least)
    level_mid = _quiet_level(p, np.maximum(supply - middle, 0.0))
    reaches = np.asarray(siphon_flow_m3_s(p, level_at_limit, 1.0) >= least)
    there = reaches & (width > 0)
    low = np.where(there, opening_for_siphon_flow(p, least, level_at_limit), np.nan)
    high = np.where(there, _or_full(opening_for_siphon_flow(p, most, crest)), np.nan)
    mid = np.where(there, _or_full(opening_for_siphon_flow(p, middle, level_mid)), np.nan)
    gulp = gulp_level_m(p, np.maximum(supply, 1e-9))
    slurp = opening_for_siphon_flow(p, supply, np.minimum(gulp, crest))
    step = step_of(p.valve_kind) / p.valve_full
    at = np.where(there, mid, 0.5)
    moved = siphon_flow_m3_s(p, level_mid, np.minimum(at + step / 2, 1.0)) - siphon_flow_m3_s(
        p, level_mid, np.maximum(at - step / 2, 0.0)
    )
    carried = siphon_flow_m3_s(p, level_mid, at)
    slow, fast = _speed_edges(p, speeds, carried, limit, branches_run)
    steerable = there & (slow < fast)
    vent_low, vent_high = _vent_edges(p, np.maximum(supply - middle, 1e-9))
    return QuietWindow(
        supply_m3_s=supply, channel_limit_m3_s=limit, width_m3_s=np.where(reaches, width, np.nan),
        opening_low=low, opening_high=high, opening_mid=mid,
        setting_low=low * p.valve_full, setting_high=high * p.valve_full, setting_mid=mid * p.valve_full,
        setting_width=(high - low) * p.valve_full, slurp_setting=slurp * p.valve_full,
        step_m3_s=np.where(there, moved, np.nan),
        speed_low=np.where(steerable, slow, np.nan), speed_high=np.where(steerable, fast, np.nan),
        speed_step_m3_s=_speed_steps(p, speeds, speed_steps, supply, branches_run),
        vent_low_turns=vent_low * p.vent_tap_turns, vent_high_turns=vent_high * p.vent_tap_turns,
        vent_mid_turns=np.sqrt(vent_low * vent_high) * p.vent_tap_turns,
        level_m=level_mid, siphon_reaches=reaches,
    )


def _quiet_level(p: Plumbing, channel: Figure) -> Figure:
    """Return the level at a channel flow under half the siphon head of suction: a well-set tap."""
    return channel_level_m(p, channel, np.minimum(0.5 * p.vent_siphon_head_m, 0.006))


def _or_full(opening: Figure) -> Figure:
    return np.where(np.isnan(opening), 1.0, opening)


def _speed_edges(
    p: Plumbing, speeds: Sequence[Figure], carried: Figure, limit: Figure, branches_run: bool
) -> tuple[Figure, Figure]:
    """Return the multiples of the present speeds at which the channel just runs dry and just gurgles."""
    slowest, fastest = carried / (1 - p.pump_swing), (carried + limit) / (1 + p.pump_swing)
    return _factor_for(p, speeds, slowest, branches_run), _factor_for(p, speeds, fastest, branches_run)


def _factor_for(p: Plumbing, speeds: Sequence[Figure], supply: Figure, branches_run: bool) -> Figure:
    low, high = np.zeros(np.shape(supply)), np.full(np.shape(supply), FASTEST)
    for _ in range(SPEED_HALVINGS):
        middle = 0.5 * (low + high)
        more = supply_flow_m3_s(p, [s * middle for s in speeds], branches_run) < supply
        low, high = np.where(more, middle, low), np.where(more, high, middle)
    return np.where(high < FASTEST, high, np.nan)


def _speed_steps(
    p: Plumbing, speeds: Sequence[Figure], steps: Sequence[float], supply: Figure, branches_run: bool
) -> tuple[Figure, ...]:
    moved: list[Any] = []
    for i, step in enumerate(steps):
        slower = [s - step if j == i else s for j, s in enumerate(speeds)]
        moved.append(supply - supply_flow_m3_s(p, slower, branches_run))
    return tuple(moved)


def _vent_edges(p: Plumbing, channel: Figure) -> tuple[Figure, Figure]:
    """Return the tap openings between which the film holds: hiss or flush below, breaking up above."""
    closest = vent_opening_for_suction(p, channel, np.minimum(hiss_suction_m(p), p.vent_siphon_head_m))
    widest = vent_opening_for_suction(p, channel, p.breakup_head_m)
    return np.where(closest <= 1, closest, np.nan), np.minimum(widest, 1.0)
