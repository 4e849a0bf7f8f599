"""Decibel sums, the background correction and calibration against published examples."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tuner.errors import ConfigError
from tuner.sound.decibels import (
    SILENCE_DB,
    background_correction_k1_db,
    calibrated_floor,
    calibration_offset_db,
    energy_difference_db,
    energy_mean_db,
    energy_sum_db,
    level_db,
    pressure_level_db,
    source_level,
)
from tuner.terms import Floor, Levels

# Published values are rounded to 0.1 or 0.01 dB.
TENTH_DB = 0.0501
HUNDREDTH_DB = 0.00501

levels = st.floats(min_value=-150.0, max_value=150.0)


@pytest.mark.parametrize(
    ("parts_db", "total_db"),
    [
        ([80.0, 85.0], 86.2),  # A. Farina, lecture slides on decibel sums
        ([80.0, 80.0], 83.0),  # A. Farina
        ([90.0, 96.0], 97.0),  # machineryequipmentonline.com, combining decibels
        ([62.0, 73.0], 73.3),  # experts123, worked example
    ],
)
def test_energy_sums_meet_published_examples(parts_db: list[float], total_db: float) -> None:
    assert energy_sum_db(parts_db) == pytest.approx(total_db, abs=TENTH_DB)


def test_energy_sums_by_hand() -> None:
    # 10 lg(1000 + 316.23 + 100) and 30 + 10 lg 3.
    assert energy_sum_db([30.0, 25.0, 20.0]) == pytest.approx(31.51, abs=HUNDREDTH_DB)
    assert energy_sum_db([30.0] * 3) == pytest.approx(34.77, abs=HUNDREDTH_DB)
    assert energy_mean_db([30.0] * 3) == pytest.approx(30.0)


def test_energy_difference_meets_the_published_example() -> None:
    # A. Farina, lecture slides: 85 minus 80 dB.
    assert energy_difference_db(85.0, 80.0) == pytest.approx(83.35, abs=HUNDREDTH_DB)


@given(a=levels, b=levels)
def test_a_sum_is_undone_by_the_difference(a: float, b: float) -> None:
    low, high = sorted((a, b))
    if high - low < 30.0:
        total = energy_sum_db([low, high])
        assert total >= high
        assert energy_difference_db(total, low) == pytest.approx(high, abs=1e-6)


@pytest.mark.parametrize(
    ("difference_db", "k1_db"),
    # 6 and 10 dB: 1.26 and 0.46 are the limits in ECMA TR/107 (3rd ed. 2017); the others from the ISO 3744
    # formula by hand calculator.
    [(1, 6.87), (2, 4.33), (3, 3.02), (4, 2.20), (5, 1.65), (6, 1.26), (7, 0.97), (8, 0.75), (9, 0.58),
     (10, 0.46), (12, 0.28), (15, 0.14), (20, 0.04)],
)  # fmt: skip
def test_background_correction_meets_the_table(difference_db: float, k1_db: float) -> None:
    assert background_correction_k1_db(difference_db) == pytest.approx(k1_db, abs=HUNDREDTH_DB)


def test_a_clear_source_is_corrected_and_says_how_its_error_grows() -> None:
    source = source_level(36.0, 30.0)
    assert not source.upper_bound
    assert source.level_db == pytest.approx(34.74, abs=HUNDREDTH_DB)
    # 1/(1 - 10^(-0.1·6)) = 1.34.
    assert source.error_gain == pytest.approx(1.34, abs=HUNDREDTH_DB)


@pytest.mark.parametrize("off_db", [27.01, 28.0, 30.0, 33.0])
def test_a_source_near_or_below_the_room_is_only_bounded(off_db: float) -> None:
    source = source_level(30.0, off_db)
    assert source.upper_bound
    assert source.level_db == 27.0
    assert source.error_gain is None


def test_three_decibels_are_just_enough() -> None:
    assert not source_level(33.0, 30.0).upper_bound


@given(on=levels, off=levels)
def test_a_source_is_never_louder_than_the_whole(on: float, off: float) -> None:
    source = source_level(on, off)
    assert source.level_db <= on
    assert source.level_db == pytest.approx(on - source.correction_db)


def test_levels_of_mean_squares() -> None:
    assert level_db(1.0) == 0.0
    assert level_db(0.5) == pytest.approx(-3.0103, abs=1e-4)
    assert level_db(0.0) == level_db(1e-30) == SILENCE_DB


def test_pressure_levels() -> None:
    # 1 Pa is 93.98 dB re 20 µPa; a 114 dB calibrator gives 10.024 Pa.
    assert pressure_level_db(1.0) == pytest.approx(93.98, abs=HUNDREDTH_DB)
    assert pressure_level_db(10.024) == pytest.approx(114.0, abs=HUNDREDTH_DB)


def test_calibration_takes_the_calibrator_back_to_its_level() -> None:
    mean_square = 0.02**2
    offset_db = calibration_offset_db(94.0, mean_square)
    assert offset_db == pytest.approx(94.0 - 20.0 * math.log10(0.02))
    assert level_db(mean_square) + offset_db == pytest.approx(94.0)


def test_what_makes_no_sense_is_refused() -> None:
    with pytest.raises(ConfigError, match="must hold at least one level"):
        energy_sum_db([])
    with pytest.raises(ConfigError, match="must hold at least one level"):
        energy_mean_db([])
    with pytest.raises(ConfigError, match="the background is as loud as the whole"):
        energy_difference_db(80.0, 80.0)
    with pytest.raises(ConfigError, match="on_db=inf must be a finite level"):
        source_level(math.inf, 30.0)
    with pytest.raises(ConfigError, match="must be at least 0"):
        level_db(-1.0)
    with pytest.raises(ConfigError, match="must be at least 0"):
        level_db(math.nan)
    with pytest.raises(ConfigError, match="must be positive"):
        pressure_level_db(0.0)
    with pytest.raises(ConfigError, match="is the microphone on"):
        calibration_offset_db(94.0, 0.0)


def test_a_floor_is_moved_as_a_whole_and_only_once() -> None:
    floor = Floor(Levels(-60.0, -58.0, -61.0, -63.0, -50.0, (100.0, 125.0), (-70.0, -80.0)), 5.0, 5.0)
    moved = calibrated_floor(floor, 100.0)
    assert moved.levels == Levels(40.0, 42.0, 39.0, 37.0, 50.0, (100.0, 125.0), (30.0, 20.0), calibrated=True)
    with pytest.raises(ConfigError, match="re 20 µPa already"):
        calibrated_floor(moved, 100.0)
