"""How a vertical drain flows: self-venting, entraining or full; and what a vented stack can carry."""

from __future__ import annotations

from typing import Any, Literal

import numpy as np

from tuner.water.band import Estimate
from tuner.water.pipes import GRAVITY_M_S2, pipe_area_m2

DrainRegime = Literal["self-venting", "entraining", "pulsating or full", "full"]
SELF_VENTING_FROUDE = 0.3
FULL_POSSIBLE_FROUDE = 1.0
FULL_SAFE_FROUDE = 2.0


def froude(flow_m3_s: Any, diameter_m: Any) -> Any:
    """Return V/sqrt(gD) with V the speed as if the water filled the bore.

    (Some pages print V^2/(gD) with the same limit of 0.3; the square root is meant: Hills 1983, Simpson 1968.)

    >>> round(float(froude(36 / 3600, 0.180)), 3)
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


STACK_LOWEST_M, STACK_HIGHEST_M = 0.0762, 0.1524  # 3 to 6 in: the bores that the tests covered
STACK_SPREAD = 0.20
EN_ROUGHNESS_MM = 0.25
_GPM_M3_S, _INCH_M, _FOOT_M = 231 * 0.0254**3 / 60, 0.0254, 0.3048


def stack_capacity_wyly_eaton_m3_s(diameter_m: Any, fill: Any) -> Any:
    """Return the capacity of a vented stack whose film fills the share ``fill`` of its bore.

    q = 27.8 r^(5/3) d^(8/3) in gal/min and inches (Wyly and Eaton, NBS Monograph 31, 1961). Limits: long,
    straight, vented cast-iron stacks of 3-6 in, fill 1/4 to 1/3; smaller bores are an extrapolation, 20 %. It is
    a capacity with air supplied from above, not a quiet flow: at 1/4 full the Froude number is 0.7.

    >>> round(float(stack_capacity_wyly_eaton_m3_s(4 * 0.0254, 7 / 24)) / 6.30902e-5, 1)
    143.8
    """
    return 27.8 * fill ** (5 / 3) * (diameter_m / _INCH_M) ** (8 / 3) * _GPM_M3_S


def terminal_velocity_wyly_eaton_m_s(flow_m3_s: Any, diameter_m: Any) -> Any:
    """Return the terminal velocity of a falling film, 3.0 (q/d)^(2/5) in ft/s (Wyly and Eaton); limits as there."""
    return 3.0 * (flow_m3_s / _GPM_M3_S / (diameter_m / _INCH_M)) ** 0.4 * _FOOT_M


def terminal_length_wyly_eaton_m(terminal_velocity_m_s: Any) -> Any:
    """Return the fall needed to reach the terminal velocity, 0.052 V^2 in feet (Wyly and Eaton)."""
    return 0.052 * (terminal_velocity_m_s / _FOOT_M) ** 2 * _FOOT_M


def stack_capacity_en12056_m3_s(diameter_m: Any, fill: Any) -> Any:
    """Return the capacity of a rainwater downpipe by EN 12056-3 (Wyly and Eaton), roughness 0.25 mm.

    Q[L/s] = 2.5e-4 k^-0.167 d[mm]^2.667 f^1.667. Limits: fill 0.20 to 0.33.

    >>> round(float(stack_capacity_en12056_m3_s(0.1, 0.33)) * 1e3, 2)
    10.71
    """
    return 2.5e-4 * EN_ROUGHNESS_MM**-0.167 * (diameter_m * 1e3) ** 2.667 * fill**1.667 * 1e-3


def stack_capacity(diameter_m: float, fill: float) -> Estimate:
    """Return the vented capacity with its band and whether the bore lies within the tests."""
    value = float(stack_capacity_wyly_eaton_m3_s(diameter_m, fill))
    within = STACK_LOWEST_M <= diameter_m <= STACK_HIGHEST_M and 0.25 <= fill <= 1 / 3 + 1e-9
    note = "" if within else "stacks were tested from 3 to 6 inches; this bore is an extrapolation"
    return Estimate(value, value * (1 - STACK_SPREAD), value * (1 + STACK_SPREAD), within, note)


def self_venting_diameter_m(flow_m3_s: Any) -> Any:
    """Return D[in] = 0.92 Q[gal/min]^0.4 (Simpson 1968), the bore that vents itself: a Froude number of 0.307."""
    return 0.92 * (flow_m3_s / _GPM_M3_S) ** 0.4 * _INCH_M
