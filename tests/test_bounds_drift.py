from __future__ import annotations

import numpy as np
import pytest
import scipy.stats

from tuner.bounds.drift import crossing_of, drift_theil_sen


def test_the_slope_is_theil_and_sens() -> None:
    rng = np.random.default_rng(1)
    time = np.sort(rng.uniform(0, 60, 40))
    value = 0.2 * time + rng.standard_normal(40)
    found = drift_theil_sen(time, value, 0.95, rng)
    assert found is not None
    outside = scipy.stats.theilslopes(value, time)
    assert found.slope == pytest.approx(outside.slope, rel=1e-9)
    assert found.low < outside.slope < found.high
    # The library's interval takes every value for independent, as they are here.
    assert found.high - found.low == pytest.approx(outside.high_slope - outside.low_slope, rel=0.5)


def test_two_wild_values_do_not_move_it() -> None:
    rng = np.random.default_rng(2)
    time = np.arange(60.0)
    value = 0.1 * time + 0.3 * rng.standard_normal(60)
    wild = value.copy()
    wild[[5, 50]] += 40.0
    calm, upset = (drift_theil_sen(time, v, 0.95, np.random.default_rng(3)) for v in (value, wild))
    assert calm is not None
    assert upset is not None
    assert upset.slope == pytest.approx(calm.slope, abs=0.01)


def test_noise_alone_is_no_sure_drift() -> None:
    rng = np.random.default_rng(4)
    sure = 0
    for _ in range(12):
        found = drift_theil_sen(np.arange(60.0), rng.standard_normal(60), 0.95, rng)
        sure += found is not None and found.is_sure
    assert sure <= 2


def test_a_crossing_by_hand() -> None:
    # 0.5 a day, now at 10 after 20 days: 15 is reached in 10 days.
    time = np.arange(21.0)
    found = drift_theil_sen(time, 0.5 * time, 0.95, np.random.default_rng(5))
    assert found is not None
    crossing = crossing_of(found, 15.0, 0.95)
    assert crossing is not None
    assert (crossing.early, crossing.likely, crossing.late) == pytest.approx((10.0,) * 3, abs=1e-6)
    assert crossing_of(found, 9.0, 0.95) is None


def test_a_crossing_encloses_what_is_likely_and_may_never_come() -> None:
    rng = np.random.default_rng(6)
    time = np.arange(40.0)
    found = drift_theil_sen(time, 0.05 * time + rng.standard_normal(40), 0.95, rng)
    assert found is not None
    crossing = crossing_of(found, 8.0, 0.95)
    assert crossing is not None
    assert crossing.early < crossing.likely < crossing.late


def test_too_few_values_have_no_drift() -> None:
    assert drift_theil_sen(np.arange(9.0), np.arange(9.0), 0.95, np.random.default_rng(0)) is None
    assert drift_theil_sen(np.zeros(20), np.arange(20.0), 0.95, np.random.default_rng(0)) is None
