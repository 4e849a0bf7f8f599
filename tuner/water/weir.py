"""Flow over the edge of the tank: sharp-crested rectangular weirs.

An overflow's edge runs at heads of 5-20 mm, below the range of every standard, where surface tension and a
clinging sheet matter. ``weir_flow`` and ``weir_head`` therefore give a band: 5 % where the standards hold,
15 % at 20 mm, 25 % at 10 mm and 35 % at 5 mm. A toothed edge counts with its open share of the length; the
end contractions of Francis are not taken off slot by slot, which would lie outside their own limits.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from tuner.water.band import Estimate
from tuner.water.pipes import GRAVITY_M_S2

STANDARD_HEAD_M = 0.03
BAND_HEADS_M = (0.005, 0.010, 0.020, 0.030)
BAND_SHARES = (0.35, 0.25, 0.15, 0.05)
_ROOT = 2 / 3 * np.sqrt(2 * GRAVITY_M_S2)


def weir_flow_francis(head_m: Any, length_m: Any, end_contractions: int) -> Any:
    """Return Q = 1.84 (b - 0.1 n h) h^1.5 by Francis, n = 0, 1 or 2 contracted ends.

    Limits: length over three heads; laboratory heads of 0.18-0.5 m.

    >>> round(float(weir_flow_francis(0.20, 1.407, 2)), 4)
    0.225
    """
    return 1.84 * (length_m - 0.1 * end_contractions * head_m) * head_m**1.5


def weir_flow_rehbock(head_m: Any, length_m: Any, height_m: Any) -> Any:
    """Return the flow by Rehbock with the constants 0.602, 0.0832 and 1.25 mm that Blevins (1984) gives.

    Other sets are in print (0.602, 0.083, 1.2 mm in ISO 1438); they differ by 4 % at 10 mm. ``height_m`` is the
    edge over the floor before it. Limits: head 0.03-0.75 m, height over 0.1 m, length over 0.3 m, h/p up to 1.

    >>> round(float(weir_flow_rehbock(0.3, 2.0, 0.4)), 5)
    0.64869
    """
    return (0.602 + 0.0832 * head_m / height_m) * _ROOT * length_m * (head_m + 0.00125) ** 1.5


def weir_flow_kindsvater_carter(head_m: Any, length_m: Any, height_m: Any) -> Any:
    """Return the flow of a weir over the full width by Kindsvater and Carter (1957).

    Ce = 0.602 + 0.075 h/p, head + 1 mm, length - 1 mm (as ``fluids``). Limits: head over 0.03 m, length over
    0.15 m, height over 0.1 m, h/p below 2.

    >>> round(float(weir_flow_kindsvater_carter(0.3, 2.0, 0.4)), 5)
    0.64156
    """
    return (0.602 + 0.075 * head_m / height_m) * _ROOT * (length_m - 0.001) * (head_m + 0.001) ** 1.5


def weir_head_kindsvater_carter(flow_m3_s: Any, length_m: Any, height_m: Any) -> Any:
    """Return the head that passes ``flow_m3_s``: inverse of ``weir_flow_kindsvater_carter``; 0 for flows that creep.

    >>> round(float(weir_head_kindsvater_carter(weir_flow_kindsvater_carter(0.015, 0.3, 0.3), 0.3, 0.3)), 6)
    0.015
    """
    head: Any = 0.0
    for _ in range(8):
        ce = 0.602 + 0.075 * head / height_m
        head = np.maximum((flow_m3_s / (ce * _ROOT * (length_m - 0.001))) ** (2 / 3) - 0.001, 0.0)
    return head


def within_weir_standards(head_m: float, length_m: float, height_m: float) -> bool:
    """Tell whether a weir lies within the limits of Kindsvater and Carter."""
    return head_m > STANDARD_HEAD_M and length_m > 0.15 and height_m > 0.1 and head_m / height_m < 2


def _share(head_m: float) -> float:
    return float(np.interp(head_m, BAND_HEADS_M, BAND_SHARES))


def weir_flow(head_m: float, length_m: float, height_m: float, open_share: float = 1.0) -> Estimate:
    """Return the flow over an edge of which ``open_share`` is open, with its band."""
    flow = float(weir_flow_kindsvater_carter(head_m, length_m * open_share, height_m))
    share, within = _share(head_m), within_weir_standards(head_m, length_m, height_m)
    return Estimate(flow, flow * (1 - share), flow * (1 + share), within, _note(within, head_m))


def weir_head(flow_m3_s: float, length_m: float, height_m: float, open_share: float = 1.0) -> Estimate:
    """Return the head over an edge of which ``open_share`` is open, with its band."""
    head = float(weir_head_kindsvater_carter(flow_m3_s, length_m * open_share, height_m))
    share, within = _share(head), within_weir_standards(head, length_m, height_m)
    low, high = head * (1 + share) ** (-2 / 3), head * (1 - share) ** (-2 / 3)
    return Estimate(head, low, high, within, _note(within, head))


def _note(within: bool, head_m: float) -> str:
    if within:
        return ""
    return f"a head of {head_m * 1e3:.0f} mm lies outside the standards for weirs: {_share(head_m):.0%} either way"


def nappe_speed_m_s(fall_m: Any) -> Any:
    """Return the speed of a falling sheet, sqrt(2gz); above about 1 m/s it drags air under (splash)."""
    return np.sqrt(2 * GRAVITY_M_S2 * fall_m)
