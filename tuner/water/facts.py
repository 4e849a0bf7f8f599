"""One measured fact narrows every band: draws that disagree with it count less.

Each draw predicts what was measured; its weight is a normal likelihood of the difference, as wide as the
measurement is uncertain. When hardly any draw agrees, the facts contradict the description (or each other):
the uncertainty is doubled until enough draws agree, and the result says that it is strained.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tuner.rig import Fact, Rig
from tuner.water.laws import (
    channel_level_m,
    gulp_level_m,
    gurgle_flow_m3_s,
    opening_for_siphon_flow,
    siphon_flow_m3_s,
    slurp_period_s,
    supply_flow_m3_s,
)
from tuner.water.plumbing import Figure, Plumbing

SETTING_READ = {"gate": 0.0625, "ball": 2.0}  # how well an edge is found by turning: a sixteenth turn, 2 degrees
BUCKET_SHARE = 0.04  # a bucket and a watch
BUCKET_FLOOR_SHARE = 0.002  # of the supply: how steady a small flow stands while it is caught
PERIOD_SHARE = 0.30  # the model of a gulp's cycle, of the log of its period
LEAST_DRAWS = 40  # effective draws below which the facts are called contradictory
WIDENINGS = 8


@dataclass(frozen=True, slots=True)
class Fitted:
    """Weights of the draws (n,), their effective number, and whether the facts contradict the description."""

    weights: NDArray[np.float64]
    effective: float
    strained: bool


def setting_spread(p: Plumbing) -> Figure:
    """Return the standard uncertainty of an edge found by turning the valve: reading and backlash."""
    return np.hypot(SETTING_READ[p.valve_kind], p.valve_backlash)


def _misses(p: Plumbing, fact: Fact, speeds: Sequence[float]) -> Figure:
    """Return by how many standard deviations each draw misses a fact, (n,); NaN where it cannot happen."""
    supply = supply_flow_m3_s(p, speeds if fact.speed is None else [fact.speed] * len(speeds))
    if fact.kind == "just slurps":
        level = np.minimum(gulp_level_m(p, np.maximum(supply, 1e-9)), p.crest_height_m)
        edge = opening_for_siphon_flow(p, supply, level) * p.valve_full
        return (edge - fact.setting) / setting_spread(p)
    if fact.kind == "just gurgles":
        limit = gurgle_flow_m3_s(p)
        level = channel_level_m(p, limit, np.minimum(0.5 * p.vent_siphon_head_m, 0.006))
        edge = opening_for_siphon_flow(p, np.maximum(supply - limit, 1e-9), level) * p.valve_full
        return (edge - fact.setting) / setting_spread(p)
    if fact.kind == "return flow":
        return (supply / fact.flow_m3_s - 1) / BUCKET_SHARE
    opening = fact.setting / p.valve_full
    if fact.kind == "slurp period":
        period = slurp_period_s(p, supply, opening)
        cyclic = np.isfinite(period)
        return np.where(cyclic, np.log(np.where(cyclic, period, 1.0) / fact.period_s) / PERIOD_SHARE, np.nan)
    siphon = np.minimum(siphon_flow_m3_s(p, p.crest_height_m, opening), supply)
    if fact.kind == "siphon flow":
        return (siphon / fact.flow_m3_s - 1) / BUCKET_SHARE
    caught = fact.flow_m3_s or np.nan
    return (supply - siphon - caught) / (BUCKET_SHARE * caught + BUCKET_FLOOR_SHARE * supply)


def fit(p: Plumbing, facts: Sequence[Fact], speeds: Sequence[float]) -> Fitted:
    """Weigh the draws of a sampled plumbing by measured facts; ``speeds`` are the pumps' where a fact names none."""
    n = np.size(p.box_area_m2)
    if not facts:
        return Fitted(np.ones(n), float(n), False)
    square = np.zeros(n)
    for fact in facts:
        miss = np.asarray(_misses(p, fact, speeds), float)
        square = square + np.where(np.isfinite(miss), miss**2, np.inf)
    weights, effective = np.zeros(n), 0.0
    for widening in range(WIDENINGS):
        lowest = square.min()
        if not np.isfinite(lowest):
            break
        weights = np.exp(-0.5 * (square - lowest) / 4.0**widening)
        effective = float(weights.sum() ** 2 / (weights**2).sum())
        # the best draw must itself agree, or a few lone draws would pose as a fit
        if effective >= LEAST_DRAWS and lowest / 4.0**widening < 9.0 * len(facts):
            return Fitted(weights, effective, widening > 0)
    return Fitted(np.ones(n), float(n), True)


def speeds_of(rig: Rig) -> tuple[float, ...]:
    """Return the present speed of every pump."""
    return tuple(pump.speed for pump in rig.pumps)
