from __future__ import annotations

import numpy as np
import pytest
import scipy.signal

from tuner.bounds.bootstrap import energy_difference_bounds, energy_mean_bounds, memory_cells, widened_db
from tuner.errors import ConfigError

SERIES = 1000


def wandering(n: int, rho: float, spread_db: float, seed: int) -> tuple[np.ndarray, float]:
    """Levels that follow a first-order autoregression, as powers, shape (n, SERIES), and their true energy mean."""
    rng = np.random.default_rng(seed)
    noise = rng.standard_normal((n + 200, SERIES)) * np.sqrt(1 - rho**2)
    level_db = spread_db * scipy.signal.lfilter([1.0], [1.0, -rho], noise, axis=0)[200:]
    # Mean of a log-normal variable.
    return 10 ** (level_db / 10), 10 * np.log10(np.exp((spread_db * np.log(10) / 10) ** 2 / 2))


@pytest.mark.parametrize(("n", "rho", "spread_db"), [(120, 0.8, 0.8), (300, 0.8, 2.0)])
def test_a_95_percent_bound_covers_at_least_93_percent_of_1000_series(n: int, rho: float, spread_db: float) -> None:
    series, true_db = wandering(n, rho, spread_db, seed=11)
    rng = np.random.default_rng(12)
    high = low = 0
    for column in series.T:
        bounds = energy_mean_bounds(column[:, None], 0.95, rng)
        high += bounds.high_db[0] >= true_db
        low += bounds.low_db[0] <= true_db
    assert high >= 0.93 * SERIES
    assert low >= 0.93 * SERIES
    # A bound that always covers would be worth nothing.
    assert high <= 0.995 * SERIES


def test_more_listening_tightens_the_bound() -> None:
    series, _ = wandering(2000, 0.8, 1.0, seed=3)
    rng = np.random.default_rng(4)
    short, long = (energy_mean_bounds(series[:n, :1], 0.95, rng) for n in (100, 2000))
    assert long.high_db[0] - long.mean_db[0] < 0.5 * (short.high_db[0] - short.mean_db[0])


def test_memory_is_that_of_the_autoregression() -> None:
    # 1 + 2 rho / (1 - rho) = 9 for rho = 0.8; the sum ends early, hence the tolerance.
    series, _ = wandering(4000, 0.8, 1.0, seed=5)
    found = [memory_cells(np.log(series[:, i])) for i in range(40)]
    assert np.median(found) == pytest.approx(9.0, rel=0.2)


def test_columns_are_bounded_alone_and_constants_have_no_width() -> None:
    series, _ = wandering(200, 0.5, 1.0, seed=6)
    power = np.column_stack([series[:, 0], np.full(200, 2.0)])
    bounds = energy_mean_bounds(power, 0.95, np.random.default_rng(7))
    assert bounds.low_db[0] < bounds.mean_db[0] < bounds.high_db[0]
    assert bounds.high_db[1] == pytest.approx(10 * np.log10(2.0), abs=1e-9)


def test_the_same_generator_gives_the_same_bounds() -> None:
    series, _ = wandering(200, 0.5, 1.0, seed=8)
    first, second = (energy_mean_bounds(series[:, :3], 0.95, np.random.default_rng(9)) for _ in range(2))
    assert np.array_equal(first.high_db, second.high_db)


def test_a_short_floor_widens_the_bound() -> None:
    # As long as the running sound: the root of two; a third as long: twice.
    assert widened_db(np.array([1.0]), 60.0, 60.0)[0] == pytest.approx(np.sqrt(2.0))
    assert widened_db(np.array([1.0]), 90.0, 30.0)[0] == pytest.approx(2.0)
    with pytest.raises(ConfigError, match="floor_s=0 and on_s=60 must be positive"):
        widened_db(np.array([1.0]), 60.0, 0.0)


def test_too_short_a_series_is_refused() -> None:
    with pytest.raises(ConfigError, match="must hold at least 16 cells"):
        energy_mean_bounds(np.ones((15, 1)), 0.95, np.random.default_rng(0))


def test_a_95_percent_bound_of_a_difference_covers_at_least_93_percent_of_1000_pairs() -> None:
    first, first_db = wandering(120, 0.8, 2.0, seed=21)
    second, second_db = wandering(300, 0.6, 1.0, seed=22)
    rng = np.random.default_rng(23)
    high = low = 0
    for one, other in zip(first.T, second.T, strict=True):
        bounds = energy_difference_bounds(one[:, None], other[:, None], 0.95, rng)
        high += bounds.high_db[0] >= second_db - first_db
        low += bounds.low_db[0] <= second_db - first_db
    assert 0.93 * SERIES <= high <= 0.995 * SERIES
    assert 0.93 * SERIES <= low <= 0.995 * SERIES


def test_a_difference_is_that_of_the_energy_means_and_turns_with_the_sides() -> None:
    # 10 lg(4) = 6.0206 dB: constants have a difference without width.
    one, other = np.full((20, 2), 1.0), np.full((5000, 2), 4.0)
    other[:, 1] = 0.0
    found = energy_difference_bounds(one, other, 0.95, np.random.default_rng(1))
    assert (found.low_db[0], found.difference_db[0], found.high_db[0]) == pytest.approx((6.0206,) * 3, abs=1e-4)
    assert np.isnan(found.difference_db[1])
    series, _ = wandering(2500, 0.8, 1.0, seed=9)
    there, back = (
        energy_difference_bounds(a, b, 0.95, np.random.default_rng(2)).difference_db[0]
        for a, b in ((series[:, :1], series[:, 1:2]), (series[:, 1:2], series[:, :1]))
    )
    assert there == pytest.approx(-back)
    # 2500 cells become 833 by threes, which leaves the mean as it was.
    assert there == pytest.approx(10 * np.log10(series[:2499, 1].mean() / series[:2499, 0].mean()))


def test_other_bands_are_not_compared() -> None:
    with pytest.raises(ConfigError, match="columns=3 must be 2"):
        energy_difference_bounds(np.ones((20, 2)), np.ones((20, 3)), 0.95, np.random.default_rng(0))
