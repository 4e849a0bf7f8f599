from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tuner.errors import ConfigError
from tuner.silence.ratings import (
    NC_CURVES_DB,
    NC_OCTAVES_HZ,
    NR_OCTAVES_HZ,
    noise_criterion,
    noise_rating,
    nr_curve_db,
    octave_levels_db,
    rate,
    rating_text,
)
from tuner.sound.bands import nominal_hz, third_octave_centres_hz
from tuner.sound.decibels import energy_sum_db
from tuner.sound.weighting import a_weighting_db
from tuner.terms import Levels


def test_the_worked_example_is_nc_46_set_at_500_hz() -> None:
    # Published worked example (tangency): 61 ... 34 dB give NC 46, controlled by 500 Hz.
    found = noise_criterion([61, 56, 54, 50, 44, 43, 39, 34])
    assert found.value == pytest.approx(46.0, abs=0.05)
    assert found.octave_hz == 500.0
    assert found.text == "NC 46 (500 Hz)"


@pytest.mark.parametrize(("name", "a_weighted_db"), [(15, 27.1), (20, 31.4), (25, 35.6), (30, 39.8), (35, 44.2)])
def test_the_curves_have_their_published_a_weighted_levels(name: int, a_weighted_db: float) -> None:
    # A-weighted sums of the published NC curves, each rounded to 0.1 dB.
    weights = a_weighting_db([1000.0 * 10 ** (0.3 * n) for n in range(-4, 4)])
    total = energy_sum_db(level + w for level, w in zip(NC_CURVES_DB[name], weights, strict=True))
    assert total == pytest.approx(a_weighted_db, abs=0.15)


@pytest.mark.parametrize("name", sorted(NC_CURVES_DB))
def test_a_curve_rates_as_itself(name: int) -> None:
    found = noise_criterion(NC_CURVES_DB[name])
    assert found.value == pytest.approx(name)


def test_below_and_above_the_family_only_a_bound_is_given() -> None:
    assert noise_criterion([10.0] * 8).text == "below NC 15"
    assert noise_criterion([10.0] * 7 + [80.0]).text == "above NC 65"


@settings(deadline=None)
@given(st.lists(st.floats(30.0, 60.0), min_size=8, max_size=8), st.integers(0, 7), st.floats(0.0, 5.0))
def test_more_sound_never_lowers_a_rating(levels: list[float], place: int, more: float) -> None:
    louder = list(levels)
    louder[place] += more

    def value(octave_db: list[float]) -> float:
        found = noise_criterion(octave_db)
        return found.value if found.value is not None else math.copysign(math.inf, (found.bound or 0.0) - 40.0)

    assert value(louder) >= value(levels)


@pytest.mark.parametrize(("rating", "curve"), [
    # Published NR 25; printed constants differ by up to 0.6 dB, hence the 1 dB.
    (25.0, (72.4, 55.2, 43.8, 35.2, 29.1, 25.0, 21.9, 19.5, 17.8)),
])
def test_the_nr_curve_is_the_published_one(rating: float, curve: tuple[float, ...]) -> None:
    assert nr_curve_db(rating) == pytest.approx(curve, abs=1.0)
    assert noise_rating(curve).value == pytest.approx(rating, abs=1.0)


@pytest.mark.parametrize(("rating", "a_weighted_db"), [(20.0, 32.9), (25.0, 36.9), (30.0, 41.0)])
def test_the_nr_curves_have_their_published_a_weighted_levels(rating: float, a_weighted_db: float) -> None:
    weights = a_weighting_db([1000.0 * 10 ** (0.3 * n) for n in range(-5, 4)])
    total = energy_sum_db(level + w for level, w in zip(nr_curve_db(rating), weights, strict=True))
    assert total == pytest.approx(a_weighted_db, abs=0.3)


@pytest.mark.parametrize(("level_db", "says"), [(-80.0, "below NR 0"), (160.0, "above NR 130")])
def test_beyond_its_curves_nr_names_the_last_one(level_db: float, says: str) -> None:
    found = noise_rating([level_db] * len(NR_OCTAVES_HZ))
    assert (found.value, found.text) == (None, says)


def levels_of(thirds_db: float, calibrated: bool = True) -> Levels:
    names = tuple(nominal_hz(float(f)) for f in third_octave_centres_hz(25, 10000))
    return Levels(40.0, 41.0, 40.0, 39.0, 42.0, names, (thirds_db,) * len(names), calibrated)


def test_an_octave_is_the_sum_of_its_three_thirds() -> None:
    # Three equal levels add 4.77 dB.
    levels = levels_of(30.0)
    octaves = octave_levels_db(levels.third_octave_hz, levels.third_octave_db, NC_OCTAVES_HZ)
    assert octaves == pytest.approx([34.77] * 8, abs=0.005)


def test_only_calibrated_levels_are_rated() -> None:
    nc, nr = rate(levels_of(30.0))
    # Flat octaves of 34.8 dB stand on the highest band: NC at 8 kHz 32 dB is NC 35, 37 dB is NC 40.
    assert nc.value == pytest.approx(35.0 + 5.0 * (34.77 - 32.0) / 5.0, abs=0.01)
    assert nr.octave_hz == NR_OCTAVES_HZ[-1]
    assert rating_text(levels_of(30.0)) == f"{nc.text}, {nr.text}"
    assert rating_text(levels_of(30.0, calibrated=False)) == ""
    with pytest.raises(ConfigError, match="calibrated=False must be True"):
        rate(levels_of(30.0, calibrated=False))


def test_missing_bands_are_said() -> None:
    low_rate = Levels(40.0, 41.0, 40.0, 39.0, 42.0, (1000.0,), (30.0,), True)
    with pytest.raises(ConfigError, match="must hold 50 Hz for the 63 Hz octave"):
        rate(low_rate)
    with pytest.raises(ConfigError, match="must be 8 levels"):
        noise_criterion([40.0])
