"""Air through holes, air taken along by a film, and trapped air."""

from __future__ import annotations

import numpy as np
import pytest

from tuner.water import air


@pytest.mark.parametrize(
    ("hole_mm", "pascals", "litres_per_minute"),
    # Cd 0.61, air of 1.184 kg/m3, computed independently
    [(1, 100, 0.374), (2, 50, 1.06), (3, 500, 7.52), (6, 5, 3.01), (6, 100, 13.5), (6, 3000, 73.7)],
)
def test_air_through_a_hole(hole_mm: float, pascals: float, litres_per_minute: float) -> None:
    flow = air.hole_air_flow_m3_s(np.pi / 4 * (hole_mm / 1e3) ** 2, pascals)
    assert flow * 60e3 == pytest.approx(litres_per_minute, rel=5e-3)


@pytest.mark.parametrize(("hole_mm", "pascals"), [(2, 17.9e3), (3, 3.5e3), (4, 1.1e3), (6, 221)])
def test_pressure_for_twenty_litres_a_minute(hole_mm: float, pascals: float) -> None:
    pressure = air.hole_pressure_pa(20e-3 / 60, np.pi / 4 * (hole_mm / 1e3) ** 2)
    assert float(pressure) == pytest.approx(pascals, rel=0.02)


def test_no_hole_needs_endless_pressure_and_no_flow_none() -> None:
    assert air.hole_pressure_pa([1e-4, 0.0], 0.0).tolist() == [np.inf, 0.0]


@pytest.mark.parametrize(("pascals", "speed"), [(5, 2.9), (50, 9.2), (100, 13), (500, 29), (1000, 41), (3000, 71)])
def test_jet_speed(pascals: float, speed: float) -> None:
    assert air.jet_speed_m_s(pascals) == pytest.approx(speed, rel=0.02)


@pytest.mark.parametrize(("fill", "ratio"), [(0.1, 9.0), (0.25, 3.0), (1 / 3, 2.0)])
def test_film_takes_at_most(fill: float, ratio: float) -> None:
    assert air.film_air_bound_m3_s(1.0, fill) == pytest.approx(ratio)  # (1 - r)/r, no slip


@pytest.mark.parametrize(
    ("hole_mm", "litres", "head", "seconds"),
    [(2, 0.4, 0.05, 7.3), (3, 0.4, 0.05, 3.2), (6, 0.4, 0.05, 0.8), (3, 1.0, 0.1, 5.7)]
)
def test_purge_through_a_bleed_hole(hole_mm: float, litres: float, head: float, seconds: float) -> None:
    assert float(air.bleed_purge_time_s(hole_mm / 1e3, litres / 1e3, head, 998.0)) == pytest.approx(seconds, rel=0.03)


def test_purge_without_a_hole_never_ends_and_a_wet_hole_is_slow() -> None:
    assert np.isinf(air.bleed_purge_time_s(0.0, 4e-4, 0.05, 998.0))
    assert np.sqrt(998.0 / air.AIR_DENSITY_KG_M3) == pytest.approx(air.WETTED_SLOWDOWN, rel=0.01)


@pytest.mark.parametrize(
    ("bore", "wisner", "safe"), [(0.02664, 0.55, 0.66), (0.04094, 0.68, 0.82), (0.05248, 0.77, 0.92)]
)
def test_speed_that_clears_trapped_air(bore: float, wisner: float, safe: float) -> None:
    # Wisner 1975 at 90 degrees (1.075), Escarameia at 90 degrees with its factor 1.1 (1.29), times sqrt(gD)
    band = air.clearing_speed(bore)
    assert (band.value, band.high) == pytest.approx((wisner, safe), abs=0.006)
    assert not band.within_limits


@pytest.mark.parametrize(("pascals", "litres_per_minute"), [(50, 1.02), (200, 4.08)])
def test_thin_tube(pascals: float, litres_per_minute: float) -> None:
    flow = air.tube_air_flow_poiseuille_m3_s(0.004, 1.0, pascals)
    assert flow * 60e3 == pytest.approx(litres_per_minute, rel=5e-3)
