from __future__ import annotations

import numpy as np
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st

from tuner.bounds.intervals import (
    binomial_zero_upper,
    exposure_for_rate,
    poisson_interval_garwood,
    poisson_lower_garwood,
    poisson_upper_garwood,
    rate_ratio_conditional,
)
from tuner.errors import ConfigError


def test_23_events_in_5_25() -> None:
    # Documentation of an R package's ci.poisson: 23 events in 5.25 give 2.777148 to 6.57358.
    found = poisson_interval_garwood(23, 5.25, 0.95)
    assert found.low == pytest.approx(2.777148, abs=1e-5)
    assert found.high == pytest.approx(6.57358, abs=1e-5)


@pytest.mark.parametrize(("count", "low", "high"), [
    # Exact limits, 95 % two-sided, from chi-squared tables.
    (0, 0.0, 3.6889), (1, 0.0253, 5.5716), (2, 0.2422, 7.2247), (5, 1.6235, 11.6683), (10, 4.7954, 18.3904),
])
def test_the_table_of_exact_limits(count: int, low: float, high: float) -> None:
    found = poisson_interval_garwood(count, 1.0, 0.95)
    assert (found.low, found.high) == pytest.approx((low, high), abs=6e-5)


@pytest.mark.parametrize(("count", "high"), [(0, 2.9957), (1, 4.7439), (2, 6.2958), (3, 7.7537), (5, 10.513)])
def test_one_sided_upper_limits(count: int, high: float) -> None:
    assert poisson_upper_garwood(count, 1.0, 0.95) == pytest.approx(high, abs=6e-4)


@pytest.mark.parametrize(("minutes", "per_hour"), [(5, 35.9), (10, 18.0), (30, 5.99), (60, 3.00)])
def test_what_silence_of_some_minutes_proves(minutes: float, per_hour: float) -> None:
    # The rule of three.
    assert poisson_upper_garwood(0, minutes / 60.0, 0.95) == pytest.approx(per_hour, rel=0.003)


def test_fewer_than_one_an_hour_takes_three_hours() -> None:
    assert exposure_for_rate(1.0, 0.95) == pytest.approx(3.0, abs=0.005)
    assert exposure_for_rate(1.0, 0.95, recall=0.5) == pytest.approx(6.0, abs=0.01)


def test_a_probability_that_never_came_true() -> None:
    # 1 - 0.05^(1/n).
    assert binomial_zero_upper(60, 0.95) == pytest.approx(0.0487, abs=5e-5)
    assert binomial_zero_upper(300, 0.95) == pytest.approx(0.00994, abs=5e-6)


@given(st.integers(0, 200), st.floats(0.1, 100.0), st.floats(0.5, 0.999), st.floats(0.05, 1.0))
def test_limits_enclose_the_rate_and_missed_events_widen_them(
    count: int, exposure: float, confidence: float, recall: float
) -> None:
    upper = poisson_upper_garwood(count, exposure, confidence, recall)
    assert poisson_lower_garwood(count, exposure, confidence) <= count / exposure <= upper
    assert upper >= poisson_upper_garwood(count, exposure, confidence)
    assert exposure_for_rate(upper, confidence, recall, count) == pytest.approx(exposure, rel=1e-6)


@pytest.mark.parametrize(("call", "says"), [
    (lambda: poisson_upper_garwood(-1, 1.0, 0.95), "count=-1 must be a whole number"),
    (lambda: poisson_upper_garwood(0, 0.0, 0.95), "exposure=0.0 must be positive"),
    (lambda: poisson_upper_garwood(0, 1.0, 1.0), "confidence=1.0 must lie between"),
    (lambda: poisson_upper_garwood(0, 1.0, 0.95, 0.0), "recall=0.0 must be above 0"),
    (lambda: exposure_for_rate(0.0, 0.95), "rate=0.0 must be above 0"),
    (lambda: binomial_zero_upper(0, 0.95), "trials=0 must be at least 1"),
])
def test_what_cannot_be_is_said(call, says: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ConfigError, match=says):
        call()


@pytest.mark.parametrize(("count", "exposure", "base_count", "base_exposure"), [
    (2, 1.0, 8, 1.0), (0, 0.5, 12, 2.0), (7, 3.0, 0, 1.0), (31, 10.0, 23, 5.25),
])
def test_the_ratio_of_rates_follows_the_exact_binomial_test(
    count: int, exposure: float, base_count: int, base_exposure: float
) -> None:
    found = rate_ratio_conditional(count, exposure, base_count, base_exposure, 0.95)
    outside = scipy.stats.binomtest(count, count + base_count).proportion_ci(0.95, method="exact")
    scale = base_exposure / exposure
    assert found.low == pytest.approx(scale * outside.low / (1 - outside.low), rel=1e-9)
    high = np.inf if outside.high == 1 else scale * outside.high / (1 - outside.high)
    assert found.high == pytest.approx(high, rel=1e-9)
    assert found.low <= found.value <= found.high


def test_nothing_against_nothing_leaves_the_ratio_open() -> None:
    found = rate_ratio_conditional(0, 1.0, 0, 1.0, 0.95)
    assert (found.low, found.high) == (0.0, np.inf)
    assert np.isnan(found.value)
