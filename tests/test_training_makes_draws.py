"""What the makes draw with: spans, odds and spreads; stretches of a drive."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tuner.training.makes.draws import Drawn, stretches


class Dice(Drawn):
    def __init__(self) -> None:
        self.rng = np.random.default_rng(1)


def test_numbers_fill_their_spans_evenly_each_on_its_scale() -> None:
    dice = Dice()
    flat, log = (np.array([draw(1.0, 100.0) for _ in range(2000)]) for draw in (dice.flat, dice.log))
    for drawn in (flat, log):
        assert 1.0 <= drawn.min() < 3.0
        assert 95.0 < drawn.max() <= 100.0
    assert np.median(flat) == pytest.approx(50.5, rel=0.1)
    assert np.median(log) == pytest.approx(10.0, rel=0.15)


def test_odds_and_spreads_are_as_asked_for() -> None:
    dice = Dice()
    assert np.mean([dice.chance(0.3) for _ in range(2000)]) == pytest.approx(0.3, abs=0.04)
    assert np.std(np.log(dice.varied(4000, 0.5, 0.5))) == pytest.approx(0.5, rel=0.05)


@given(st.lists(st.booleans()))
def test_stretches_cover_what_is_on_and_never_touch(on: list[bool]) -> None:
    found = stretches(np.array(on, dtype=bool))
    back = np.zeros(len(on), dtype=bool)
    for first, end in found:
        assert first < end
        back[first:end] = True
    assert back.tolist() == on
    assert all(end < first for (_, end), (first, _) in pairwise(found))
