"""Submergence against air-drawing vortices."""

from __future__ import annotations

import pytest

from tuner.water.intake import submergence_hecker_m
from tuner.water.regimes import froude

GPM, INCH = 6.30902e-5, 0.0254


def test_the_two_published_forms_agree() -> None:
    # S[in] = D + 0.574 Q[gal/min]/D^1.5 gives 6.054 in for 1 in and 8.806 gal/min; S = D (1 + 2.3 Fr) gives 6.053
    assert submergence_hecker_m(8.806 * GPM, INCH) / INCH == pytest.approx(1 + 0.574 * 8.806, rel=1e-3)
    assert submergence_hecker_m(8.806 * GPM, INCH) / INCH == pytest.approx(6.05, abs=0.01)


@pytest.mark.parametrize(
    ("litres_per_hour", "opening_mm", "depth_mm"),
    [(2000, 26.64, 146), (2500, 35.08, 134), (3000, 40.94, 135), (4000, 40.94, 166), (4000, 105.0, 136)],
)
def test_reef_sized_inlets(litres_per_hour: float, opening_mm: float, depth_mm: float) -> None:
    # computed independently
    assert submergence_hecker_m(litres_per_hour / 3.6e6, opening_mm / 1e3) * 1e3 == pytest.approx(depth_mm, rel=0.01)


def test_froude_at_the_opening_counts() -> None:
    assert froude(2000 / 3.6e6, 0.02664) == pytest.approx(1.95, abs=0.01)
