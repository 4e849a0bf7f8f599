"""Sums, differences and means of levels, the correction for background noise, and calibration.

Levels add as energies (incoherent sounds). The background correction K1 follows ISO 3744 and ISO 3746.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from tuner.errors import ConfigError
from tuner.terms import Floor, Levels

# Mean squares at or below this (re full scale) are digital silence: their level reads exactly this.
SILENCE_DB = -200.0
_SILENCE = 1e-20

# ISO 3746: with less than 3 dB between on and off no correction is allowed, only an upper bound of on - 3 dB.
LEAST_DIFFERENCE_DB = 3.0
LARGEST_CORRECTION_DB = 3.0

# ISO 1683: reference sound pressure in air.
REFERENCE_PRESSURE_PA = 20e-6


def level_db(mean_square: float) -> float:
    """Return the level (dB) of a mean square re 1; digital silence reads ``SILENCE_DB``, not -inf.

    Raises ConfigError when the mean square is negative or not a number.

    >>> round(level_db(0.5), 2), level_db(0.0)
    (-3.01, -200.0)
    """
    if not mean_square >= 0.0:
        raise ConfigError(f"mean_square={mean_square!r} must be at least 0")
    return 10.0 * math.log10(max(mean_square, _SILENCE))


def energy_sum_db(levels_db: Iterable[float]) -> float:
    """Return the level (dB) of several incoherent sounds together.

    Raises ConfigError when there is none.

    >>> round(energy_sum_db([80.0, 85.0]), 1)
    86.2
    """
    levels = list(levels_db)
    if not levels:
        raise ConfigError("levels_db=[] must hold at least one level")
    top = max(levels)
    return top + 10.0 * math.log10(sum(10.0 ** ((level - top) / 10.0) for level in levels))


def energy_mean_db(levels_db: Iterable[float]) -> float:
    """Return the energy mean (Leq) of levels (dB) that lasted equally long.

    Raises ConfigError when there is none.

    >>> round(energy_mean_db([60.0, 70.0]), 2)
    67.4
    """
    levels = list(levels_db)
    return energy_sum_db(levels) - 10.0 * math.log10(max(len(levels), 1))


def energy_difference_db(total_db: float, part_db: float) -> float:
    """Return the level (dB) that is left when a part is taken out of a total.

    Raises ConfigError unless the total is above the part.

    >>> round(energy_difference_db(85.0, 80.0), 2)
    83.35
    """
    return total_db - background_correction_k1_db(total_db - part_db)


def background_correction_k1_db(difference_db: float) -> float:
    """Return K1 = -10 lg(1 - 10^(-0.1 dL)) (dB), the ISO 3744 correction for background noise.

    ``difference_db`` is the level with the source on minus the background alone. Below about 3 dB the
    correction magnifies every error of measurement more than twofold: ``source_level`` then says so.

    Raises ConfigError unless the difference is positive.

    >>> round(background_correction_k1_db(6.0), 2), round(background_correction_k1_db(10.0), 2)
    (1.26, 0.46)
    """
    if not difference_db > 0.0:
        raise ConfigError(f"difference_db={difference_db:g} must be positive: the background is as loud as the whole")
    return -10.0 * math.log10(-math.expm1(-0.1 * math.log(10.0) * difference_db))


@dataclass(frozen=True, slots=True)
class SourceLevel:
    """What a source adds to the room: its own level, or only an upper bound of it.

    ``correction_db`` is what was taken off the level measured with the source on. ``upper_bound`` is True
    when the source stands out by less than 3 dB: the true level is then ``level_db`` or less.
    ``error_gain`` tells how many times an error of the measured level returns in ``level_db`` (None for a
    bound).
    """

    level_db: float
    correction_db: float
    upper_bound: bool
    error_gain: float | None


def source_level(on_db: float, off_db: float) -> SourceLevel:
    """Return a source's own level from the levels with it on and with it off (both dB of one kind).

    From 3 dB of difference upwards K1 is applied in full; below, also when off is louder than on, the bound
    of ISO 3746 is given: on minus 3 dB.

    Raises ConfigError when a level is not finite.

    >>> source_level(36.0, 30.0).upper_bound, source_level(31.0, 30.0)
    (False, SourceLevel(level_db=28.0, correction_db=3.0, upper_bound=True, error_gain=None))
    """
    for name, value in (("on_db", on_db), ("off_db", off_db)):
        if not math.isfinite(value):
            raise ConfigError(f"{name}={value!r} must be a finite level")
    difference_db = on_db - off_db
    if difference_db < LEAST_DIFFERENCE_DB:
        return SourceLevel(on_db - LARGEST_CORRECTION_DB, LARGEST_CORRECTION_DB, True, None)
    k1_db = background_correction_k1_db(difference_db)
    return SourceLevel(on_db - k1_db, k1_db, False, 10.0 ** (k1_db / 10.0))


def pressure_level_db(pressure_pa: float) -> float:
    """Return the sound pressure level (dB re 20 µPa) of an effective pressure (Pa).

    Raises ConfigError unless the pressure is positive.

    >>> round(pressure_level_db(1.0), 2)
    93.98
    """
    if not pressure_pa > 0.0:
        raise ConfigError(f"pressure_pa={pressure_pa!r} must be positive")
    return 20.0 * math.log10(pressure_pa / REFERENCE_PRESSURE_PA)


def calibration_offset_db(calibrator_db: float, mean_square: float) -> float:
    """Return what to add to levels re full scale (dB), from a calibrator's level and the mean square it gave.

    Raises ConfigError when the recording of the calibrator is digital silence.

    >>> round(calibration_offset_db(94.0, 0.0005), 2)
    127.01
    """
    measured_db = level_db(mean_square)
    if measured_db <= SILENCE_DB:
        raise ConfigError(f"mean_square={mean_square!r} must be above digital silence: is the microphone on?")
    return calibrator_db - measured_db


def calibrated_levels(levels: Levels, offset_db: float) -> Levels:
    """Return levels re full scale as levels re 20 µPa.

    Raises ConfigError for levels that are calibrated already.
    """
    if levels.calibrated:
        raise ConfigError("calibrated=True must be False: these levels are re 20 µPa already")
    return replace(
        levels, laeq_db=levels.laeq_db + offset_db, la10_db=levels.la10_db + offset_db,
        la50_db=levels.la50_db + offset_db, la90_db=levels.la90_db + offset_db,
        lafmax_db=levels.lafmax_db + offset_db, calibrated=True,
        third_octave_db=tuple(level + offset_db for level in levels.third_octave_db),
    )  # fmt: skip


def calibrated_floor(floor: Floor, offset_db: float) -> Floor:
    """Return a floor re full scale as one re 20 µPa."""
    return replace(floor, levels=calibrated_levels(floor.levels, offset_db))
