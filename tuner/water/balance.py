"""The steady state of the box: what each pipe carries, where the level stands, and how far each edge is.

Supply = siphon + open channel + emergency. Siphon and emergency follow from the level, the level from what
runs over the channel's crest. Two cases have no steady state but a cycle: a siphon that takes more than the
supply until it draws air (gulping), and an open channel that fills and runs as a second siphon (flushing).
Their flows are then means over the cycle, and the level is the one at which the cycle turns.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from tuner.water.laws import (
    channel_froude,
    channel_level_m,
    emergency_flow_m3_s,
    gulp_level_m,
    gurgle_flow_m3_s,
    hiss_suction_m,
    siphon_flow_m3_s,
    siphon_head_m,
    supply_flow_m3_s,
    vent_suction_m,
)
from tuner.water.plumbing import Figure, Plumbing

REAL_FILM_FROUDE = 0.02  # below it the channel carries drops, not a film that could break up
PASSES = 6  # each pass of the fixed point leaves a tenth of the error or less
ILLINOIS_PASSES = 14
CLOSE_M3_S = 2e-8  # 0.07 L/h


@dataclass(frozen=True, slots=True)
class Balance:
    """Steady state of the box. Figures are floats, or arrays of shape (n,) for a sampled plumbing.

    ``to_slurp_m3_s`` is the flow that the open channel has left to give before it runs dry (negative: the siphon
    takes more than comes); ``to_gurgle_m3_s`` what it can still take before it gurgles; ``to_emergency_m`` how
    far the level is below the emergency pipe's rim.
    """

    supply_m3_s: Figure
    siphon_m3_s: Figure
    channel_m3_s: Figure
    emergency_m3_s: Figure
    level_m: Figure
    suction_m: Figure
    froude: Figure
    to_slurp_m3_s: Figure
    to_gurgle_m3_s: Figure
    to_emergency_m: Figure
    gulping: Figure
    dry: Figure
    gurgling: Figure
    breaking_up: Figure
    hissing: Figure
    flushing: Figure

    @property
    def siphon_regime(self) -> Any:
        """The siphon's regime: a word, or an array of words."""
        return _words([self.gulping], ["gulping"], "full")

    @property
    def channel_regime(self) -> Any:
        """The open channel's regime, the loudest that applies: a word, or an array of words."""
        return _words(
            [self.dry, self.flushing, self.gurgling, self.hissing, self.breaking_up],
            ["dry", "flushing", "gurgling", "hissing", "breaking up"],
            "film",
        )

    @property
    def quiet(self) -> Any:
        """Whether the siphon is full, the channel carries a quiet film and the emergency is dry."""
        calm = ~(self.gulping | self.dry | self.flushing | self.gurgling | self.hissing | self.breaking_up)
        return calm & (np.asarray(self.emergency_m3_s) <= 0)


def _words(conditions: list[Any], names: list[str], otherwise: str) -> Any:
    picked = np.select([np.asarray(c) for c in conditions], names, default=otherwise)
    return str(picked) if picked.ndim == 0 else picked


def balance(
    p: Plumbing, speeds: Sequence[Figure], opening: Figure, vent_opening: Figure, branches_run: bool = False
) -> Balance:
    """Return the steady state at pump speeds (one per pump, 0-1), valve opening (0-1) and tap opening (0-1)."""
    return balance_at_supply(p, supply_flow_m3_s(p, speeds, branches_run), opening, vent_opening)


def balance_at_supply(p: Plumbing, supply: Figure, opening: Figure, vent_opening: Figure) -> Balance:
    """Return the steady state at a known flow into the tank."""
    at_crest = siphon_flow_m3_s(p, p.crest_height_m, opening)
    dry = np.asarray(at_crest >= supply)
    channel, level, suction = _over_crest(p, supply, opening, vent_opening)
    level = np.where(dry, _level_of_siphon_alone(p, supply, opening, at_crest), level)
    gulp = gulp_level_m(p, np.maximum(supply, 1e-9))
    gulping = dry & (level <= gulp)
    level = np.where(gulping, gulp, level)
    channel = np.where(dry, 0.0, channel)
    emergency = np.where(dry, 0.0, np.minimum(emergency_flow_m3_s(p, level), supply))
    siphon = supply - channel - emergency
    fr, limit = channel_froude(p, channel), gurgle_flow_m3_s(p)
    suction = np.where(dry, 0.0, suction)
    flushing = ~dry & (suction >= p.vent_siphon_head_m)
    return Balance(
        supply_m3_s=supply, siphon_m3_s=siphon, channel_m3_s=channel, emergency_m3_s=emergency, level_m=level,
        suction_m=suction, froude=fr,
        to_slurp_m3_s=np.where(dry, supply - at_crest, channel), to_gurgle_m3_s=limit - channel,
        to_emergency_m=p.emergency_rim_height_m - level,
        gulping=gulping, dry=dry, gurgling=~dry & (channel >= limit), flushing=flushing,
        breaking_up=~dry & (suction < p.breakup_head_m) & (fr > REAL_FILM_FROUDE),
        hissing=~dry & (suction >= hiss_suction_m(p)) & ~flushing,
    )


def _level_of_siphon_alone(p: Plumbing, supply: Figure, opening: Figure, at_crest: Figure) -> Figure:
    """Return the level at which the siphon alone takes the supply (flow goes nearly as the root of the head)."""
    head0 = siphon_head_m(p, p.crest_height_m)
    head, flow = head0, np.maximum(at_crest, 1e-12)
    for _ in range(3):
        head = np.clip(head * (supply / flow) ** 2, 1e-3 * head0, 4.0 * head0)
        level = p.crest_height_m + head - head0
        flow = np.maximum(siphon_flow_m3_s(p, level, opening), 1e-12)
    return level


def _over_crest(p: Plumbing, supply: Figure, opening: Figure, vent_opening: Figure) -> tuple[Figure, Figure, Figure]:
    """Return channel flow, level and suction with water over the crest.

    The film cannot hold more suction than the elbow's siphon head: beyond it the channel flushes, and the
    level is the one at which that begins.
    """

    def state(channel: Figure) -> tuple[Figure, Figure, Figure]:
        suction = vent_suction_m(p, channel, vent_opening)
        level = channel_level_m(p, channel, np.minimum(suction, p.vent_siphon_head_m))
        taken = siphon_flow_m3_s(p, level, opening) + emergency_flow_m3_s(p, level)
        return level, suction, np.maximum(supply - taken, 0.0)

    channel: Figure = np.maximum(supply - siphon_flow_m3_s(p, p.crest_height_m, opening), 0.0)
    level, suction, wanted = state(channel)
    if np.any(level > p.emergency_rim_height_m):
        return _over_rim(supply, state)
    for _ in range(PASSES):
        channel = wanted
        level, suction, wanted = state(channel)
        if np.any(level > p.emergency_rim_height_m):
            return _over_rim(supply, state)
    return wanted, level, suction


def _over_rim(supply: Figure, state: Any) -> tuple[Figure, Figure, Figure]:
    """Solve by the bracketed secant (Illinois), where the emergency pipe's steep start throws the fixed point about."""
    low = np.zeros(np.shape(state(supply)[2]))
    high = np.broadcast_to(np.asarray(supply, float), low.shape).copy()
    miss_low, miss_high = state(low)[2] - low, state(high)[2] - high
    was_above = np.zeros(low.shape, bool)
    for turn in range(ILLINOIS_PASSES):
        gap = miss_low - miss_high
        middle = np.where(gap > 0, low + (high - low) * miss_low / np.where(gap > 0, gap, 1.0), low)
        level, suction, wanted = state(middle)
        miss = wanted - middle
        if np.all(np.abs(miss) < CLOSE_M3_S):
            break
        above = miss > 0
        again = turn > 0
        miss_high = np.where(above, np.where(again & was_above, 0.5 * miss_high, miss_high), miss)
        miss_low = np.where(above, miss, np.where(again & ~was_above, 0.5 * miss_low, miss_low))
        low, high, was_above = np.where(above, middle, low), np.where(above, high, middle), above
    return wanted, level, suction
