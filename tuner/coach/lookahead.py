"""Comparing moves: what each is expected to bring, and the one that ends soonest and safely.

Every candidate is a whole number of finest steps on one control. Its worth is the chance of silence after it, a
little for how near the middle of the quiet window it leads, a little for what its outcome would tell, less what is
left to mend and the chance that the emergency pipe takes water. A move that is likelier than ``MOST_ROARING`` to send
water to the emergency pipe is no candidate, unless water runs there already and the move lessens it.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tuner.coach.guesses import Guesses, after_move
from tuner.coach.handwork import Hand
from tuner.coach.outlook import Outlook, Settings, outlook, soft_step
from tuner.rig import Rig
from tuner.terms import Control

Floats = NDArray[np.float64]

MOST_ROARING = 0.01
RIM_MARGIN_M, MOST_NEAR = 0.004, 0.03  # guesses are not exact to the millimetre: few may come this near to the rim
WORTH_MIDDLE = 0.35
WORTH_KNOWING = 0.12  # of the information in the outcome, in nats
WORTH_LEFT = 0.10  # of what is left to mend
COST_ROARING = 3.0
COST_PUMP_PERCENT = 0.02  # for each percent of speed: the flow is the keeper's choice, a valve comes first
SHUT_TAP, MOST_SHUT = 0.03, 0.05  # a closed tap makes the channel flush: no move may bring that about
FULLY_OPEN, MOSTLY = 0.99, 0.7
FLOW_CHANGES, FLOW_SOFT = (0.01, 0.02, 0.03, 0.05), 0.003
BOX_TIMES = 3.0
WAIT_LEAST_S, WAIT_MOST_S, WAIT_STEP_S = 30.0, 180.0, 15.0


@dataclass(frozen=True, slots=True)
class Prospect:
    """One candidate move and what it is expected to do.

    ``quiet`` and ``roaring`` are probabilities after the move, ``middle`` the mean closeness to mid-window (1: there,
    0: at an edge or outside), ``bears`` the chance that it stays quiet when the flow changes a little,
    ``siphon_change`` and ``supply_change`` median flows in m3/s.
    """

    hand: Hand
    amount: float
    worth: float
    quiet: float
    roaring: float
    middle: float
    bears: float
    siphon_change: float
    supply_change: float
    wait_s: float


def closeness(o: Outlook) -> Floats:
    """Return quiet times nearness to mid-window, 0-1 for every guess."""
    near: Floats = o.quiet * np.clip(1.0 - o.off_middle, 0.0, 1.0)
    return near


def bearing(o: Outlook) -> Floats:
    """Return, for every guess, the chance of staying quiet when the supply changes either way, by 1 to 5 %.

    The mean over the changes of ``FLOW_CHANGES``: it grows all the way from an edge to the middle of the window.
    """
    total = np.zeros(np.shape(o.channel))
    for change in FLOW_CHANGES:
        lower = soft_step((o.less_flow - change) / FLOW_SOFT)
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
    left: Floats = np.minimum(over_open * o.gulping + over_closed + noisy, 4.0)
    return left


def information(o: Outlook) -> Floats:
    """Return, for every candidate (first axis), the information between guess and outcome in nats."""
    kinds = np.stack([o.gulping, o.gurgling, o.trickling, o.hissing, o.flushing, o.roaring, o.quiet])
    share = kinds / np.maximum(kinds.sum(axis=0), 1e-9)
    mean = share.mean(axis=-1)
    entropy = -np.sum(mean * np.log(mean + 1e-12), axis=0)
    each = -np.sum(share * np.log(share + 1e-12), axis=0).mean(axis=-1)
    result: Floats = entropy - each
    return result


def prospects(
    few: Guesses, rig: Rig, hands: tuple[Hand, ...], ways: Collection[tuple[Control, int]]
) -> tuple[Prospect, ...]:
    """Return all candidate moves of ``hands`` in the allowed ``ways`` (control, direction), best first."""
    now = outlook(few.plumbing, few.settings)
    found: list[Prospect] = []
    for hand in hands:
        amounts = np.array([a for a in hand.choices() if (hand.control, 1 if a > 0 else -1) in ways])
        if amounts.size:
            found.extend(_judged(few, rig, hand, amounts, now))
    return tuple(sorted(found, key=lambda p: (-p.worth, abs(p.amount))))


def _judged(few: Guesses, rig: Rig, hand: Hand, amounts: Floats, now: Outlook) -> list[Prospect]:
    amounts = amounts[[not at_stop(few, hand, a) for a in amounts]]
    if not amounts.size:
        return []
    settings = after_move(few, rig, hand.control, amounts)
    o = outlook(few.plumbing, full_settings(settings, len(amounts), few.n))
    roaring = o.roaring.mean(axis=-1)
    now_roaring = float(now.roaring.mean())
    quiet, middle, bears = o.quiet.mean(axis=-1), closeness(o).mean(axis=-1), bearing(o).mean(axis=-1)
    worth = (
        quiet + WORTH_MIDDLE * bears + WORTH_KNOWING * information(o) - WORTH_LEFT * left_to_mend(o).mean(axis=-1)
        - COST_ROARING * roaring
    )
    if hand.control == "return pump":
        worth = worth - COST_PUMP_PERCENT * np.abs(amounts)
    near, now_near = _near_rim(few, o), float(_near_rim(few, now))
    allowed = ((roaring <= MOST_ROARING) & (near <= max(MOST_NEAR, now_near))) | (roaring < now_roaring - 1e-6)
    if hand.control == "vent tap":
        allowed &= np.broadcast_to(settings.vent <= SHUT_TAP, (len(amounts), few.n)).mean(axis=-1) <= MOST_SHUT
    waits = settle_times(few, hand, o)
    return [
        Prospect(
            hand, float(amounts[i]), float(worth[i]), float(quiet[i]), float(roaring[i]), float(middle[i]),
            float(bears[i]), float(np.median(o.siphon[i] - now.siphon)), float(np.median(o.supply[i] - now.supply)),
            waits[i],
        )
        for i in range(len(amounts)) if allowed[i]
    ]


def full_settings(s: Settings, m: int, n: int) -> Settings:
    """Return settings whose arrays all have shape (m, n)."""
    return Settings(
        np.broadcast_to(s.opening, (m, n)), np.broadcast_to(s.vent, (m, n)),
        tuple(np.broadcast_to(x, (m, n)) for x in s.speeds),
    )


def _near_rim(few: Guesses, o: Outlook) -> Floats:
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


def settle_times(few: Guesses, hand: Hand, o: Outlook) -> list[float]:
    """Return how long each move needs to show: the box must travel, and a pump's change must pass the tank."""
    p = few.plumbing
    to_inlet = p.box_area_m2 * np.maximum(p.crest_height_m - p.siphon_inlet_height_m, 0.01)
    mismatch = np.maximum(np.abs(o.supply - o.siphon), 0.02 * o.supply)
    travel = np.where(o.gulping > 0.5, to_inlet / mismatch, BOX_TIMES * p.box_area_m2 * 0.01 / mismatch)
    wait = np.quantile(travel, 0.7, axis=-1) + 15.0
    if hand.control == "return pump":
        # Time constant of a weir: area x (2/3) head / flow, with a head of about 15 mm.
        wait = wait + 3 * np.median(p.tank_area_m2 * (2 / 3) * 0.015 / o.supply, axis=-1)
    stepped = np.ceil(np.clip(wait, WAIT_LEAST_S, WAIT_MOST_S) / WAIT_STEP_S) * WAIT_STEP_S
    return [float(w) for w in stepped]
