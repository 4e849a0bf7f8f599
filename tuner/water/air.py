"""Air through holes and taps, the air that a falling film takes along, and trapped air leaving a pipe."""

from __future__ import annotations

from typing import Any

import numpy as np

from tuner.water.band import Estimate
from tuner.water.pipes import GRAVITY_M_S2

AIR_DENSITY_KG_M3 = 1.184  # 25 degrees Celsius, 101.325 kPa
AIR_VISCOSITY_PA_S = 1.849e-5
NO_HOLE_M2 = 1e-12
HOLE_DISCHARGE = 0.61  # sharp-edged hole


def hole_air_flow_m3_s(area_m2: Any, pressure_pa: Any, discharge: Any = HOLE_DISCHARGE) -> Any:
    """Return the air flow through a hole, Q = Cd A sqrt(2 dp/rho), without compression.

    Limits: error 0.5 % at 1 kPa, 2.7 % at 5 kPa; below a Reynolds number of 1000 (a 1 mm hole under 150 Pa)
    Cd falls and the result is uncertain by 20 %.

    >>> round(float(hole_air_flow_m3_s(np.pi / 4 * 0.006**2, 100.0)) * 60e3, 1)
    13.5
    """
    return discharge * area_m2 * np.sqrt(2 * pressure_pa / AIR_DENSITY_KG_M3)


def hole_pressure_pa(air_flow_m3_s: Any, area_m2: Any, discharge: Any = HOLE_DISCHARGE) -> Any:
    """Return the pressure difference that drives ``air_flow_m3_s`` through a hole; infinite for no hole.

    A hole of less than a millionth of a square millimetre counts as none.
    """
    flow, area = np.broadcast_arrays(np.asarray(air_flow_m3_s, float), np.asarray(discharge * area_m2, float))
    shut = area <= NO_HOLE_M2
    speed = flow / np.where(shut, 1.0, area)
    return np.where(shut, np.where(flow > 0, np.inf, 0.0), AIR_DENSITY_KG_M3 / 2 * speed**2)


def jet_speed_m_s(pressure_pa: Any) -> Any:
    """Return the speed of the jet behind a hole, sqrt(2 dp/rho) (Bernoulli)."""
    return np.sqrt(2 * np.asarray(pressure_pa) / AIR_DENSITY_KG_M3)


def pressure_as_water_m(pressure_pa: Any, density_kg_m3: Any) -> Any:
    """Return a pressure as metres of water."""
    return pressure_pa / (density_kg_m3 * GRAVITY_M_S2)


WETTED_SLOWDOWN = 29.0  # sqrt(water density / air density): how much slower water leaves a hole than air
CLEARING_FROUDE = (0.5, 1.075, 1.29)  # helps, Wisner (vertical), Escarameia (vertical) with its safety factor 1.1


def film_air_bound_m3_s(water_flow_m3_s: Any, fill: Any) -> Any:
    """Return the most air that a film takes along, Q (1-r)/r: air as fast as the film fills the rest of the bore.

    >>> round(film_air_bound_m3_s(1.0, 0.25), 1)
    3.0
    """
    return water_flow_m3_s * (1 - fill) / fill


def bleed_purge_time_s(hole_m: Any, air_m3: Any, head_m: Any, water_density_kg_m3: float) -> Any:
    """Return how long ``head_m`` of water takes to push trapped air out through a dry bleed hole.

    Q = Cd A sqrt(2 rho_w g h / rho_air). Infinite without a hole. Water in the hole makes it about 29 times slower.

    >>> round(float(bleed_purge_time_s(0.002, 0.0004, 0.05, 998.0)), 1)
    7.3
    """
    flow = hole_air_flow_m3_s(np.pi / 4 * hole_m**2, water_density_kg_m3 * GRAVITY_M_S2 * head_m)
    return np.where(flow > 0, air_m3 / np.where(flow > 0, flow, 1.0), np.inf)


def clearing_speed(diameter_m: float) -> Estimate:
    """Return the water speed that sweeps a pocket of air down a vertical pipe.

    V/sqrt(gD) of 0.5 helps (Hills), 1.075 clears (Wisner, Mohsen and Kouwen 1975, at 90 degrees), 1.29 clears
    with margin (Escarameia, HR Wallingford). All are extrapolated to vertical pipes and to bores under 50 mm.
    """
    root = float(np.sqrt(GRAVITY_M_S2 * diameter_m))
    low, value, high = (f * root for f in CLEARING_FROUDE)
    return Estimate(value, low, high, False, "tested in larger pipes of small slope: 0.5 helps, 1.3 clears")


def tube_air_flow_poiseuille_m3_s(diameter_m: Any, length_m: Any, pressure_pa: Any) -> Any:
    """Return the laminar air flow of a thin tube, pi d^4 dp/(128 mu L) (Poiseuille); Reynolds below 2000.

    >>> round(float(tube_air_flow_poiseuille_m3_s(0.004, 1.0, 50.0)) * 60e3, 2)
    1.02
    """
    return np.pi * diameter_m**4 * pressure_pa / (128 * AIR_VISCOSITY_PA_S * length_m)
