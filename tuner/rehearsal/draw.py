"""Draws installations: a tank, its plumbing, its pump and its habits, that a careful keeper could have built.

A layout is drawn first, as a ``Rig`` with every measure known. The true plumbing is then one draw from what that
description allows (3 % per measure, handbook spreads for the model's parameters), so that the keeper's figures are
wrong by what a tape measure gets wrong. Last, some figures of the description are forgotten. Layouts that cannot run
quietly with the valve part open are drawn again. The ranges are common practice and have no source.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tuner.errors import ConfigError
from tuner.rehearsal.installation import (
    ChannelHabit,
    Installation,
    ReturnHabit,
    Settings,
    SiphonHabit,
    SumpHabit,
    WeirHabit,
)
from tuner.rehearsal.layout import draw_layout, forget
from tuner.rig import Rig
from tuner.water import laws
from tuner.water.intake import submergence_hecker_m
from tuner.water.pipes import pipe_area_m2
from tuner.water.plumbing import Plumbing, one_of, sample_plumbing
from tuner.water.regimes import froude

MIDDLE_SHARE = 0.6
"""Share of the gurgling flow that the open channel of a well tuned installation carries."""

REAL_FILM_SHARE = 0.15
"""A film below this share of the gurgling flow is too thin to be heard breaking up."""

_TRIES = 400
_OPENINGS = (0.12, 0.75)
_LEAST_SIPHON_FROUDE = 0.75  # slower, a siphon does not sweep its own air out at a start
_LEAST_WINDOW_DEG = 0.4
_LEAST_WINDOW_TURN = 0.03
_SPLASHING_SHARE, _SHALLOWEST = 0.4, 0.1  # boxes heard as they sink, from this share of the way to the inlet on
_MOST_BROKEN_SHARE = 0.85  # a siphon that draws air loses some of its flow


@dataclass(frozen=True, slots=True)
class Window:
    """The quiet window of an installation, as valve openings (0-1), and the flows that bound it (m3/s).

    Below ``gurgle_edge`` the open channel carries more than ``gurgle_m3_s``; above ``trickle_edge`` its film breaks
    up (or, where the tap is closed enough, it is the film's end); above ``film_edge`` it is dry and from
    ``slurp_edge`` on the siphon draws air. ``middle`` carries ``MIDDLE_SHARE`` of the gurgling flow in the channel;
    with that flow the tap is quiet between ``vent_hiss_edge`` and ``vent_trickle_edge`` (openings, 0-1).
    """

    gurgle_edge: float
    middle: float
    trickle_edge: float
    film_edge: float
    slurp_edge: float
    vent_hiss_edge: float
    vent_trickle_edge: float
    supply_m3_s: float
    gurgle_m3_s: float


def opening_for(p: Plumbing, siphon_m3_s: float, level_m: float) -> float:
    """Return the valve opening for a siphon flow at a box level: 1 where even the open valve carries less."""
    if siphon_m3_s <= 0.0:
        return 0.0
    opening = float(laws.opening_for_siphon_flow(p, siphon_m3_s, level_m))
    return 1.0 if np.isnan(opening) else opening


def channel_level_m(p: Plumbing, channel_m3_s: float, vent: float) -> float:
    """Return the box level at which the channel carries a flow with the tap open by ``vent``."""
    suction_m = float(laws.vent_suction_m(p, channel_m3_s, vent))
    return float(laws.channel_level_m(p, channel_m3_s, min(suction_m, float(p.vent_siphon_head_m))))


def window_of(p: Plumbing, settings: Settings) -> Window:
    """Return the quiet window at the vent and speeds of ``settings``."""
    supply = float(laws.supply_flow_m3_s(p, settings.speeds))
    gurgle = float(laws.gurgle_flow_m3_s(p))
    crest_m = float(p.crest_height_m)
    gulp_m = float(laws.gulp_level_m(p, supply))
    breaking = float(laws.channel_flow_at_suction_m3_s(p, settings.vent, p.breakup_head_m))
    thin = min(max(breaking, REAL_FILM_SHARE * gurgle), gurgle)
    middle = MIDDLE_SHARE * gurgle
    return Window(
        gurgle_edge=opening_for(p, supply - gurgle, channel_level_m(p, gurgle, settings.vent)),
        middle=opening_for(p, supply - middle, channel_level_m(p, middle, settings.vent)),
        trickle_edge=opening_for(p, supply - thin, channel_level_m(p, thin, settings.vent)),
        film_edge=opening_for(p, supply, crest_m),
        slurp_edge=opening_for(p, supply, min(gulp_m, crest_m)),
        vent_hiss_edge=vent_for_suction(p, middle, quiet_suction_m(p)),
        vent_trickle_edge=min(1.0, vent_for_suction(p, middle, float(p.breakup_head_m))),
        supply_m3_s=supply,
        gurgle_m3_s=gurgle,
    )


def vent_for_suction(p: Plumbing, channel_m3_s: float, suction_m: float) -> float:
    """Return the tap opening that holds a suction; above 1 when the hole is too small."""
    return float(laws.vent_opening_for_suction(p, channel_m3_s, suction_m))


def vent_for_film(p: Plumbing, channel_m3_s: float) -> float:
    """Return the tap opening at which a channel flow, even a gurgling one, neither hisses nor runs away to a siphon."""
    head_m = float(laws.channel_level_m(p, channel_m3_s, 0.0) - p.crest_height_m)
    return vent_for_suction(p, channel_m3_s, min(0.6 * quiet_suction_m(p), 0.15 * head_m))


def quiet_suction_m(p: Plumbing) -> float:
    """Return the suction above which the vent is heard: it hisses, or the channel turns into a siphon."""
    return min(float(laws.hiss_suction_m(p)), float(p.vent_siphon_head_m))


def draw_installation(rng: np.random.Generator) -> Installation:
    """Draw an installation that is tuned: valve in mid-window, vent quiet, all habits healthy.

    Raises
    ------
    ConfigError
        When no layout fits after many tries (never seen; it would mean that the ranges contradict each other).
    """
    for _ in range(_TRIES):
        layout = draw_layout(rng)
        made = None if layout is None else install(layout, rng)
        if made is not None:
            return made
    raise ConfigError(f"tries={_TRIES} must be enough to draw an installation: the ranges contradict each other")


def install(layout: Rig, rng: np.random.Generator) -> Installation | None:
    """Draw the true installation behind a description, tuned; None when this draw has no comfortable window."""
    p = one_of(sample_plumbing(layout, rng, 1), 0)
    settings = _tuned(p, layout, rng)
    if settings is None:
        return None
    return Installation(
        plumbing=p,
        siphon=_siphon_habit(p, settings, rng),
        channel=ChannelHabit(
            fill_s=float(rng.uniform(0.5, 1.6)),
            break_s=float(rng.uniform(0.3, 0.9)),
            break_depth_m=float(rng.uniform(0.001, 0.008)),
            suction_lag_s=float(rng.uniform(0.3, 1.0)),
        ),
        returns=_return_habit(p, layout, settings, rng),
        sump=_sump_habit(p, rng),
        weir=_weir_habit(p, rng),
        settings=settings,
        rig=forget(layout, settings, rng),
    )


def _tuned(p: Plumbing, layout: Rig, rng: np.random.Generator) -> Settings | None:
    """Return settings in mid-window, or None when this plumbing has no comfortable one."""
    if float(p.broken_share) > _MOST_BROKEN_SHARE:
        return None
    speeds = tuple(pump.speed for pump in layout.pumps)
    gurgle = float(laws.gurgle_flow_m3_s(p))
    # Suction grows as the flow squared and lowers the level: above a quarter of the crest's head the film runs away.
    steady_m = 0.18 * float(laws.channel_level_m(p, gurgle, 0.0) - p.crest_height_m)
    suction_m = min(float(rng.uniform(0.33, 0.65)) * quiet_suction_m(p), steady_m)
    if MIDDLE_SHARE**2 * suction_m < 1.25 * float(p.breakup_head_m):
        return None
    vent = vent_for_suction(p, gurgle, suction_m)
    if not 0.08 <= vent <= 0.8:
        return None
    settings = Settings(valve=0.0, vent=vent, speeds=speeds)
    w = window_of(p, settings)
    if not (_OPENINGS[0] <= w.middle <= _OPENINGS[1] and w.gurgle_edge < w.middle < w.film_edge < 1.0):
        return None
    width = (w.film_edge - w.gurgle_edge) * float(p.valve_full)
    if width < (_LEAST_WINDOW_DEG if p.valve_kind == "ball" else _LEAST_WINDOW_TURN):
        return None
    if float(froude(w.supply_m3_s, p.siphon_diameter_m)) < _LEAST_SIPHON_FROUDE:
        return None
    if 2.5 * float(p.pump_swing) * w.supply_m3_s > w.gurgle_m3_s:
        return None
    if float(laws.channel_level_m(p, 1.05 * gurgle, 0.0)) > float(p.emergency_rim_height_m) - 0.004:
        return None
    gulp_m = float(p.siphon_inlet_height_m + p.gulp_share * submergence_hecker_m(
        w.supply_m3_s, p.siphon_inlet_diameter_m))
    if gulp_m + float(p.regain_rise_m) > float(p.crest_height_m) - 0.004:
        return None
    if float(p.channel_inlet_height_m) < gulp_m - 0.02:
        return None
    return Settings(valve=w.middle, vent=vent, speeds=speeds)


def _siphon_habit(p: Plumbing, settings: Settings, rng: np.random.Generator) -> SiphonHabit:
    below_m = float(rng.uniform(0.005, 0.04))
    supply = float(laws.supply_flow_m3_s(p, settings.speeds))
    # A siphon that does not sweep its air out at 0.4 of its flow would not restart by itself.
    slowest = min(0.5, 0.40 * float(froude(supply, p.siphon_diameter_m)))
    return SiphonHabit(
        gulp_lag_s=float(rng.uniform(0.15, 0.5)),
        crown_height_m=max(float(p.crest_height_m) - below_m, float(p.siphon_inlet_height_m) + 0.01),
        bleed_hole_m=float(p.bleed_hole_m),
        sweep_froude=float(rng.uniform(0.25, slowest)),
        sweep_share=float(rng.uniform(0.15, 0.35)),
        surge_period_s=float(np.exp(rng.uniform(np.log(1.5), np.log(8.0)))),
    )


def _return_habit(p: Plumbing, layout: Rig, settings: Settings, rng: np.random.Generator) -> ReturnHabit:
    r = layout.returns
    nozzle_m = float(p.nozzle_depth_m)
    hole_m = float(p.siphon_break_depth_m)
    line_m3 = float(pipe_area_m2(r.line_diameter_m)) * r.line_run_m * len(layout.pumps)
    back = 0.7 * np.sqrt(float(p.static_head_m) / float(p.line_loss)) * len(layout.pumps)
    mains_hz = float(rng.choice([50.0, 60.0]))
    synchronous = layout.pumps[0].speed_step == 0.0
    return ReturnHabit(
        start_s=float(rng.uniform(0.5, 3.0)),
        swing_period_s=float(np.exp(rng.uniform(np.log(20.0), np.log(300.0)))),
        line_m3=line_m3,
        back_flow_m3_s=float(back),
        nozzle_depth_m=nozzle_m,
        break_depth_m=nozzle_m if np.isnan(hole_m) else min(nozzle_m, hole_m),
        entrain_depth_m=float(rng.uniform(0.2, 0.5)) * nozzle_m,
        hum=float(np.exp(rng.uniform(np.log(0.02), np.log(0.12)))),
        rattle=0.0,
        mains_hz=mains_hz,
        shaft_hz=mains_hz if synchronous else float(rng.uniform(25.0, 60.0)) * settings.speeds[0],
        gust_s=float(np.exp(rng.uniform(np.log(0.6), np.log(4.0)))),
    )


def _weir_habit(p: Plumbing, rng: np.random.Generator) -> WeirHabit:
    """Draw a sheet that clings while the box stands at the crest; some come off the wall where the box sinks."""
    drawn = float(rng.uniform())
    if drawn >= _SPLASHING_SHARE:
        return WeirHabit(cling_m=float(p.weir_height_m - p.siphon_inlet_height_m) + 0.05 * drawn)
    way = _SHALLOWEST + (1.0 - _SHALLOWEST) * drawn / _SPLASHING_SHARE
    deep_m = way * float(p.crest_height_m - p.siphon_inlet_height_m)
    return WeirHabit(cling_m=float(p.weir_height_m - p.crest_height_m) + deep_m)


def _sump_habit(p: Plumbing, rng: np.random.Generator) -> SumpHabit:
    share = float(rng.uniform(0.25, 0.5))
    fall_m = float(rng.uniform(0.01, 0.04))
    chamber_m2 = share * float(p.sump_area_m2)
    # A keeper leaves water for a tank that stands some millimetres higher after a change of speed.
    spare_m = 0.004 * float(p.tank_area_m2) / chamber_m2
    return SumpHabit(
        chamber_share=share,
        short_m3=fall_m * chamber_m2,
        intake_m=fall_m + spare_m + float(rng.uniform(0.03, 0.08)),
    )
