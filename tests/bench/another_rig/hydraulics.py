"""The laws of the parts: what return line, siphon, open channel and emergency pass at a level and a setting.

Frozen measures in SI units; heights are over the floor of the overflow box. The coefficients are an installation's own
and unknown to the program: a rig file tells of the measures only.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

G_M_S2 = 9.81
AIR_KG_M3 = 1.18
PA_A_METRE = 1000 * G_M_S2
LITRES_AN_HOUR = 3.6e6  # in one m3/s
LEAST_AREA = 0.004  # of a shut valve, as a share of its bore: the solver needs a flow
PIPES_IN_BOX = 3
PIPE_OUTSIDE_M = 0.033


def circle_m2(diameter_m: float) -> float:
    return math.pi / 4 * diameter_m**2


def air_m_s(suction_pa: float) -> float:
    """Return how fast the air comes through an opening under a suction."""
    return math.sqrt(2 * max(suction_pa, 0) / AIR_KG_M3)


def overlap(shift: float) -> float:
    """Return the shared part of two equal circles whose centres are ``2 * shift`` radii apart, as a share of one."""
    s = min(max(shift, 0.0), 1.0)
    return 2 / math.pi * (math.acos(s) - s * math.sqrt(1 - s * s))


@dataclass
class Valve:
    """A gate or ball valve; the plug lags behind the handle by the play, and a hand never turns quite what it means.

    Settings are turns of a gate valve and degrees of a ball valve, from shut.
    """

    kind: Literal["gate", "ball"]
    full: float
    contraction: float
    play: float
    hand_sd: float
    dead_share: float = 0.0  # gate: of the travel, before the wedge lifts
    shut_degrees: float = 90.0  # ball: from open, at which the bore is shut
    handle: float = 0.0
    plug: float = 0.0

    def area_share(self, setting: float) -> float:
        if self.kind == "gate":
            lift = (setting / self.full - self.dead_share) / (1 - self.dead_share)
            return max(1 - overlap(min(max(lift, 0.0), 1.0)), LEAST_AREA)
        turned = math.radians(90 - setting)
        return max(overlap(math.sin(turned / 2) / math.sin(math.radians(self.shut_degrees / 2))), LEAST_AREA)

    def loss(self, setting: float | None = None) -> float:
        """Return the loss coefficient at a setting, by default where the plug is."""
        a = self.area_share(self.plug if setting is None else setting)
        sudden = (1 / (a * (self.contraction + (1 - self.contraction) * a**3)) - 1) ** 2
        return 0.12 + sudden * (1.0 if self.kind == "gate" else 1.5)

    def turn(self, amount: float) -> float:
        """Turn the handle within its travel and return by how much it went."""
        before = self.handle
        self.handle = min(max(self.handle + amount, 0.0), self.full)
        self.plug = min(max(self.plug, self.handle - self.play / 2), self.handle + self.play / 2)
        return self.handle - before


@dataclass(frozen=True)
class ReturnLine:
    """The return pump and its line up to the nozzles; the pump's curve is a parabola that shrinks with the speed."""

    static_head_m: float
    shutoff_head_m: float
    free_flow_m3_s: float
    line_diameter_m: float
    line_run_m: float
    elbows: int
    nozzles: int
    nozzle_diameter_m: float
    variable: bool
    speed: float
    speed_step: float

    def flow_m3_s(self, speed: float) -> float:
        """Return the flow at which the pump's curve meets the line's."""
        line_m2 = circle_m2(self.line_diameter_m)
        nozzle_m2 = circle_m2(self.nozzle_diameter_m) * self.nozzles
        friction = 0.5 + 0.8 * self.elbows + 0.026 * self.line_run_m / self.line_diameter_m
        k = friction / (2 * G_M_S2 * line_m2 * line_m2) + 1.1 / (2 * G_M_S2 * nozzle_m2 * nozzle_m2)
        head_m = self.shutoff_head_m * speed**2 - self.static_head_m
        return math.sqrt(max(head_m, 0.0) / (self.shutoff_head_m / self.free_flow_m3_s**2 + k))


@dataclass(frozen=True)
class Box:
    """The overflow box with the heights in it, and the display tank with the weir that feeds it."""

    length_m: float
    width_m: float
    depth_m: float
    siphon_inlet_m: float
    crest_m: float  # where the open channel begins to take water
    mouth_m: float  # below which its mouth lets air in
    rim_m: float
    weir_m: float
    weir_length_m: float
    weir_open_share: float
    tank_length_m: float
    tank_width_m: float

    @cached_property
    def surface_m2(self) -> float:
        return self.length_m * self.width_m - PIPES_IN_BOX * math.pi / 4 * PIPE_OUTSIDE_M**2

    @cached_property
    def tank_m2(self) -> float:
        return self.tank_length_m * self.tank_width_m

    def weir_head_m(self, flow_m3_s: float) -> float:
        return (flow_m3_s / (1.84 * self.weir_length_m * self.weir_open_share)) ** (2 / 3)


@dataclass(frozen=True)
class Siphon:
    """The full pipe with the valve; ``drop_m`` counts from the channel's crest."""

    crest_m: float
    drop_m: float
    diameter_m: float
    inlet_diameter_m: float
    run_m: float
    elbows: int
    elbow_loss: float

    @cached_property
    def content_m3(self) -> float:
        return circle_m2(self.diameter_m) * self.run_m

    def loss(self, valve_loss: float) -> float:
        entry = 0.5 * (self.diameter_m / self.inlet_diameter_m) ** 4
        return entry + 1.0 + self.elbow_loss * self.elbows + valve_loss + 0.023 * self.run_m / self.diameter_m

    def capacity_m3_s(self, level_m: float, loss: float) -> float:
        """Return what it passes without air in it."""
        head_m = max(self.drop_m + level_m - self.crest_m, 0.01)
        return circle_m2(self.diameter_m) * math.sqrt(2 * G_M_S2 * head_m / loss)


@dataclass(frozen=True)
class AirCore:
    """How the siphon comes by air: a core from the surface reaches its inlet, and what it swallowed is swept out."""

    reaches_m: float  # submergence of the inlet at which it does
    lets_go_m: float
    swallowed_share: float  # air in what the siphon takes while it gulps
    sweep: float  # passages of the siphon's content that clear it
    purge_s: float  # at most, with the level over the crest


@dataclass(frozen=True)
class Channel:
    """The open channel: a film on the wall that drags air down, which the vent tap lets in."""

    drop_m: float
    diameter_m: float
    run_m: float
    elbows: int
    elbow_loss: float
    crest_width_m: float
    gurgle_froude: float
    vent_diameter_m: float
    vent_turns: float
    vent_exponent: float
    entrained: float  # air dragged down, as a share of the film's flow
    plug_m: float  # water column that the film's plugs can draw
    suction_s: float

    @cached_property
    def area_m2(self) -> float:
        return circle_m2(self.diameter_m)

    @cached_property
    def gurgle_m3_s(self) -> float:
        return self.gurgle_froude * math.sqrt(G_M_S2 * self.diameter_m) * self.area_m2

    @cached_property
    def crest_m1_5_s(self) -> float:
        return 0.6 * 2 / 3 * math.sqrt(2 * G_M_S2) * self.crest_width_m

    def froude(self, flow_m3_s: float) -> float:
        return flow_m3_s / self.area_m2 / math.sqrt(G_M_S2 * self.diameter_m)

    def vent_bore_m(self, opening: float) -> float:
        """Return the diameter of the tap's opening at a share of its travel."""
        return self.vent_diameter_m * math.sqrt(max(opening, 1e-4) ** self.vent_exponent)

    def vent_passes(self, opening: float) -> float:
        """Return the air through the tap in m3/s at 1 Pa; it grows with the pressure's root."""
        area_m2 = circle_m2(self.vent_diameter_m) * max(opening, 1e-4) ** self.vent_exponent
        return 0.61 * area_m2 * math.sqrt(2 / AIR_KG_M3)

    def suction_pa(self, flow_m3_s: float, opening: float) -> float:
        """Return the steady pressure under the atmosphere at the channel's top, where film and tap agree on the air."""
        if flow_m3_s < 1e-8:
            return 0.0
        froude = self.froude(flow_m3_s)
        air_m3_s = self.entrained * flow_m3_s / (1 + (froude / 0.5) ** 2)
        most_pa = PA_A_METRE * min(self.plug_m * (froude / 0.3) ** 2, 0.5 * self.drop_m)
        passes = self.vent_passes(opening)
        a = air_m3_s / most_pa
        root = (-passes + math.sqrt(passes * passes + 4 * a * air_m3_s)) / (2 * a)
        return root * root

    def flow_m3_s(self, head_m: float) -> float:
        """Return what goes over the crest, or through the full pipe where that is less."""
        if head_m <= 0:
            return 0.0
        over_crest = self.crest_m1_5_s * head_m**1.5
        if head_m <= 0.02:
            return over_crest
        k = 1.8 + self.elbow_loss * self.elbows + 0.025 * self.run_m / self.diameter_m
        return min(over_crest, self.area_m2 * math.sqrt(2 * G_M_S2 * head_m / k))


@dataclass(frozen=True)
class Emergency:
    """The dry pipe: a round weir at its rim, an orifice once it is covered."""

    diameter_m: float
    elbows: int

    def flow_m3_s(self, over_rim_m: float) -> float:
        if over_rim_m <= 0:
            return 0.0
        weir = 0.4 * math.sqrt(2 * G_M_S2) * math.pi * self.diameter_m * over_rim_m**1.5
        return min(weir, 0.6 * math.pi / 4 * self.diameter_m**2 * math.sqrt(2 * G_M_S2 * over_rim_m))


@dataclass(frozen=True)
class Unrest:
    """Waves on the box, the film's own unrest and the pump's wander: deviations and how long they hold."""

    wave_m: float
    wave_s: float
    film_share: float
    film_s: float
    wander_share: float
    wander_s: float


@dataclass(frozen=True)
class Installation:
    """All that was built. Openings are shares of the vent tap's travel; capacities are shares of the flow supplied."""

    line: ReturnLine
    box: Box
    siphon: Siphon
    core: AirCore
    channel: Channel
    emergency: Emergency
    unrest: Unrest
    siphon_outlet_m: float
    channel_outlet_m: float
    flow_m3_s: float  # as drawn, before anything is touched
    overfull_share: float  # siphon capacity at the crest above which it comes to draw air
    vent_quiet: float  # narrowest opening without a flush
    vent_torn: float  # wider than this, air tears the film


def gurgle_share(channel: Channel, unrest: Unrest, flow_m3_s: float) -> float:
    """Return the siphon capacity below which the channel's film, with its unrest, passes the gurgle limit."""
    return 1 + 2 * unrest.wander_share - channel.gurgle_m3_s * (1 - 2.7 * unrest.film_share) / flow_m3_s


def setting_for(siphon: Siphon, valve: Valve, capacity_m3_s: float) -> float | None:
    """Return the valve setting at which the siphon takes so much with the level at the crest; None if none does."""

    def capacity(setting: float) -> float:
        return siphon.capacity_m3_s(siphon.crest_m, siphon.loss(valve.loss(setting)))

    low, high = 0.0, valve.full
    if capacity(high) < capacity_m3_s:
        return None
    for _ in range(50):
        middle = (low + high) / 2
        if capacity(middle) < capacity_m3_s:
            low = middle
        else:
            high = middle
    return high
