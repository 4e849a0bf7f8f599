"""The laws of one plumbing as tables over the level, so that a step of the plant costs microseconds.

A table is built with one vectorised call of the law and read by linear interpolation; with the spacing used here the
difference from the law stays under 0.1 % of the pipe's capacity.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tuner.water import laws
from tuner.water.plumbing import Plumbing
from tuner.water.rim import crest_flow_m3_s
from tuner.water.weir import weir_flow_kindsvater_carter

Floats = NDArray[np.float64]

_POINTS = 1200
_HIGHEST_HEAD_M = 0.4  # over a crest, a rim or an edge; more would stand above any box
_SHUT_HEAD_M = 10.0  # suction given for a closed tap


class Table:
    """A function on an even grid, held at its ends."""

    __slots__ = ("_last", "_per_step", "_start", "_values")

    def __init__(self, start: float, stop: float, values: Floats) -> None:
        self._start = start
        self._per_step = (len(values) - 1) / (stop - start)
        self._values: list[float] = values.tolist()
        self._last = len(values) - 1

    def at(self, x: float) -> float:
        """Return the value at ``x``."""
        u = (x - self._start) * self._per_step
        if u <= 0.0:
            return self._values[0]
        i = int(u)
        if i >= self._last:
            return self._values[self._last]
        low = self._values[i]
        return low + (u - i) * (self._values[i + 1] - low)


def _grid(start: float, stop: float) -> Floats:
    return np.linspace(start, stop, _POINTS + 1)


def _over_an_edge(law: Floats, stop: float) -> Table:
    return Table(0.0, stop, law)


@dataclass(slots=True)
class Tables:
    """All flows that depend on a level or a setting; the settings change their tables and nothing else."""

    plumbing: Plumbing
    siphon: Table
    full_channel: Table
    film: Table
    suction: Table
    emergency: Table
    weir: Table
    spill: Table

    def turn_valve(self, opening: float) -> None:
        """Follow the siphon's valve."""
        self.siphon = siphon_table(self.plumbing, opening)

    def turn_vent(self, opening: float) -> None:
        """Follow the air tap."""
        self.suction = suction_table(self.plumbing, opening)


def siphon_table(p: Plumbing, opening: float) -> Table:
    """Tabulate the full siphon over the box level, down to levels that give no head."""
    low, high = p.crest_height_m - p.siphon_drop_m, p.crest_height_m + _HIGHEST_HEAD_M
    return Table(low, high, np.asarray(laws.siphon_flow_m3_s(p, _grid(low, high), opening)))


def suction_table(p: Plumbing, opening: float) -> Table:
    """Tabulate the suction at the channel's elbow over the flow of its film."""
    high = 8.0 * float(laws.gurgle_flow_m3_s(p))
    suction = np.asarray(laws.vent_suction_m(p, _grid(0.0, high), opening))
    return Table(0.0, high, np.minimum(suction, _SHUT_HEAD_M))


def edge_flow_m3_s(p: Plumbing, head_m: Floats) -> Floats:
    """Return the flow over the overflow's edge (Kindsvater and Carter, its 1 mm of extra head taken off at rest).

    An edge of teeth counts with its open share. Heads of 5-20 mm lie below the formula's validity (h > 30 mm): the
    installation's ``weir_share`` carries the uncertainty.
    """
    h = np.maximum(head_m, 0.0)
    width = p.weir_length_m * p.weir_open_share
    flow = weir_flow_kindsvater_carter(h, width, p.weir_height_m) - weir_flow_kindsvater_carter(0.0, width, 1.0)
    return np.asarray(p.weir_share * flow)


def make_tables(p: Plumbing, valve: float, vent: float) -> Tables:
    """Tabulate the laws of ``p`` at a valve and a vent opening (0-1)."""
    head = _grid(0.0, _HIGHEST_HEAD_M)
    low, high = p.crest_height_m - p.channel_drop_m, p.crest_height_m + _HIGHEST_HEAD_M
    level = _grid(low, high)
    crest = np.asarray(laws.channel_crest_flow_m3_s(p, p.crest_height_m + head, 0.0))
    rim = np.asarray(laws.emergency_flow_m3_s(p, p.emergency_rim_height_m + head))
    return Tables(
        plumbing=p,
        siphon=siphon_table(p, valve),
        full_channel=Table(low, high, np.asarray(laws.channel_siphon_flow_m3_s(p, level))),
        film=_over_an_edge(crest, _HIGHEST_HEAD_M),
        suction=suction_table(p, vent),
        emergency=_over_an_edge(rim, _HIGHEST_HEAD_M),
        weir=_over_an_edge(edge_flow_m3_s(p, head), _HIGHEST_HEAD_M),
        spill=_over_an_edge(np.asarray(crest_flow_m3_s(head, p.siphon_diameter_m)), _HIGHEST_HEAD_M),
    )
