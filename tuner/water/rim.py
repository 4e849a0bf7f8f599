"""Flow into an open pipe over its rim, before it primes: first a round weir, then an orifice."""

from __future__ import annotations

from typing import Any

import numpy as np

from tuner.water.pipes import GRAVITY_M_S2, pipe_area_m2

RIM_COEFFICIENT = 0.6
CREST_FLOW, CREST_POWER = 0.48, 1.9  # fitted to exact critical flow in a round section
NEARLY_FULL = 0.75  # of the bore: below, the orifice form does not apply


def rim_flow_m3_s(head_m: Any, diameter_m: Any) -> Any:
    """Return the flow over the rim of an unprimed upright pipe under ``head_m`` over the rim.

    The smaller of weir flow (2/3) 0.6 sqrt(2g) pi D h^1.5 and orifice flow 0.6 A sqrt(2gh): the usual forms
    of a drop-inlet spillway, good to 25 %. A pipe that primes carries more; a safety case does not count on it.
    """
    h = np.maximum(head_m, 0.0)
    root = np.sqrt(2 * GRAVITY_M_S2)
    weir = 2 / 3 * RIM_COEFFICIENT * root * np.pi * diameter_m * h**1.5
    orifice = RIM_COEFFICIENT * pipe_area_m2(diameter_m) * root * np.sqrt(h)
    return np.minimum(weir, orifice)


def rim_head_m(flow_m3_s: Any, diameter_m: Any) -> Any:
    """Return the head over the rim that passes ``flow_m3_s``: the larger of the weir's and the orifice's.

    >>> round(float(rim_head_m(4000 / 3.6e6, 0.02664)) * 1e3)
    563
    """
    root = np.sqrt(2 * GRAVITY_M_S2)
    weir = (flow_m3_s / (2 / 3 * RIM_COEFFICIENT * root * np.pi * diameter_m)) ** (2 / 3)
    orifice = (flow_m3_s / (RIM_COEFFICIENT * pipe_area_m2(diameter_m) * root)) ** 2
    return np.maximum(weir, orifice)


def crest_flow_m3_s(head_m: Any, diameter_m: Any) -> Any:
    """Return the flow over the crest inside a turned-down elbow (a round bore lying level) under ``head_m``.

    Critical flow in a round section, Q = 0.48 sqrt(g D^5) (H/D)^1.9, a power law fitted to Q^2 T = g A^3 with
    H = depth + A/(2T) (within 8 % from 0.05 to 1 D); higher up an orifice of the bore under the head on its
    centre. Limits: bores under 50 mm lie outside every test, so that the crest carries a spread of 15 %.
    """
    h = np.maximum(head_m, 0.0)
    weir = CREST_FLOW * np.sqrt(GRAVITY_M_S2 * diameter_m**5) * (h / diameter_m) ** CREST_POWER
    over = np.maximum(h - diameter_m / 2, 0.0)
    orifice = RIM_COEFFICIENT * pipe_area_m2(diameter_m) * np.sqrt(2 * GRAVITY_M_S2 * over)
    return np.where(h < NEARLY_FULL * diameter_m, weir, np.minimum(weir, orifice))


def crest_head_m(flow_m3_s: Any, diameter_m: Any) -> Any:
    """Return the head over the crest that passes ``flow_m3_s``: inverse of ``crest_flow_m3_s``."""
    weir = diameter_m * (flow_m3_s / (CREST_FLOW * np.sqrt(GRAVITY_M_S2 * diameter_m**5))) ** (1 / CREST_POWER)
    orifice = (flow_m3_s / (RIM_COEFFICIENT * pipe_area_m2(diameter_m))) ** 2 / (2 * GRAVITY_M_S2) + diameter_m / 2
    return np.where(weir < NEARLY_FULL * diameter_m, weir, np.maximum(weir, orifice))
