"""Bands of sampled figures."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tuner.water.band import Band, band_of, share_of


def test_band_of_a_normal_figure() -> None:
    # 5 and 95 % points of the normal distribution: -1.645 and 1.645
    band = band_of(np.random.default_rng(3).standard_normal(200_000))
    assert band is not None
    assert (band.low, band.middle, band.high) == pytest.approx((-1.645, 0.0, 1.645), abs=0.02)


def test_figures_that_are_not_finite_are_left_out() -> None:
    assert band_of(np.array([np.nan, 2.0, np.inf])) == Band(2.0, 2.0, 2.0)
    assert band_of(np.array([np.nan])) is None


def test_equal_weights_change_nothing_much_and_zero_weights_leave_out() -> None:
    values = np.arange(1000.0)
    plain, weighted = band_of(values), band_of(values, np.full(1000, 0.2))
    assert plain is not None
    assert weighted is not None
    assert (weighted.low, weighted.high) == pytest.approx((plain.low, plain.high), abs=1.0)
    assert band_of(values, (values == 7).astype(float)) == Band(7.0, 7.0, 7.0)


@settings(deadline=None)
@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=50), st.integers(0, 2**31))
def test_a_band_is_ordered_and_inside_the_figures(values: list[float], seed: int) -> None:
    weights = np.random.default_rng(seed).uniform(0.1, 1.0, len(values))
    for band in (band_of(values), band_of(values, weights)):
        assert band is not None
        assert min(values) <= band.low <= band.middle <= band.high <= max(values)


def test_share_and_scale() -> None:
    assert share_of(np.array([True, False, True, True])) == 0.75
    assert share_of(np.array([True, False]), np.array([1.0, 3.0])) == 0.25
    assert Band(1.0, 2.0, 3.0).scaled(2.0) == Band(2.0, 4.0, 6.0)
    assert Band(1.0, 2.0, 3.5).width == 2.5
