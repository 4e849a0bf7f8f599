"""Density and viscosity of the water in the tank.

Fresh water: density by Kell (1975), viscosity by the four-term form of IAPWS R12-08 at 0.1 MPa. Sea water
of practical salinity 35: density by TEOS-10 through ``gsw`` (imported on first use), viscosity by
Sharqawy, Lienhard and Zubair (2010).
"""

from __future__ import annotations

from typing import Literal

WaterKind = Literal["fresh", "marine"]
REEF_SALINITY_PSU = 35.0


def fresh_density_kell_kg_m3(temperature_c: float) -> float:
    """Return the density of air-free fresh water at 1 atm by Kell (1975); 0 to 100 degrees, within 0.01 kg/m3.

    >>> round(fresh_density_kell_kg_m3(25.0), 2)
    997.05
    """
    t = temperature_c
    top = 999.83952 + t * (
        16.945176 + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * (105.56302e-9 - 280.54253e-12 * t)))
    )
    return top / (1 + 16.879850e-3 * t)


def fresh_viscosity_iapws_pa_s(temperature_c: float) -> float:
    """Return the viscosity of fresh water at 0.1 MPa, the simplified form of IAPWS R12-08; 253 to 383 K, 1 %.

    >>> round(fresh_viscosity_iapws_pa_s(25.0) * 1e6)
    890
    """
    reduced = (temperature_c + 273.15) / 300.0
    terms = ((280.68, -1.9), (511.45, -7.7), (61.131, -19.6), (0.45903, -40.0))
    return float(sum(a * reduced**b for a, b in terms)) * 1e-6


def sea_density_teos10_kg_m3(temperature_c: float, salinity_psu: float = REEF_SALINITY_PSU) -> float:
    """Return the density of surface sea water of reference composition by TEOS-10 (``gsw``).

    >>> round(sea_density_teos10_kg_m3(25.0), 2)
    1023.34
    """
    import gsw

    absolute = salinity_psu * 35.16504 / 35.0  # reference composition: no regional anomaly in a tank
    return float(gsw.rho(absolute, gsw.CT_from_t(absolute, temperature_c, 0.0), 0.0))


def sea_viscosity_sharqawy_pa_s(temperature_c: float, salinity_psu: float = REEF_SALINITY_PSU) -> float:
    """Return the viscosity of sea water by Sharqawy et al. (2010); 0 to 180 degrees, 0 to 150 g/kg, 1.5 %.

    >>> round(sea_viscosity_sharqawy_pa_s(25.0) * 1e6)
    959
    """
    t, s = temperature_c, salinity_psu * 35.16504 / 35.0 * 1e-3
    a = 1.541 + 1.998e-2 * t - 9.52e-5 * t**2
    b = 7.974 - 7.561e-2 * t + 4.724e-4 * t**2
    fresh = 4.2844e-5 + 1.0 / (0.157 * (t + 64.993) ** 2 - 91.296)
    return fresh * (1 + a * s + b * s**2)


def water_density_kg_m3(kind: WaterKind, temperature_c: float) -> float:
    """Return the density of the tank's water at surface pressure."""
    return fresh_density_kell_kg_m3(temperature_c) if kind == "fresh" else sea_density_teos10_kg_m3(temperature_c)


def water_viscosity_pa_s(kind: WaterKind, temperature_c: float) -> float:
    """Return the viscosity of the tank's water."""
    return fresh_viscosity_iapws_pa_s(temperature_c) if kind == "fresh" else sea_viscosity_sharqawy_pa_s(temperature_c)
