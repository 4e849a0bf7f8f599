"""Loss of a throttled valve against its opening, with the spread between handbooks.

A loss coefficient K is the head lost as a multiple of V^2/2g in the pipe. Opening is the share of the whole
travel, 0 closed to 1 open: turns of a gate valve, or angle of a ball valve, divided by the full setting.

Sources. Gate, at 1/4, 1/2, 3/4 and full opening: a Perry-type table 24, 4.5, 0.9, 0.17; an older water-works
table (King) 24.0, 5.6, 1.15, 0.19; White/Munson 17, 2.1, 0.26, 0.15. The curve used is their geometric
mean. At 1/8 opening: 97.8 (Weisbach, as engineering tables repeat it). Ball: the plug-cock column of the
Perry-type table, 0.05, 0.29, 1.56, 17.3, 206 at 5, 10, 20, 40 and 60 degrees closed, and 0.04 when full.
Valves of one type and size differ considerably between makes (Zappe, Valve Selection Handbook), so that
every use carries the spread: one standard deviation of log10 K, widest (a factor of 2) at 3/4 of a gate.
Between the table's points log10 K follows a monotone cubic (Fritsch and Carlson 1980); below the lowest
point it is extrapolated as a power of the opening.
"""

from __future__ import annotations

from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

ValveKind = Literal["gate", "ball"]

GATE_OPENING = (0.125, 0.25, 0.5, 0.75, 1.0)
GATE_K = (97.8, 21.4, 3.75, 0.646, 0.17)
GATE_SPREAD = (0.20, 0.12, 0.20, 0.32, 0.25)  # of log10 K
BALL_OPENING = tuple(1 - a / 90 for a in (60, 40, 20, 10, 5, 0))
BALL_K = (206.0, 17.3, 1.56, 0.29, 0.05, 0.04)
BALL_SPREAD = (0.15, 0.12, 0.12, 0.12, 0.12, 0.12)
GRID_POINTS = 801
SMALLEST_OPENING = 1e-3  # a valve opened less than this is counted as closed


def _monotone_slopes(x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return node slopes of the monotone cubic of Fritsch and Carlson, weighted harmonic mean form."""
    h, d = np.diff(x), np.diff(y) / np.diff(x)
    slopes = np.empty_like(y)
    slopes[0], slopes[-1] = d[0], d[-1]
    same_sign = d[:-1] * d[1:] > 0
    w1, w2 = 2 * h[1:] + h[:-1], h[1:] + 2 * h[:-1]
    safe = np.where(same_sign, d[:-1] * d[1:], 1.0)
    slopes[1:-1] = np.where(same_sign, (w1 + w2) * safe / (w1 * d[1:] + w2 * d[:-1] + (~same_sign)), 0.0)
    return slopes


def monotone_cubic(x: ArrayLike, nodes_x: ArrayLike, nodes_y: ArrayLike) -> NDArray[np.float64]:
    """Interpolate through the nodes without overshoot (Fritsch and Carlson 1980); end slopes are carried on outside.

    >>> monotone_cubic([0.5], [0.0, 1.0, 2.0], [0.0, 1.0, 2.0])
    array([0.5])
    """
    at, nx, ny = np.asarray(x, float), np.asarray(nodes_x, float), np.asarray(nodes_y, float)
    slopes = _monotone_slopes(nx, ny)
    i = np.clip(np.searchsorted(nx, at) - 1, 0, nx.size - 2)
    h = nx[i + 1] - nx[i]
    t = (at - nx[i]) / h
    inner = (
        ny[i] * (1 + 2 * t) * (1 - t) ** 2 + slopes[i] * h * t * (1 - t) ** 2
        + ny[i + 1] * t**2 * (3 - 2 * t) + slopes[i + 1] * h * t**2 * (t - 1)
    )
    below, above = ny[0] + slopes[0] * (at - nx[0]), ny[-1] + slopes[-1] * (at - nx[-1])
    result: NDArray[np.float64] = np.where(at < nx[0], below, np.where(at > nx[-1], above, inner))
    return result


def _curve(opening: Any, k: Any, spread: Any) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Tabulate opening, mean log10 K and its spread on a fine grid, once."""
    grid = np.linspace(0.0, 1.0, GRID_POINTS)
    grid[0] = SMALLEST_OPENING
    x, y = np.asarray(opening, float), np.log10(np.asarray(k, float))
    mean = monotone_cubic(grid, x, y)
    power = (y[1] - y[0]) / (np.log10(x[1]) - np.log10(x[0]))
    low = grid < x[0]
    mean[low] = y[0] + power * (np.log10(grid[low]) - np.log10(x[0]))
    return grid, mean, np.interp(grid, x, np.asarray(spread, float))


_CURVES = {"gate": _curve(GATE_OPENING, GATE_K, GATE_SPREAD), "ball": _curve(BALL_OPENING, BALL_K, BALL_SPREAD)}


def valve_loss_k(kind: ValveKind, opening: Any, deviation: Any = 0.0) -> Any:
    """Return K of a valve at an opening (0-1); infinite when closed.

    ``deviation`` moves the whole curve by that many standard deviations of the handbooks' spread (-2.5 to 2.5
    keeps it monotone). Openings outside 0-1 are refused by ``opening_of``; here they are taken as closed or full.

    >>> round(float(valve_loss_k("gate", 0.25)), 1), round(float(valve_loss_k("ball", 1 - 40 / 90)), 1)
    (21.4, 17.3)
    """
    grid, mean, spread = _CURVES[kind]
    at = np.asarray(opening, float)
    log_k = np.interp(at, grid, mean) + deviation * np.interp(at, grid, spread)
    return np.where(at > SMALLEST_OPENING, 10.0**log_k, np.inf)


def valve_opening_for_k(kind: ValveKind, k: Any, deviation: Any = 0.0) -> NDArray[np.float64]:
    """Return the opening (0-1) at which the valve has the loss ``k``; NaN where even the full valve loses more.

    Inverse of ``valve_loss_k``. ``k`` and ``deviation`` broadcast to shape (n,).

    >>> round(float(valve_opening_for_k("gate", 21.4)), 3)
    0.25
    """
    grid, mean, spread = _CURVES[kind]
    k_, dev = np.broadcast_arrays(np.asarray(k, float), np.asarray(deviation, float))
    wanted = np.log10(np.where(k_ > 0, k_, 1e-9))
    low, high = np.zeros(wanted.shape, dtype=np.intp), np.full(wanted.shape, grid.size - 1)
    for _ in range(int(np.ceil(np.log2(grid.size)))):
        middle = (low + high) // 2
        loses_more = mean[middle] + dev * spread[middle] > wanted
        low, high = np.where(loses_more, middle, low), np.where(loses_more, high, middle)
    high = np.minimum(low + 1, grid.size - 1)
    at_low, at_high = mean[low] + dev * spread[low], mean[high] + dev * spread[high]
    rise = at_high - at_low
    part = np.where(rise != 0, (wanted - at_low) / np.where(rise != 0, rise, 1.0), 0.0)
    opening = grid[low] + np.clip(part, 0.0, 1.0) * (grid[high] - grid[low])
    full = mean[-1] + dev * spread[-1]
    return np.where((k_ > 0) & (wanted >= full), opening, np.nan)
