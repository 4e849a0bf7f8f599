"""One simulated installation: the numbers that the laws need, and what the laws leave open.

The laws (``tuner.water.laws``) say what a pipe carries. How a siphon gulps, how long a pocket of air holds out, how
fast a pump spins up and how strongly a cabinet hums differ from one household to the next; no handbook has them,
so they are drawn (``draw``) from ranges that keepers report. Heights are metres above the box floor.
"""

from __future__ import annotations

from dataclasses import dataclass

from tuner.rig import Rig
from tuner.water.plumbing import Plumbing


@dataclass(frozen=True, slots=True, kw_only=True)
class SiphonHabit:
    """How this siphon gets rid of its air, beside what the plumbing says of its gulps.

    ``gulp_lag_s`` is the time in which its flow follows the air that it draws. ``crown_height_m`` is its highest
    inside edge, over which water must spill before it can start. Trapped air leaves through the bleed hole
    (``bleed_hole_m``, as open as it is now), through the outlet, or is swept down once the Froude number of the
    water exceeds ``sweep_froude``, up to ``sweep_share`` volumes of air per volume of water. While air is trapped
    it surges out about every ``surge_period_s``. ``trapped_share`` of the pipe is full of air when the story begins.
    """

    gulp_lag_s: float
    crown_height_m: float
    bleed_hole_m: float
    sweep_froude: float
    sweep_share: float
    surge_period_s: float
    trapped_share: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelHabit:
    """How the open channel turns into a siphon and back.

    ``fill_s`` is the time in which it fills, ``break_s`` the time in which it breaks, ``break_depth_m`` the water
    over its mouth at which it does; ``suction_lag_s`` the time in which the vent's suction follows the film.
    """

    fill_s: float
    break_s: float
    break_depth_m: float
    suction_lag_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ReturnHabit:
    """The pump, its line and its nozzle.

    ``start_s`` is the pump's run-up, ``swing_period_s`` the period of its slow wander, ``line_m3`` the water in the
    line, ``back_flow_m3_s`` the flow back when it stops. ``nozzle_depth_m`` is the depth of the nozzle mouth under
    the running surface and ``break_depth_m`` that of the hole or mouth that ends the flow back. The nozzle draws air
    when less than ``entrain_depth_m`` of water covers it. ``hum`` and ``rattle`` are what the pump gives off, as
    drives of its voices at its first speed; air that it draws comes in gusts about every ``gust_s``.
    """

    start_s: float
    swing_period_s: float
    line_m3: float
    back_flow_m3_s: float
    nozzle_depth_m: float
    break_depth_m: float
    entrain_depth_m: float
    hum: float
    rattle: float
    mains_hz: float
    shaft_hz: float
    gust_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SumpHabit:
    """The sump: a drain chamber held by a baffle, and the pump's chamber, which takes every shortage.

    ``chamber_share`` is the pump chamber's share of the surface, ``short_m3`` the water missing from a chamber
    filled to the baffle while all runs, ``intake_m`` how far below the baffle the chamber may fall before the pump
    draws air.
    """

    chamber_share: float
    short_m3: float
    intake_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WeirHabit:
    """The fall into the box: silent while it clings to the wall, up to a fall of ``cling_m``.

    Where that is less than the way down to the siphon's inlet, a box that sinks is heard.
    """

    cling_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """What a keeper can turn: openings as shares of the whole travel, and the speed of every pump."""

    valve: float
    vent: float
    speeds: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Installation:
    """The truth of one rehearsal, and ``rig``, what its keeper measured (and may have measured wrong)."""

    plumbing: Plumbing
    siphon: SiphonHabit
    channel: ChannelHabit
    returns: ReturnHabit
    sump: SumpHabit
    weir: WeirHabit
    settings: Settings
    rig: Rig

    @property
    def falls_far(self) -> bool:
        """Whether water is heard to fall into the box also where that stands at the open channel's crest."""
        p = self.plumbing
        return float(p.weir_height_m - p.crest_height_m) > self.weir.cling_m
