"""Is each pipe big enough? What every part must carry, what it can carry, and what to do when it is too little."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from tuner.rig import Rig
from tuner.units import flow_text, length_text
from tuner.water.air import clearing_speed
from tuner.water.band import share_of
from tuner.water.facts import fit, speeds_of
from tuner.water.intake import submergence_hecker_m
from tuner.water.laws import (
    channel_siphon_flow_m3_s,
    emergency_flow_m3_s,
    emergency_full_flow_m3_s,
    gulp_level_m,
    gurgle_flow_m3_s,
    siphon_flow_m3_s,
    supply_flow_m3_s,
)
from tuner.water.pipes import pipe_area_m2
from tuner.water.plumbing import sample_plumbing
from tuner.water.regimes import stack_capacity
from tuner.water.scene import box_limit_m, weir_head_m
from tuner.water.verdict import Number, number
from tuner.water.weir import STANDARD_HEAD_M, nappe_speed_m_s

DRAWS, DRAWS_WITH_FACTS = 1500, 8000
SURE = 0.95
SPLASH_SPEED_M_S = 1.0  # a falling sheet drags air under from about 0.8-1 m/s; rough jets sooner
QUARTER_FULL = 0.25
LEAST_SUPPLY_M3_S = 50 / 3.6e6  # less than this is no return to speak of
Size = Literal["big enough", "just big enough", "too small", "cannot tell"]


@dataclass(frozen=True, slots=True)
class PartCheck:
    """One part of the overflow: verdict in a word and in a sentence, figures, and a note on the formula's limits."""

    part: str
    size: Size
    says: str
    numbers: tuple[Number, ...]
    note: str = ""


def _size(has: Any, needs: Any, comfortable: float, weights: NDArray[np.float64] | None) -> Size:
    """Return the verdict on sampled capacities: whether 95 % of draws suffice, by a factor ``comfortable`` or not."""
    share = share_of(np.asarray(has) >= np.asarray(needs), weights)
    if share >= SURE:
        roomy = share_of(np.asarray(has) >= comfortable * np.asarray(needs), weights) >= SURE
        return "big enough" if roomy else "just big enough"
    return "too small" if share < 0.5 else "cannot tell"


def capacities(rig: Rig, rng: Generator, draws: int | None = None, *, us: bool = False) -> tuple[PartCheck, ...]:
    """Return the check of pump, siphon, open channel, emergency, weir and siphon inlet, over sampled plumbings."""
    n = draws or (DRAWS_WITH_FACTS if rig.facts else DRAWS)
    p = sample_plumbing(rig, rng, n)
    speeds = speeds_of(rig)
    weights = fit(p, rig.facts, speeds).weights if rig.facts else None
    supply = supply_flow_m3_s(p, speeds)

    def figure(name: str, values: Any, unit: Any) -> Number:
        return number(name, values, unit, weights)

    def flow(values: Any) -> str:
        return flow_text(number("", values, "m3/s", weights).band.middle, us=us)

    def length(values: Any) -> str:
        return length_text(number("", values, "m", weights).band.middle, us=us)

    def percent(values: Any) -> str:
        middle = number("", values, "", weights).band.middle
        return f"{100 * middle:.0f} %" if np.isfinite(middle) else "an endless share"

    lifts: Size = _size(supply, LEAST_SUPPLY_M3_S, 2.0, weights)
    pump = PartCheck(
        "return pump", lifts,
        f"It gives {flow(supply)} at its present speed." if lifts != "too small"
        else "At its present speed it does not lift water into the tank: check its head, its speed and the lift.",
        (figure("supply", supply, "m3/s"), figure("lift", p.static_head_m, "m")),
    )
    full = siphon_flow_m3_s(p, p.crest_height_m, 1.0)
    quiet = gurgle_flow_m3_s(p)
    speed = supply / pipe_area_m2(p.siphon_diameter_m)
    clears = clearing_speed(rig.siphon.inner_diameter_m)
    siphon = PartCheck(
        "siphon", _size(full, supply, 1.25, weights),
        f"Fully open it carries {flow(full)}; the pump gives {flow(supply)}.",
        (figure("capacity, valve open", full, "m3/s"), figure("supply", supply, "m3/s"),
         figure("speed in the pipe, m/s", speed, ""), ),
        f"it clears itself of air above {clears.low:.1f} to {clears.high:.1f} m/s ({clears.note})",
    )
    stack = stack_capacity(rig.channel.inner_diameter_m, QUARTER_FULL)
    share = np.where(supply > 0, quiet / np.where(supply > 0, supply, 1.0), np.nan)
    needed = 0.03 * supply  # the finest step that any control makes is a percent or so; three of them make a window
    channel = PartCheck(
        "open channel", _size(quiet, needed, 2.0, weights),
        f"It carries up to {flow(quiet)} quietly, {percent(share)} of the supply;"
        f" freely vented it stays stable to about {flow_text(stack.value, us=us)}, and full it carries"
        f" {flow(channel_siphon_flow_m3_s(p, p.crest_height_m))}.",
        (figure("quiet flow", quiet, "m3/s"), figure("quiet share of the supply", share, "")),
        stack.note,
    )
    limit = box_limit_m(p, supply)
    alone = emergency_flow_m3_s(p, limit)
    alone_size = _size(alone, supply, 1.1, weights)
    if alone_size == "too small" and share_of(emergency_full_flow_m3_s(p, limit) >= supply, weights) >= SURE:
        alone_size = "cannot tell"  # it suffices if it primes, which only an attended test shows
    emergency = PartCheck(
        "emergency pipe", alone_size,
        f"Alone and unprimed it takes {flow(alone)} before the box is full; the pump gives {flow(supply)}.",
        (figure("capacity at the highest level, unprimed", alone, "m3/s"),),
        "good to 25 %; if it primes it carries more, which an attended test shows",
    )
    head = weir_head_m(p, supply)
    fall = p.weir_height_m + head - p.crest_height_m
    impact = nappe_speed_m_s(np.maximum(fall, 0.0))
    in_range = number("", head, "m", weights).band.middle > STANDARD_HEAD_M
    rise_half_clogged = (2 ** (2 / 3) - 1) * head  # head goes as length^(-2/3)
    weir = PartCheck(
        "weir", _size(p.tank_glass_above_m, rise_half_clogged, 1.5, weights),
        f"The water stands {length(head)} over the edge and falls {length(fall)} into the box"
        + (": fast enough to splash; a higher crest of the open channel shortens the fall."
           if share_of(impact > SPLASH_SPEED_M_S, weights) > 0.5 else "."),
        (figure("head over the edge", head, "m"), figure("fall into the box", fall, "m")),
        "" if in_range else "heads under 30 mm lie below every standard for weirs: 15-25 %",
    )
    wanted = submergence_hecker_m(supply, p.siphon_inlet_diameter_m)
    has = p.crest_height_m - p.siphon_inlet_height_m
    draws_air = gulp_level_m(p, supply) - p.siphon_inlet_height_m
    inlet = PartCheck(
        "siphon inlet", _size(has, draws_air, 1.5, weights),
        f"{length(has)} of water stands over it; intakes of pumps want {length(wanted)} against vortices"
        + ("." if share_of(has > wanted, weights) > 0.5
           else ": a vortex may draw air; a wider opening or a strainer lowers the need."),
        (figure("water over the inlet", has, "m"), figure("wanted against vortices", wanted, "m")),
        "made for large intakes; in a small box good to 30 % at best",
    )
    return pump, siphon, channel, emergency, weir, inlet
