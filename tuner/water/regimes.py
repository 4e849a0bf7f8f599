"""How a vertical drain flows: self-venting, entraining or full; and what a vented stack can carry."""

from __future__ import annotations

from typing import Any, Literal

import numpy as np

from tuner.water.pipes import GRAVITY_M_S2, pipe_area_m2

DrainRegime = Literal["self-venting", "entraining", "pulsating or full", "full"]
SELF_VENTING_FROUDE = 0.3
FULL_POSSIBLE_FROUDE = 1.0
FULL_SAFE_FROUDE = 2.0
REGIME_SPREAD = 0.15  # relative standard deviation of a regime's limit: entry shape, elbows, small bore


def froude(flow_m3_s: Any, diameter_m: Any) -> Any:
    """Return V/sqrt(gD) with V the speed as if the water filled the bore.

    (Some pages print V^2/(gD) with the same limit of 0.3; the square root is meant: Hills 1983, Simpson 1968.)

    >>> round(froude(36 / 3600, 0.180), 3)
    0.296
    """
    return flow_m3_s / pipe_area_m2(diameter_m) / np.sqrt(GRAVITY_M_S2 * diameter_m)


def flow_at_froude_m3_s(froude_number: Any, diameter_m: Any) -> Any:
    """Return the flow at which a pipe reaches a Froude number.

    >>> round(float(flow_at_froude_m3_s(0.3, 0.02664)) * 3.6e6)
    308
    """
    return froude_number * pipe_area_m2(diameter_m) * np.sqrt(GRAVITY_M_S2 * diameter_m)


def drain_regime(flow_m3_s: float, diameter_m: float) -> DrainRegime:
    """Return the regime of a vertical drain that nothing vents or throttles.

    Below a Froude number of 0.3 air rises against the water (self-venting); to 1 air is dragged down in
    pulses; above 1 friction can hold the pipe full; above 2 all gas is swept down. Limits are uncertain by
    20-30 % in small pipes.
    """
    fr = float(froude(flow_m3_s, diameter_m))
    if fr < SELF_VENTING_FROUDE:
        return "self-venting"
    if fr < FULL_POSSIBLE_FROUDE:
        return "entraining"
    return "pulsating or full" if fr < FULL_SAFE_FROUDE else "full"
