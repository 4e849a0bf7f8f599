from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tuner.coach import Coach
from tuner.coach.gauge import quantiles
from tuner.rig import Rig


def test_the_gauge_of_a_new_session_is_whole_and_unsure() -> None:
    gauge = Coach(Rig()).gauge
    assert gauge.below + gauge.inside + gauge.above == pytest.approx(1.0)
    assert gauge.place_low < gauge.place < gauge.place_high
    assert gauge.level_low_m <= gauge.level_m <= gauge.level_high_m
    assert gauge.low_edge_m <= gauge.high_edge_m
    # by the description alone, before anything was heard, neither side is ruled out
    assert min(gauge.below, gauge.above) > 0.05


def test_opening_the_siphon_moves_the_belief_towards_the_slurp() -> None:
    coach = Coach(Rig())
    before = coach.gauge
    coach._belief.moved("siphon valve", 1.0)
    assert coach.gauge.place < before.place
    assert coach.gauge.below > before.below


@settings(max_examples=50)
@given(st.lists(st.tuples(st.floats(-1e3, 1e3), st.floats(0.01, 1.0)), min_size=1, max_size=50))
def test_quantiles_rise_and_lie_among_the_values(pairs: list[tuple[float, float]]) -> None:
    values, weights = np.array([v for v, _ in pairs]), np.array([w for _, w in pairs])
    low, middle, high = quantiles(values, weights)
    assert values.min() <= low <= middle <= high <= values.max()
