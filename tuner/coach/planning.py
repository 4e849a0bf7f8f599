"""Two moves ahead: every first move, what may be heard after it, and the best answer to each.

A move is not only worth where it leads: what is heard after it tells where the edges lie. So each first move is
judged by the mean, over what may be heard next, of the best that can follow. Worth counts in moves: a move costs one,
noise costs the moves that it still takes to mend, and silence that bears changes of flow earns up to ``BEARING_WORTH``,
or more where the keeper agrees that the edges of the quiet window be looked for.
Only moves that a hand can name are compared, on at most two controls; free play is taken out of the first move only.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tuner.coach.guesses import Guesses, after_move
from tuner.coach.handwork import Hand
from tuner.coach.outlook import Outlook, Settings
from tuner.coach.standing import at_stop, bearing, bears_loop, left_to_mend, loop_share, near_rim, settle_times
from tuner.rig import Rig
from tuner.terms import Control
from tuner.water.plumbing import Plumbing

Floats = NDArray[np.float64]

BEARING_WORTH = 15.0  # in moves, of a silence that surely bears changes of flow over one that surely does not
PROBING_WORTH = 32.0  # the same for a keeper who agrees that the edges be looked for
NOISE_COST = 1.5  # in moves, of a noise, beside the rough number of moves that it takes to mend
ROAR_COST = 30.0
PUMP_PERCENT_COST = 0.15  # for each percent of speed: the flow is the keeper's choice, a valve comes first
LOUD_GURGLE = 0.5  # logarithm of the channel's flow over the gurgling one, from which a gurgle is told from a faint one
MISHEARD = 0.05  # share of what is heard that is heard as something else
MOST_ROARING = 0.01
RIM_MOST_NEAR = 0.03  # of the guesses, that may come near the emergency pipe's rim
SHUT_TAP, MOST_SHUT = 0.03, 0.15  # a closed tap makes the channel flush: share of the guesses that may end so


@dataclass(frozen=True, slots=True)
class Prospect:
    """One first move and what it is expected to do.

    ``worth`` is in moves. ``quiet`` and ``roaring`` are probabilities after the move; ``bears`` is the chance, after
    the move and its best answer, that it stays quiet when the flow changes a little. ``siphon_change`` and
    ``supply_change`` are median flows in m3/s.
    """

    hand: Hand
    amount: float
    worth: float
    quiet: float
    roaring: float
    bears: float
    siphon_change: float
    supply_change: float
    wait_s: float


@dataclass(frozen=True, slots=True)
class Plan:
    """The first moves, best first, and the worth and the bearing of staying where it is."""

    moves: tuple[Prospect, ...]
    stay: float
    bears_now: float


@dataclass(frozen=True, slots=True)
class _Axis:
    """One control: the moves to compare, 0 among them at ``here``, and the settings after each, one row per move."""

    hand: Hand
    amounts: Floats
    here: int
    settings: Settings


def plan(
    few: Guesses, rig: Rig, hands: tuple[Hand, ...], ways: Collection[tuple[Control, int]],
    bearing_worth: float = BEARING_WORTH,
) -> Plan:
    """Return the first moves of ``hands`` in the allowed ``ways`` (control, direction), judged two moves deep.

    ``bearing_worth`` is in moves, of a silence that surely bears changes of flow.
    """
    axes = [_axis(few, rig, hand) for hand in hands]
    alone = [few.outlook(_rows(axis.settings, few.n)) for axis in axes]
    now = few.outlook()
    grids = {
        (i, j): worth_of(few.outlook(_crossed(axes[i], axes[j], few.n)), few.plumbing, bearing_worth)
        for i in range(len(axes)) for j in range(i + 1, len(axes))
    }
    own = [worth_of(o, few.plumbing, bearing_worth) for o in alone]
    moves: list[Prospect] = []
    for i, axis in enumerate(axes):
        heard = heard_as(alone[i])
        bears = bearing(alone[i], loop_share(few.plumbing, alone[i].supply))
        allowed = _allowed(few, axis, alone[i], now)
        waits = settle_times(few, axis.hand, alone[i], now)
        for k in np.flatnonzero(allowed):
            way = (axis.hand.control, 1 if axis.amounts[k] > 0 else -1)
            if k == axis.here or way not in ways or at_stop(few, axis.hand, float(axis.amounts[k])):
                continue
            answers = [own[i]] + [
                grids[(i, j)][k] if i < j else grids[(j, i)][:, k] for j in range(len(axes)) if j != i
            ]
            worth = _answered(heard[:, k], own[i][k], np.concatenate(answers), few.n)
            cost = 1.0 + (PUMP_PERCENT_COST * abs(axis.amounts[k]) if axis.hand.control == "return pump" else 0.0)
            moves.append(Prospect(
                axis.hand, float(axis.amounts[k]), worth - cost, float(alone[i].quiet[k].mean()),
                float(alone[i].roaring[k].mean()), float(bears[k].mean()),
                float(np.median(alone[i].siphon[k] - now.siphon)), float(np.median(alone[i].supply[k] - now.supply)),
                waits[k],
            ))
    stay = float(worth_of(now, few.plumbing, bearing_worth).mean())
    return Plan(
        tuple(sorted(moves, key=lambda p: (-p.worth, abs(p.amount)))), stay,
        float(bearing(now, loop_share(few.plumbing, now.supply)).mean()),
    )


def worth_of(o: Outlook, p: Plumbing, bearing_worth: float = BEARING_WORTH) -> Floats:
    """Return the worth, in moves, of standing where ``o`` is, for every guess of the plumbing ``p``."""
    loop = loop_share(p, o.supply)
    noise = (1.0 - o.quiet * bears_loop(o, loop)) * NOISE_COST + (1.0 - o.quiet) * left_to_mend(o)
    worth: Floats = bearing_worth * bearing(o, loop) - noise - ROAR_COST * o.roaring
    return worth


def heard_as(o: Outlook) -> Floats:
    """Return the chances of what is heard.

    Silence, gulps, a splash alone, trickle, faint and loud gurgle, hiss or flush, roar: shape (8, ...). They sum to
    one, and a share of ``MISHEARD`` is spread over all.
    """
    loud = o.gurgling * (np.maximum(o.channel, 1e-9) > np.exp(LOUD_GURGLE) * o.gurgle_flow)
    kinds = np.stack([
        o.quiet, o.gulping, o.over_open - o.gulping, o.trickling, o.gurgling - loud, loud, o.airless, o.roaring,
    ])
    share = (kinds + 1e-6) / (kinds + 1e-6).sum(axis=0)
    chances: Floats = (1 - MISHEARD) * share + MISHEARD / len(kinds)
    return chances


def _answered(heard: Floats, stay: Floats, answers: Floats, n: int) -> float:
    """Return the mean worth of the best answer to each thing heard; ``heard`` (8, n), ``answers`` (m, n)."""
    if_moved = (heard @ answers.T).max(axis=-1) / n - heard.mean(axis=-1)
    if_left = heard @ stay / n
    if_left[1:] = -np.inf  # what is heard must be mended
    return float(np.maximum(if_moved, if_left).sum())


def _axis(few: Guesses, rig: Rig, hand: Hand) -> _Axis:
    choices = hand.choices()
    amounts = np.array(sorted((*choices, 0.0)))
    return _Axis(hand, amounts, int(np.searchsorted(amounts, 0.0)), after_move(few, rig, hand.control, amounts))


def _rows(s: Settings, n: int) -> Settings:
    m = max(np.shape(x)[0] for x in (s.opening, s.vent, *s.speeds) if np.ndim(x) == 2)
    return Settings(
        np.broadcast_to(s.opening, (m, n)), np.broadcast_to(s.vent, (m, n)),
        tuple(np.broadcast_to(x, (m, n)) for x in s.speeds),
    )


def _crossed(a: _Axis, b: _Axis, n: int) -> Settings:
    """Return the settings after a move on ``a`` and one on ``b``; arrays of shape (moves of a, moves of b, n)."""

    def both(of_a: Floats | float, of_b: Floats | float) -> Floats:
        # Each control changes one kind of setting: where it does, that array has a row for each move.
        x, y = np.asarray(of_a, float), np.asarray(of_b, float)
        changed = x[:, None, :] if x.ndim == 2 else y[None, :, :] if y.ndim == 2 else x
        return np.broadcast_to(changed, (len(a.amounts), len(b.amounts), n))

    speeds = tuple(both(x, y) for x, y in zip(a.settings.speeds, b.settings.speeds, strict=True))
    return Settings(both(a.settings.opening, b.settings.opening), both(a.settings.vent, b.settings.vent), speeds)


def _allowed(few: Guesses, axis: _Axis, o: Outlook, now: Outlook) -> NDArray[np.bool_]:
    roaring, now_roaring = o.roaring.mean(axis=-1), float(now.roaring.mean())
    near = near_rim(few, o)
    allowed = ((roaring <= MOST_ROARING) & (near <= max(RIM_MOST_NEAR, float(near[axis.here])))) | (
        roaring < now_roaring - 1e-6
    )
    if axis.hand.control == "vent tap":
        allowed &= (axis.settings.vent <= SHUT_TAP).mean(axis=-1) <= MOST_SHUT
    result: NDArray[np.bool_] = allowed
    return result
