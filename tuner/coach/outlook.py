"""What the water model expects at given settings: the channel's flow, its two edges, and which sounds are active.

The figures follow ``tuner.water.laws``; the steady state is found in two passes around the crest level, which leaves
less than a hundredth of the siphon's flow, and all onsets come as soft steps, since no onset in a real pipe is sharp.
Arrays have shape (n,) over the guesses, or (m, n) over m settings and n guesses.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import NDArray

from tuner.water import laws
from tuner.water.plumbing import Plumbing

Floats = NDArray[np.float64]

THIN_FILM_SHARE = 0.15  # of the gurgling flow: a thinner film is not heard breaking up; a choice, no source
LOOP_GAIN_SHARE = 0.25  # suction over head at which a film of Q ~ h^2 and a suction ~ Q^2 run away: 4 s/h = 1
SOFT_FLOW = 0.004  # softness of the gulping edge, share of the supply
SOFT_LOG = 0.06  # softness of an onset in the logarithm of flow
SOFT_LOG_AIR = 0.12  # the same for suction, which goes with the square of the flow
SOFT_LEVEL_M = 0.001
LEAST_RISE_M = 0.001
LEAST_WAY_M = 0.002  # down from the crest to the inlet, also where a doubted description has them the other way round
SOFT_DEPTH_M = 0.003  # of the depth from which falling water is heard
_PASSES = 2


@dataclass(frozen=True, slots=True)
class Settings:
    """Where the controls stand: valve and tap openings (0-1), and each pump's speed (0-1)."""

    opening: Floats
    vent: Floats
    speeds: tuple[float | Floats, ...]


@dataclass(frozen=True, slots=True)
class Outlook:
    """The state that settings lead to.

    ``channel`` is supply less siphon, negative when the siphon takes more than comes. ``low`` and ``high`` are the
    channel flows between which it is quiet (``low`` may be negative: a dry channel over a drowned inlet is quiet
    too). ``jet_ratio`` is the air's speed at the tap over that at which it hisses, ``suction_ratio`` the suction
    over that below which the film breaks up. The activities are 0-1; ``drawing`` is a gulping siphon that never
    recovers, because even while it draws air it takes more than comes. ``slurp_period_s`` and ``flush_period_s``
    hold where that activity is above 0.5; ``slurp_rest`` and ``flush_rest`` are the shares of them in which it is
    quiet. ``drain_s`` is the time in which the box falls from the crest to where the siphon draws air: until then an
    over-open siphon is silent. ``sunk_m`` is how far below the crest the box stands, ``splashing`` tells that it stands
    so low that the water is heard to fall into it, deeper than ``splash_depth_m``, of which gulps cover the share
    ``covered``. ``stood_m`` is how far below the crest it stood at the last move, ``even_m`` where the siphon takes
    what comes (negative: above the crest), ``sinking_s`` the time constant with which the box makes for that.
    """

    supply: Floats
    siphon: Floats
    channel: Floats
    low: Floats
    high: Floats
    gurgle_flow: Floats
    jet_ratio: Floats
    suction_ratio: Floats
    level_m: Floats
    gulping: Floats
    drawing: Floats
    gurgling: Floats
    trickling: Floats
    hissing: Floats
    flushing: Floats
    roaring: Floats
    slurp_period_s: Floats
    flush_period_s: Floats
    slurp_rest: Floats
    flush_rest: Floats
    drain_s: Floats
    sunk_m: Floats
    splashing: Floats
    splash_depth_m: Floats | float
    covered: Floats | float
    stood_m: Floats | float
    even_m: Floats
    sinking_s: Floats

    @property
    def quiet(self) -> Floats:
        """Probability of silence at each guess."""
        calm: Floats = (
            (1 - self.gulping) * (1 - self.gurgling) * (1 - self.trickling) * (1 - self.hissing)
            * (1 - self.flushing) * (1 - self.roaring) * (1 - self.splashing)
        )
        return calm

    @property
    def over_open(self) -> Floats:
        """Probability that the siphon is heard to take too much: it gulps, or water falls far into a box that sank."""
        either: Floats = 1 - (1 - self.gulping) * (1 - self.splashing)
        return either

    @property
    def airless(self) -> Floats:
        """Probability that the vent lets too little air in: it hisses, or the channel flushes."""
        either: Floats = 1 - (1 - self.hissing) * (1 - self.flushing)
        return either

    @property
    def refill_s(self) -> Floats:
        """Time after the last move in which a box that stood deep is still heard to, 0 where it was not.

        It makes for the depth at which the siphon takes what comes, with the time constant of a siphon of the flow
        Q ~ h^(1/2) that drains it: 2 head x area / flow.
        """
        above = np.maximum(self.splash_depth_m - self.even_m, LEAST_RISE_M)
        rise_s = self.sinking_s * np.log(np.maximum((self.stood_m - self.even_m) / above, 1.0))
        still: Floats = np.where(self.stood_m > self.splash_depth_m, rise_s, 0.0)
        return still

    @property
    def less_flow(self) -> Floats:
        """Share by which the supply may fall before it is heard (negative: it is heard now)."""
        margin: Floats = (self.channel - self.low) / self.supply
        return margin

    @property
    def more_flow(self) -> Floats:
        """Share by which the supply may grow before it is heard (negative: it is heard now)."""
        margin: Floats = (self.high - self.channel) / self.supply
        return margin


def soft_step(x: Floats) -> Floats:
    """Return the logistic of ``x``."""
    y: Floats = 0.5 * (1.0 + np.tanh(0.5 * x))
    return y


def outlook(
    p: Plumbing, at: Settings, splash_depth_m: Floats | float = inf, stood_m: Floats | float = 0.0,
    covered: Floats | float = 0.0,
) -> Outlook:
    """Return what the guesses ``p`` expect at ``at``.

    ``splash_depth_m`` is how far below the crest the box must stand for the weir's water to be heard as it falls in,
    ``stood_m`` how far below it stood at the last move, ``covered`` which share of that splash gulps cover.
    """
    supply = np.maximum(laws.supply_flow_m3_s(p, at.speeds), 1e-7)
    head0 = laws.siphon_head_m(p, p.crest_height_m)
    at_crest = laws.siphon_flow_m3_s(p, p.crest_height_m, at.opening)
    siphon, suction, level = at_crest, 0.0, p.crest_height_m
    for _ in range(_PASSES):
        channel = supply - siphon
        wet = np.maximum(channel, 0.0)
        suction = laws.vent_suction_m(p, wet, at.vent)
        level = laws.channel_level_m(p, wet, np.minimum(suction, p.vent_siphon_head_m))
        siphon = at_crest * np.sqrt(np.maximum(1 + (level - p.crest_height_m) / head0, 0.05))
    channel = supply - np.where(supply > at_crest, np.minimum(siphon, supply), at_crest)
    wet = np.maximum(channel, 1e-9)
    suction = laws.vent_suction_m(p, wet, at.vent)

    gurgle = laws.gurgle_flow_m3_s(p)
    hiss_s = laws.hiss_suction_m(p)
    fill_s = flush_suction_m(p, wet)
    gulp_drop = p.crest_height_m - laws.gulp_level_m(p, supply)
    gulp_flow = at_crest * np.sqrt(np.maximum(1 - gulp_drop / head0, 0.05))
    real_film = soft_step((wet / gurgle - THIN_FILM_SHARE) / 0.02)
    gulping = soft_step((gulp_flow / supply - 1) / SOFT_FLOW)
    drawing = gulping * soft_step((p.broken_share * gulp_flow / supply - 1) / 0.03)
    flushing = soft_step(np.log(suction / fill_s + 1e-9) / SOFT_LOG_AIR) * real_film
    gurgling = soft_step(np.log(wet / gurgle) / SOFT_LOG) * (1 - flushing)
    trickling = soft_step(np.log(p.breakup_head_m / (suction + 1e-9)) / SOFT_LOG_AIR) * real_film * (1 - gurgling)
    hissing = soft_step(np.log(suction / hiss_s + 1e-9) / SOFT_LOG_AIR) * (1 - flushing) * real_film
    roaring = soft_step((level - p.emergency_rim_height_m) / SOFT_LEVEL_M) * (1 - flushing)

    slurp_period_s, slurp_rest = _slurp_cycle(p, supply, gulp_flow)
    flush_period_s, flush_rest = _flush_cycle(p, supply, at_crest, level)
    # with the channel dry the box sinks until the siphon takes no more than comes, at most to where it draws air
    even_m = head0 * (1.0 - (supply / at_crest) ** 2)
    sunk_m = np.clip(even_m, 0.0, np.maximum(gulp_drop, 0.0))
    splashing = soft_step((sunk_m - splash_depth_m) / SOFT_DEPTH_M)
    dry_flow = np.maximum(gulp_flow, at_crest * np.sqrt(np.maximum(1 - splash_depth_m / head0, 0.05)))
    low, high = _edges(p, at, gurgle, hiss_s, at_crest, dry_flow, suction, fill_s, wet)
    return Outlook(
        supply=supply, siphon=supply - channel, channel=channel, low=low, high=high, gurgle_flow=gurgle,
        jet_ratio=np.sqrt(suction / hiss_s), suction_ratio=suction / p.breakup_head_m,
        level_m=level, gulping=gulping, drawing=drawing, gurgling=gurgling, trickling=trickling, hissing=hissing,
        flushing=flushing, roaring=roaring,
        slurp_period_s=slurp_period_s, flush_period_s=flush_period_s, slurp_rest=slurp_rest, flush_rest=flush_rest,
        drain_s=p.box_area_m2 * gulp_drop / np.maximum((at_crest + gulp_flow) / 2 - supply, 1e-3 * supply),
        sunk_m=sunk_m, splashing=splashing, splash_depth_m=splash_depth_m, covered=covered,
        stood_m=stood_m, even_m=even_m,
        sinking_s=2.0 * head0 * p.box_area_m2 / at_crest,
    )


def way_to_inlet_m(p: Plumbing) -> Floats:
    """Return how far the siphon's inlet lies below the crest of the open channel."""
    way: Floats = np.maximum(p.crest_height_m - p.siphon_inlet_height_m, LEAST_WAY_M)
    return way


def flush_suction_m(p: Plumbing, channel_flow: Floats) -> Floats:
    """Return the suction from which the channel fills: the elbow's siphon head, or a quarter of the head at the crest.

    A film of Q ~ h^2 under the head h (suction included) whose suction s grows with Q^2 has the loop gain
    (2 Q/h)(2 s/Q) = 4 s/h: beyond 1 any ripple runs away. Holds for a suction that follows the film faster than the
    level of the box does.
    """
    head = laws.channel_level_m(p, channel_flow, 0.0) - p.crest_height_m
    s: Floats = np.minimum(p.vent_siphon_head_m, LOOP_GAIN_SHARE * head)
    return s


def _edges(
    p: Plumbing, at: Settings, gurgle: Floats, hiss_s: Floats, at_crest: Floats, dry_flow: Floats,
    suction: Floats, fill_s: Floats, wet: Floats,
) -> tuple[Floats, Floats]:
    """Return the channel flows at the two edges of the quiet window, the other settings held.

    ``dry_flow`` is the supply at which a box that sinks begins to be heard.
    """
    # Suction goes with the square of the flow, the head at the crest with its root: hence the powers.
    at_hiss = laws.channel_flow_at_suction_m3_s(p, at.vent, hiss_s)
    at_break = laws.channel_flow_at_suction_m3_s(p, at.vent, p.breakup_head_m)
    at_fill = wet * (fill_s / np.maximum(suction, 1e-9)) ** (2 / 3)
    high = np.minimum(gurgle, np.minimum(at_hiss, at_fill))
    thin = THIN_FILM_SHARE * gurgle
    low = np.where(at_break > thin, np.minimum(at_break, gurgle), at_crest - np.maximum(at_crest, dry_flow))
    dry_low = dry_flow - at_crest  # negative: what the supply may fall short before the sinking box is heard
    low = np.where(at_break > thin, low, dry_low)
    # A film too thin to be heard is quiet as well: there the window ends where the film grows real.
    in_thin = (at_break > thin) & (wet < thin)
    return np.where(in_thin, dry_low, low), np.where(in_thin, thin, np.maximum(high, thin))


def _slurp_cycle(p: Plumbing, supply: Floats, gulp_flow: Floats) -> tuple[Floats, Floats]:
    """Return the period of gulps, and the share of it in which the siphon runs full, which is quiet.

    Box area x level swing / mismatch, for the fall and for the rise; as ``laws.slurp_period_s``.
    """
    volume = p.box_area_m2 * p.regain_rise_m
    fall = np.maximum(gulp_flow - supply, 1e-3 * supply)
    rise = np.maximum(supply - p.broken_share * gulp_flow, 0.02 * supply)
    period: Floats = volume / fall + volume / rise
    return period, rise / (fall + rise)


def _flush_cycle(p: Plumbing, supply: Floats, siphon: Floats, level: Floats) -> tuple[Floats, Floats]:
    """Return the period of flushes, and the share of it in which the box fills, which is quiet.

    The box falls to the channel's mouth while the channel runs full, and fills again at supply less siphon.
    """
    volume = p.box_area_m2 * np.maximum(level - p.channel_inlet_height_m, 0.005)
    full = laws.channel_siphon_flow_m3_s(p, p.crest_height_m)
    rise = np.maximum(supply - siphon, 0.01 * supply)
    fall = np.maximum(full - rise, 0.02 * supply)
    period: Floats = volume / rise + volume / fall
    return period, fall / (fall + rise)
