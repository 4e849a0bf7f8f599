"""The water over time: the box's level, air in the siphon, suction in the open channel, all with their unrest.

Stepped plainly in time; what the coach is tuned with takes its balance from another model altogether.
"""

from __future__ import annotations

import copy
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.bench.another_rig.hydraulics import PA_A_METRE, Installation, Valve, air_m_s

STEP_S = 0.04


@dataclass(frozen=True)
class Course:
    """What the water did, one value a step, under one opening of the vent tap."""

    channel_m3_s: NDArray[np.float64]
    froude: NDArray[np.float64]
    suction_m: NDArray[np.float64]
    air_m_s: NDArray[np.float64]  # in the vent tap
    gulping: NDArray[np.bool_]
    air_share: NDArray[np.float64]
    siphon_m3_s: NDArray[np.float64]
    emergency_m3_s: NDArray[np.float64]
    weir_drop_m: NDArray[np.float64]
    supplied_m3_s: NDArray[np.float64]
    broken: NDArray[np.bool_]  # air through the channel's mouth
    vent: float


class Water:
    """An installation with its settings and the state of its water."""

    def __init__(self, installation: Installation, valve: Valve, vent: float, speed: float) -> None:
        self.installation, self.valve, self.vent, self.speed = installation, valve, vent, speed
        self.flow_factor = 1.0
        self.elapsed_s = 0.0
        self.level_m = installation.box.crest_m + 0.004
        self.air_share = self.suction_pa = 0.0
        self.gulping = self.broken = False
        self.supplied_m3_s = self.pump_m3_s()
        self.wave = self.film = self.wander = 0.0  # of unit variance

    def twin(self) -> Water:
        other = copy.copy(self)
        other.valve = copy.copy(self.valve)
        return other

    def pump_m3_s(self) -> float:
        return self.flow_factor * self.installation.line.flow_m3_s(self.speed)

    def capacity_share(self) -> float:
        """Return the siphon's capacity with the level at the crest, as a share of what the pump gives."""
        siphon = self.installation.siphon
        capacity_m3_s = siphon.capacity_m3_s(siphon.crest_m, siphon.loss(self.valve.loss()))
        return capacity_m3_s / self.pump_m3_s() if self.pump_m3_s() > 0 else float("inf")

    def run(self, seconds: float, rng: np.random.Generator) -> Course:
        """Let the water run on with nothing touched."""
        steps = max(round(seconds / STEP_S), 1)
        unrest = self.installation.unrest
        chance = rng.standard_normal((steps, 3))
        keep = [math.exp(-STEP_S / t) for t in (unrest.wave_s, unrest.film_s, unrest.wander_s)]
        fresh = [math.sqrt(1 - k * k) for k in keep]
        target_m3_s, siphon_loss = self.pump_m3_s(), self.installation.siphon.loss(self.valve.loss())
        rows = np.empty((steps, 11))
        for i, (wave, film, wander) in enumerate(chance.tolist()):
            self.wave = keep[0] * self.wave + fresh[0] * wave
            self.film = keep[1] * self.film + fresh[1] * film
            self.wander = keep[2] * self.wander + fresh[2] * wander
            rows[i] = self._step(target_m3_s, siphon_loss)
        self.elapsed_s += steps * STEP_S
        c = rows.T
        return Course(c[0], c[1], c[2], c[3], c[4] > 0, c[5], c[6], c[7], c[8], c[9], c[10] > 0, self.vent)

    def _step(self, target_m3_s: float, siphon_loss: float) -> tuple[float, ...]:
        box, channel = self.installation.box, self.installation.channel
        self._supply(target_m3_s)
        level_m = self.level_m + self.installation.unrest.wave_m * self.wave
        siphon_m3_s = self._siphon(level_m, siphon_loss)
        suction_m = self.suction_pa / PA_A_METRE
        channel_m3_s = self._channel(level_m, suction_m)
        emergency_m3_s = self.installation.emergency.flow_m3_s(level_m - box.rim_m)
        gain_m3_s = self.supplied_m3_s - siphon_m3_s - channel_m3_s - emergency_m3_s
        self.level_m += gain_m3_s * STEP_S / box.surface_m2
        self.level_m = min(max(self.level_m, 0.002), box.depth_m + 0.1)
        return (
            channel_m3_s, channel.froude(channel_m3_s), suction_m, air_m_s(self.suction_pa), self.gulping,
            self.air_share, siphon_m3_s, emergency_m3_s, box.weir_m - level_m, self.supplied_m3_s, self.broken,
        )

    def _supply(self, target_m3_s: float) -> None:
        """Let the flow over the weir follow the pump's: the display's surface smooths it."""
        box = self.installation.box
        smooth_s = box.tank_m2 * box.weir_head_m(self.supplied_m3_s) / (1.5 * self.supplied_m3_s + 1e-9)
        wanted = target_m3_s * (1 + self.installation.unrest.wander_share * self.wander)
        self.supplied_m3_s += (wanted - self.supplied_m3_s) * min(STEP_S / smooth_s, 1.0)

    def _siphon(self, level_m: float, loss: float) -> float:
        """Return what the siphon takes, and let it swallow air or clear itself."""
        siphon, core, box = self.installation.siphon, self.installation.core, self.installation.box
        deep_m = level_m - box.siphon_inlet_m
        self.gulping = deep_m < (core.lets_go_m if self.gulping else core.reaches_m)
        air = self.air_share
        flow_m3_s = siphon.capacity_m3_s(level_m, loss) * math.sqrt(1 - air) * (1 - 0.75 * air)
        if deep_m <= 0.0:
            flow_m3_s = min(flow_m3_s, 0.3 * self.supplied_m3_s)
        if self.gulping:
            swallowed = core.swallowed_share * (1 + max(core.reaches_m - deep_m, 0) / core.reaches_m)
            if deep_m < 0.002:
                swallowed = 0.92
            change = (min(swallowed, 0.92) - air) * flow_m3_s / siphon.content_m3 * 1.5
        else:
            purged = 1 / core.purge_s if level_m > box.crest_m else 0.0
            change = -air * max(flow_m3_s / siphon.content_m3 / core.sweep, purged)
        self.air_share = min(max(air + change * STEP_S, 0.0), 0.95)
        return flow_m3_s

    def _channel(self, level_m: float, suction_m: float) -> float:
        """Return what the channel takes, and let its suction follow the film; air through the mouth breaks it."""
        box, channel = self.installation.box, self.installation.channel
        flow_m3_s = channel.flow_m3_s(level_m - box.crest_m + suction_m)
        flow_m3_s *= 1 + self.installation.unrest.film_share * self.film
        if level_m < box.mouth_m + 0.002 and suction_m > 0.003:
            self.broken = True
        elif level_m > box.mouth_m + 0.006 and suction_m < 0.004:
            self.broken = False
        if self.broken:
            flow_m3_s *= 0.6
        wanted_pa = 0.0 if self.broken else channel.suction_pa(flow_m3_s, self.vent)
        self.suction_pa += (wanted_pa - self.suction_pa) * STEP_S / (0.3 if self.broken else channel.suction_s)
        return flow_m3_s
