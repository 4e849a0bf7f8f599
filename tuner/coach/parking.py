"""Parking in the middle of the quiet window: straight there, or by one deliberate probe towards an edge.

Silence says that one is inside the window, not where. A probe that crosses an edge finds it, a probe that stays
silent shows that the edge lies farther off; either way the next move can aim at the middle. The worth of a probe is
the chance of staying quiet under small changes of flow after the best move that would follow it, less the moves.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tuner.coach.guesses import Guesses, after_move
from tuner.coach.handwork import Hand
from tuner.coach.lookahead import MOST_ROARING, bearing, full_settings, settle_times
from tuner.coach.outlook import Outlook, outlook
from tuner.rig import Rig

Floats = NDArray[np.float64]

REACH = 12  # finest steps either way that a probe and its answer may span
COST_OF_MOVE = 0.035  # in the chance of staying quiet


@dataclass(frozen=True, slots=True)
class Parking:
    """A move made in silence: how likely it stays silent, and the bearing now and at the end, move costs taken off."""

    hand: Hand
    amount: float
    quiet: float
    bears_now: float
    bears_then: float
    wait_s: float


def best_parking(few: Guesses, rig: Rig, hand: Hand) -> Parking | None:
    """Return the most promising move in silence on one control, or None when no move pays."""
    counts = np.arange(-REACH, REACH + 1)
    amounts: Floats = np.asarray(counts * hand.finest, dtype=np.float64)
    o = outlook(few.plumbing, full_settings(after_move(few, rig, hand.control, amounts), len(counts), few.n))
    bears, roaring = bearing(o), o.roaring.mean(axis=-1)
    safe = roaring <= MOST_ROARING
    outcomes = _outcomes(o)
    here = REACH
    known = o.quiet[here]
    now = _mean(bears[here], known)
    best: Parking | None = None
    for i in np.flatnonzero(safe):
        if i == here or not abs(amounts[i]) <= hand.limit(amounts[i]) + 1e-9:
            continue
        value, quiet = _value(bears[safe], bears[i], outcomes[:, i], known)
        if value > now and (best is None or value > best.bears_then):
            best = Parking(hand, float(amounts[i]), quiet, now, value, 0.0)
    if best is None:
        return None
    wait = settle_times(few, hand, outlook(few.plumbing, full_settings(
        after_move(few, rig, hand.control, np.array([best.amount])), 1, few.n)))[0]
    return Parking(best.hand, best.amount, best.quiet, best.bears_now, best.bears_then, wait)


def _outcomes(o: Outlook) -> Floats:
    """Return the chances of silence, of an edge on the side of too little channel flow and of too much; (3, m, n)."""
    low = 1 - (1 - o.gulping) * (1 - o.trickling)
    high = 1 - (1 - o.gurgling) * (1 - o.hissing) * (1 - o.flushing)
    total = np.maximum(o.quiet + low + high, 1e-9)
    return np.stack([o.quiet / total, low / total, high / total])


def _mean(values: Floats, weights: Floats) -> float:
    return float(np.sum(values * weights) / max(float(np.sum(weights)), 1e-12))


def _value(bears: Floats, bears_here: Floats, chances: Floats, known: Floats) -> tuple[float, float]:
    """Return the worth of a probe and the chance that it stays silent.

    ``bears`` (k, n) are the bearings wherever one may go next, ``bears_here`` (n,) at the probe, ``chances`` (3, n)
    of its outcomes, ``known`` (n,) the weights of the guesses in the present silence.
    """
    total = max(float(known.sum()), 1e-12)
    value = -COST_OF_MOVE
    for k, chance in enumerate(chances):
        weight = known * chance
        share = float(weight.sum()) / total
        if share < 1e-3:
            continue
        onward = float((bears @ weight).max() / weight.sum()) - COST_OF_MOVE
        stay = _mean(bears_here, weight) if k == 0 else -1.0
        value += share * max(onward, stay)
    return value, float((known * chances[0]).sum()) / total
