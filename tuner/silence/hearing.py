"""Hearing: the level below which a median young listener hears nothing in quiet, for calibrated levels.

Values of ISO 389-7 / ISO 226:2003 (T_f, pure tones, free field, frontal, both ears), 20 Hz to 12.5 kHz. A household
listener with sharper ears hears up to some 10 dB below.
"""

from __future__ import annotations

import math
from itertools import pairwise

from tuner.errors import ConfigError

THRESHOLD_DB: dict[float, float] = {
    20.0: 78.5, 25.0: 68.7, 31.5: 59.5, 40.0: 51.1, 50.0: 44.0, 63.0: 37.5, 80.0: 31.5, 100.0: 26.5, 125.0: 22.1,
    160.0: 17.9, 200.0: 14.4, 250.0: 11.4, 315.0: 8.6, 400.0: 6.2, 500.0: 4.4, 630.0: 3.0, 800.0: 2.2, 1000.0: 2.4,
    1250.0: 3.5, 1600.0: 1.7, 2000.0: -1.3, 2500.0: -4.2, 3150.0: -6.0, 4000.0: -5.4, 5000.0: -1.5, 6300.0: 6.0,
    8000.0: 12.6, 10000.0: 13.9, 12500.0: 12.3,
}  # fmt: skip
SHARP_EARS_DB = 10.0
"""Margin under the median threshold: common practice puts the sharpest ears of a household about so far below."""


def hearing_threshold_db(frequency_hz: float) -> float:
    """Return the threshold in quiet (dB re 20 µPa), linear in log frequency between the table's points.

    Raises ConfigError outside 20 to 12500 Hz, where the standard gives no value.

    >>> hearing_threshold_db(100.0), hearing_threshold_db(4000.0)
    (26.5, -5.4)
    """
    points = list(THRESHOLD_DB.items())
    if not points[0][0] <= frequency_hz <= points[-1][0]:
        raise ConfigError(f"frequency_hz={frequency_hz:g} must be from 20 to 12500 Hz: ISO 389-7 covers no other tones")
    for (low_hz, low_db), (high_hz, high_db) in pairwise(points):
        if frequency_hz <= high_hz:
            share = math.log(frequency_hz / low_hz) / math.log(high_hz / low_hz)
            return low_db + share * (high_db - low_db)
    return points[-1][1]


def is_inaudible(frequency_hz: float, level_db: float) -> bool:
    """Tell whether a tone (dB re 20 µPa) lies so far below the threshold that even sharp ears do not hear it.

    Outside the table's range nothing is claimed: False.

    >>> is_inaudible(100.0, 15.0), is_inaudible(100.0, 20.0), is_inaudible(15000.0, -40.0)
    (True, False, False)
    """
    if not 20.0 <= frequency_hz <= 12500.0:
        return False
    return level_db < hearing_threshold_db(frequency_hz) - SHARP_EARS_DB
