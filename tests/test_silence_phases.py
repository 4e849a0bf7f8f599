from __future__ import annotations

import numpy as np
import pytest

from tests.test_silence_restart import FLOOR, moments
from tuner.silence.phases import (
    CAUGHT,
    SOUNDING,
    catch_quantities,
    caught_from,
    end_quantities,
    log_odds,
    loudness_db,
    sounding_until,
    steady_db,
)


def test_the_catch_is_where_all_moments_together_put_it() -> None:
    odds = np.array([-2.0] * 20 + [3.0] * 3 + [-2.0] * 10 + [2.0] * 30)
    assert caught_from(odds) == 33


def test_one_moment_that_is_very_sure_does_not_outvote_the_others() -> None:
    odds = np.array([-2.0] * 10 + [500.0] + [-2.0] * 10)
    assert caught_from(odds) == len(odds)


def test_nothing_that_speaks_for_a_catch_is_no_catch() -> None:
    assert caught_from(np.full(40, -1.0)) == 40


def test_log_odds_are_the_constant_and_what_each_quantity_is_worth() -> None:
    odds = log_odds({"a": np.array([1.0, 2.0]), "b": np.array([0.0, 4.0])}, {"": -1.0, "a": 2.0, "b": 0.5})
    assert odds == pytest.approx([1.0, 5.0])


def test_every_weight_has_its_quantity() -> None:
    heard = moments([(10, 20), (30, 0)])
    assert set(catch_quantities(heard, FLOOR)) == set(CAUGHT) - {""}
    assert set(end_quantities(heard, FLOOR, 20)) == set(SOUNDING) - {""}


def test_every_quantity_has_one_value_a_moment() -> None:
    heard = moments([(10, 20), (30, 0)])
    found = {**catch_quantities(heard, FLOOR), **end_quantities(heard, FLOOR, 20)}
    assert {values.shape for values in found.values()} == {(len(heard),)}


def test_a_steady_hum_of_any_height_is_the_end_but_restless_water_is_not() -> None:
    hum = moments([(10, 30), (30, 12)])
    assert steady_db(loudness_db(hum, FLOOR)) == pytest.approx(12.0)
    water = moments([(1, 12), (1, 18)] * 20)
    assert steady_db(loudness_db(water, FLOOR)) == pytest.approx(6.0)


def test_a_room_that_stirs_slowly_is_no_sound_after_the_catch() -> None:
    rising = moments([(10, 25), *((1.0, 0.05 * i) for i in range(60))])
    short = moments([(10, 25), (20, 0), (5, 4), (35, 0)])
    assert np.all(log_odds(end_quantities(rising, FLOOR, 20), SOUNDING)[22:] < 1.0)
    assert np.any(log_odds(end_quantities(short, FLOOR, 20), SOUNDING)[60:70] > 1.0)


@pytest.mark.parametrize(("odds", "last"), [
    ([0.0] * 10, 2), ([0.0] * 6 + [9.0] + [0.0] * 3, 2), ([0.0] * 6 + [9.0, 9.0] + [0.0] * 2, 7), ([9.0] * 10, 9),
])
def test_what_sounds_for_a_moment_only_does_not_count(odds: list[float], last: int) -> None:
    quantities = {"top_bands_db": np.zeros(10), "any": np.array(odds)}
    assert sounding_until(quantities, {"": 0.0, "top_bands_db": 1.0, "any": 1.0}, 3) == last
