"""Verdicts on a failure: the numbers, whether the water stays in, what to measure, and what would mend it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from tuner.rig import Rig, measures, walk
from tuner.rigfile import key_of
from tuner.units import flow_text, length_text, volume_text
from tuner.water.band import Band, band_of, share_of

Verdict = Literal["holds", "holds narrowly", "cannot tell", "does not hold"]
VERDICTS: tuple[Verdict, ...] = ("holds", "holds narrowly", "cannot tell", "does not hold")  # best first
NumberUnit = Literal["m", "m3", "m3/s", "s", ""]
SURE, UNLIKELY = 0.95, 0.10  # shares of draws


@dataclass(frozen=True, slots=True)
class Number:
    """One figure of a case with its band, in SI."""

    name: str
    band: Band
    unit: NumberUnit

    def text(self, *, us: bool = False) -> str:
        """Return the figure for people, as "low to high".

        >>> Number("level", Band(0.17, 0.18, 0.19), "m").text()
        '170 mm to 190 mm'
        """
        low, high = (_unit_text(v, self.unit, us) for v in (self.band.low, self.band.high))
        return low if low == high else f"{low} to {high}"


def _unit_text(value: float, unit: NumberUnit, us: bool) -> str:
    if unit == "m":
        return length_text(value, us=us)
    if unit == "m3":
        return volume_text(value, us=us)
    if unit == "m3/s":
        return flow_text(value, us=us)
    return f"{value:.3g} {unit}".strip()


@dataclass(frozen=True, slots=True)
class FloodCase:
    """One failure and its verdict.

    ``says`` is the outcome in a sentence or two, ``hold_share`` the share of draws in which the water stays in,
    ``mend`` what would mend or widen it (smallest effort first), ``measure`` what to measure when nobody can tell.
    """

    name: str
    verdict: Verdict
    says: str
    numbers: tuple[Number, ...]
    hold_share: float
    mend: tuple[str, ...] = ()
    measure: tuple[str, ...] = ()


def number(name: str, values: Any, unit: NumberUnit, weights: NDArray[np.float64] | None) -> Number:
    """Return the figure of sampled values (n,); NaN where no draw has one."""
    array = np.atleast_1d(np.asarray(values, float))
    if weights is not None:
        array = np.broadcast_to(array, weights.shape)
    return Number(name, band_of(array, weights) or Band(np.nan, np.nan, np.nan), unit)


def worst_of(verdicts: Sequence[Verdict]) -> Verdict:
    """Return the worst of some verdicts.

    >>> worst_of(["holds", "cannot tell", "holds narrowly"])
    'cannot tell'
    """
    return max(verdicts, key=VERDICTS.index)


def judge(
    margin: Any, narrow: Any, assumed: bool, weights: NDArray[np.float64] | None, hoped_margin: Any | None = None
) -> tuple[Verdict, float]:
    """Return the verdict on a sampled margin (n,) and the share of draws that hold.

    At least 95 % of draws must hold (with more than ``narrow`` to spare: "holds"). Fewer than 10 %: "does not
    hold". Between, with figures only ``assumed``, or with a ``hoped_margin`` that does hold (one that counts on
    a pipe to prime), nobody can tell without measuring or an attended test.
    """
    share = share_of(np.asarray(margin) > 0, weights)
    if share >= SURE:
        spare = share_of(np.asarray(margin) > narrow, weights)
        return ("holds" if spare >= SURE else "holds narrowly"), share
    if hoped_margin is not None and share_of(np.asarray(hoped_margin) > 0, weights) >= SURE:
        return "cannot tell", share
    if share < UNLIKELY or (share < 0.5 and not assumed):
        return "does not hold", share
    return "cannot tell", share


def to_measure(rig: Rig, dotted: Sequence[str], most: int) -> tuple[str, ...]:
    """Return, for those of the fields that are only assumed, how to measure them; at most ``most``."""
    parts = dict(walk(rig))
    found: list[str] = []
    for name in dotted:
        head, _, tail = name.rpartition(".")
        if name in rig.assumed and len(found) < most:
            found.append(f"{head}.{key_of(tail)}: {measures(parts[head])[tail].how}")
    return tuple(found)
