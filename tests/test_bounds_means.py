from __future__ import annotations

import numpy as np
import pytest
import scipy.stats

from tuner.bounds.means import hypergeometric_upper, mean_difference_student
from tuner.errors import ConfigError


def group(mean: float, spread: float, size: int = 5) -> np.ndarray:
    values = np.arange(size) - (size - 1) / 2
    return (mean + spread * values / values.std(ddof=1))[:, None]


def test_five_against_five_by_hand() -> None:
    # Standard deviation 0.8 dB in both, means 1.5 dB apart: t(8) = 2.306 from the table, 1.5 -+ 1.167.
    found = mean_difference_student(group(40.0, 0.8), group(41.5, 0.8), 0.975)
    assert (found.low[0], found.high[0]) == pytest.approx((0.33, 2.67), abs=0.005)


def test_unequal_spreads_follow_scipy() -> None:
    rng = np.random.default_rng(1)
    first, second = rng.normal(40, 0.5, (6, 1)), rng.normal(38, 3.0, (9, 1))
    found = mean_difference_student(first, second, 0.95)
    outside = scipy.stats.ttest_ind(second[:, 0], first[:, 0], equal_var=False).confidence_interval(0.90)
    assert (found.low[0], found.high[0]) == pytest.approx((outside.low, outside.high), abs=1e-9)


def test_one_against_a_group_follows_the_t_distribution() -> None:
    base = group(40.0, 1.0, 6)
    found = mean_difference_student(base, np.array([[37.0]]), 0.95)
    half = scipy.stats.t.ppf(0.95, 5) * np.sqrt(1 + 1 / 6)
    assert (found.low[0], found.high[0]) == pytest.approx((-3 - half, -3 + half))


def test_too_few_members_are_refused() -> None:
    with pytest.raises(ConfigError, match="members=2 and 2 must be at least 5 together"):
        mean_difference_student(group(1.0, 1.0, 2), group(1.0, 1.0, 2), 0.95)


@pytest.mark.parametrize("table", [(0, 10, 5, 10), (3, 7, 4, 9), (2, 40, 9, 12)])
def test_the_exact_test_follows_scipy(table: tuple[int, int, int, int]) -> None:
    heard, spells, base_heard, base_spells = table
    outside = scipy.stats.fisher_exact(
        [[heard, spells - heard], [base_heard, base_spells - base_heard]], alternative="less"
    )
    assert hypergeometric_upper(*table) == pytest.approx(outside.pvalue, rel=1e-9)


def test_more_heard_than_spells_is_refused() -> None:
    with pytest.raises(ConfigError, match="heard=3 and 0 must lie within 2 and 5 spells"):
        hypergeometric_upper(3, 2, 0, 5)
