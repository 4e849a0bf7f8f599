"""How good a state is, and how long a move takes to bring it about: what planning weighs.

Arrays have shape (n,) over the guesses, or (m, n) over m settings and n guesses.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tuner.coach.guesses import Guesses
from tuner.coach.handwork import Hand
from tuner.coach.outlook import Outlook, soft_step
from tuner.water.plumbing import Plumbing

Floats = NDArray[np.float64]

RIM_MARGIN_M = 0.004  # guesses are not exact to the millimetre
FULLY_OPEN, MOSTLY = 0.99, 0.7
FLOW_CHANGES, FLOW_SOFT = (0.01, 0.02, 0.03, 0.05), 0.003
BOX_TIMES = 3.0
WAIT_LEAST_S, WAIT_MOST_S, WAIT_STEP_S = 30.0, 180.0, 15.0


def loop_share(p: Plumbing, supply: Floats) -> Floats:
    """Return the share of the supply that part-time loops take while they run; they are taken to rest during tuning."""
    taken: Floats = sum(np.asarray(branch, float) for branch in p.pump_branch_m3_s) / supply
    return taken


def bears_loop(o: Outlook, loop: Floats) -> Floats:
    """Return, for every guess, the chance that the flow may fall by ``loop`` and it stays quiet; 1 without a loop."""
    chance: Floats = np.where(loop > 0.0, soft_step((o.less_flow - loop) / FLOW_SOFT), 1.0)
    return chance


def bearing(o: Outlook, loop: Floats) -> Floats:
    """Return, for every guess, the chance of staying quiet when the supply changes either way, by 1 to 5 %.

    The mean over the changes of ``FLOW_CHANGES``: it grows all the way from an edge to the middle of the window. With a
    part-time loop that takes the share ``loop`` of the flow, the window of both states together counts.
    """
    total = np.zeros(np.shape(o.channel))
    for change in FLOW_CHANGES:
        lower = soft_step((o.less_flow - loop - change) / FLOW_SOFT)
        upper = soft_step((o.more_flow - change) / FLOW_SOFT)
        total = total + lower * upper
    chance: Floats = o.quiet * total / len(FLOW_CHANGES)
    return chance


def left_to_mend(o: Outlook) -> Floats:
    """Return how far a guess is from silence, in rough moves, at most 4."""
    wet = np.maximum(o.channel, 1e-9)
    over_open = np.maximum(-o.less_flow, 0.0) / 0.06
    over_closed = np.maximum(np.log(wet / o.gurgle_flow), 0.0) / 0.5
    noisy = o.trickling + o.hissing + o.flushing
    left: Floats = np.minimum(over_open * o.over_open + over_closed + noisy, 4.0)
    return left


def near_rim(few: Guesses, o: Outlook) -> Floats:
    """Return the share of guesses in which the level stands within ``RIM_MARGIN_M`` of the emergency pipe's rim."""
    close = (o.level_m > few.plumbing.emergency_rim_height_m - RIM_MARGIN_M) & (o.flushing < 0.5)
    share: Floats = close.mean(axis=-1)
    return share


def at_stop(few: Guesses, hand: Hand, amount: float) -> bool:
    """Tell whether a control most likely stands at its stop already in the direction of ``amount``."""
    if hand.control == "return pump" or amount < 0:
        return False
    opening = few.opening if hand.control == "siphon valve" else few.vent
    return float((opening >= FULLY_OPEN).mean()) > MOSTLY


def settle_times(few: Guesses, hand: Hand, o: Outlook, now: Outlook) -> list[float]:
    """Return how long each move needs to show: the box must travel, and a pump's change must pass the tank."""
    p = few.plumbing
    to_inlet = p.box_area_m2 * np.maximum(p.crest_height_m - p.siphon_inlet_height_m, 0.01)
    mismatch = np.maximum(np.abs(o.supply - o.siphon), 0.02 * o.supply)
    travel = np.where(o.gulping > 0.5, to_inlet / mismatch, BOX_TIMES * p.box_area_m2 * 0.01 / mismatch)
    refill = p.box_area_m2 * np.maximum(now.sunk_m - o.sunk_m, 0.0) / mismatch
    travel = np.maximum(travel, refill)
    wait = np.quantile(travel, 0.7, axis=-1) + 15.0
    if hand.control == "return pump":
        # Time constant of a weir: area x (2/3) head / flow, with a head of about 15 mm.
        wait = wait + 3 * np.median(p.tank_area_m2 * (2 / 3) * 0.015 / o.supply, axis=-1)
    stepped = np.ceil(np.clip(wait, WAIT_LEAST_S, WAIT_MOST_S) / WAIT_STEP_S) * WAIT_STEP_S
    return [float(w) for w in stepped]
