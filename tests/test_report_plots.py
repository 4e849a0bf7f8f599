from __future__ import annotations

import numpy as np
import pytest

from tuner.report import plots


def test_blocks_of_a_timeline_touch_whole_units_and_none_is_lost() -> None:
    unit = 10_000.0 / plots._UNITS
    merged = plots._merged([(0.0, 1.0), (2.0, 3.0), (5_000.0, 5_001.0), (9_999.0, 10_000.0)], (0.0, 10_000.0))
    assert len(merged) == 3
    assert merged[0] == pytest.approx((0.0, unit))
    assert merged[1][0] <= 5_000.0 <= merged[1][1]
    assert merged[2] == pytest.approx((10_000.0 - unit, 10_000.0))
    assert plots._merged([(0.0, 10_000.0)], (0.0, 10_000.0)) == [pytest.approx((0.0, 10_000.0))]
    assert plots._merged([], (0.0, 10.0)) == []


def test_a_long_spectrogram_keeps_energy_and_shows_what_was_not_heard() -> None:
    second = np.concatenate([np.arange(0, 1000), np.arange(3000, 4000)])
    bands = np.full((second.size, 2), 40.0)
    bands[:10] = 60.0  # a hundredth of the first thousand seconds holds half of its energy
    columns, (from_s, to_s) = plots._columns(second, bands)
    assert columns.shape[0] <= plots.MOST_COLUMNS
    assert (from_s, to_s) == (0.0, 4000.0)
    assert columns[0] == pytest.approx(60.0)
    assert np.isnan(columns[150]).all()
    assert columns[-1] == pytest.approx(40.0)


def test_one_scale_serves_both_sides() -> None:
    rng = np.random.default_rng(3)
    quiet, loud = rng.normal(20.0, 1.0, (60, 20)), rng.normal(50.0, 1.0, (60, 20))
    low, high = plots.spectrogram_scale([quiet, loud])
    assert low <= 20.0
    assert high >= 50.0
    assert plots.spectrogram_scale([np.full((5, 3), np.nan)]) == (-10.0, 0.0)
