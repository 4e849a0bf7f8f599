"""Water against TEOS-10, IAPWS and the published equations of state."""

from __future__ import annotations

import gsw
import pytest

from tuner.water import properties as w

DENSITY_SHARE = 1e-4  # 0.01 %: far below what any flow needs
VISCOSITY_SHARE = 0.01


def test_teos10_library_agrees_with_its_published_check_value() -> None:
    # TEOS-10 check value, as the tests of dankelley/teos10 give it
    assert gsw.CT_from_t(34.7118, 28.7856, 10.0) == pytest.approx(28.809919826700281, rel=1e-12)


@pytest.mark.parametrize(
    ("psu", "celsius", "density"),
    # TEOS-10 evaluated independently (gsw 3.6.23); 25 degrees also by EOS-80: 1023.3431
    [(35.0, 25.0, 1023.343), (35.0, 24.0, 1023.644), (35.0, 26.0, 1023.035), (33.0, 25.0, 1021.833),
     (30.0, 25.0, 1019.571)],
)
def test_sea_water_density(psu: float, celsius: float, density: float) -> None:
    assert w.sea_density_teos10_kg_m3(celsius, psu) == pytest.approx(density, abs=2e-3)


@pytest.mark.parametrize(("celsius", "density"), [(25.0, 997.048), (20.0, 998.207)])  # IAPWS-95 at 101.325 kPa
def test_fresh_water_density(celsius: float, density: float) -> None:
    assert w.fresh_density_kell_kg_m3(celsius) == pytest.approx(density, rel=DENSITY_SHARE / 10)


@pytest.mark.parametrize(("celsius", "viscosity"), [(25.0, 890.02e-6), (20.0, 1001.6e-6)])  # IAPWS R12-08
def test_fresh_water_viscosity(celsius: float, viscosity: float) -> None:
    assert w.fresh_viscosity_iapws_pa_s(celsius) == pytest.approx(viscosity, rel=1e-3)


def test_sea_water_viscosity_by_two_published_forms() -> None:
    # Sharqawy 2010: 958.8, Landolt-Boernstein: 956.1 micropascal seconds at 25 degrees and salinity 35
    assert w.sea_viscosity_sharqawy_pa_s(25.0) == pytest.approx(958.8e-6, rel=1e-3)
    assert w.sea_viscosity_sharqawy_pa_s(25.0) == pytest.approx(956.1e-6, rel=VISCOSITY_SHARE)


def test_the_kind_of_water_chooses_the_equation() -> None:
    assert w.water_density_kg_m3("marine", 25.0) - w.water_density_kg_m3("fresh", 25.0) == pytest.approx(26.3, abs=0.1)
    assert w.water_viscosity_pa_s("marine", 25.0) > w.water_viscosity_pa_s("fresh", 25.0)
