"""A return pump against its line.

The curve is H = h0 s^2 - b Q^2: head at no flow h0, loss b inside the pump, speed s as a share of full
speed. It obeys the affinity laws (flow as s, head as s^2) exactly. Real curves of small pumps are a little
flatter or steeper; ``fit_curve`` tells by how much they miss.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np


@dataclass(frozen=True, slots=True)
class CurveFit:
    """A pump curve fitted to points: head at no flow, loss per flow squared (s2/m5), worst miss in metres of head."""

    shutoff_m: float
    loss: float
    worst_miss_m: float


def curve_of_label(flow_m3_s: Any, head_m: Any) -> tuple[Any, Any]:
    """Return (h0, b) of the curve through a label's two figures: flow at no head and head at no flow."""
    return head_m, head_m / flow_m3_s**2


def fit_curve(points: tuple[tuple[float, float], ...]) -> CurveFit:
    """Fit h0 and b to points of (head m, flow m3/s) by least squares in head over flow squared.

    >>> fit = fit_curve(((3.0, 0.0), (2.25, 0.0005), (0.0, 0.001)))
    >>> round(fit.shutoff_m, 3), round(fit.worst_miss_m, 3)
    (3.0, 0.0)
    """
    head, flow = (np.array(column, dtype=float) for column in zip(*points, strict=True))
    slope, shutoff = np.polyfit(flow**2, head, 1)
    miss = np.abs(shutoff + slope * flow**2 - head).max()
    return CurveFit(float(shutoff), float(-slope), float(miss))


def pump_head_m(shutoff_m: Any, loss: Any, flow_m3_s: Any, speed: Any) -> Any:
    """Return the head of a pump at a flow and speed."""
    return shutoff_m * speed**2 - loss * flow_m3_s**2


def operating_flow_m3_s(shutoff_m: Any, loss: Any, static_head_m: Any, line_loss: Any, speed: Any) -> Any:
    """Return the flow where the pump's head meets static head + line loss x Q^2; 0 where it cannot lift the water."""
    spare = np.maximum(shutoff_m * speed**2 - static_head_m, 0.0)
    return np.sqrt(spare / (loss + line_loss))


def speed_for_flow(shutoff_m: Any, loss: Any, static_head_m: Any, line_loss: Any, flow_m3_s: Any) -> Any:
    """Return the speed (share of full speed, may exceed 1) at which the pump gives ``flow_m3_s``."""
    return np.sqrt((static_head_m + (loss + line_loss) * flow_m3_s**2) / shutoff_m)
