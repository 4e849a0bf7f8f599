"""The A and C curves against the tables of IEC 61672-1 and against librosa."""

from __future__ import annotations

import librosa
import numpy as np
import pytest

from tuner.errors import ConfigError
from tuner.sound.weighting import a_weighting_db, a_weighting_power, c_weighting_db

# IEC 61672-1 table (the A values as the Bruel & Kjaer type 2209 manual, table 4.1, and
# lichtbeeldgeluid.nl/geluid/tabellen print them): nominal frequency in Hz, A in dB.
A_TABLE = (
    (10, -70.4), (12.5, -63.4), (16, -56.7), (20, -50.5), (25, -44.7), (31.5, -39.4), (40, -34.6),
    (50, -30.2), (63, -26.2), (80, -22.5), (100, -19.1), (125, -16.1), (160, -13.4), (200, -10.9),
    (250, -8.6), (315, -6.6), (400, -4.8), (500, -3.2), (630, -1.9), (800, -0.8), (1000, 0.0),
    (1250, 0.6), (1600, 1.0), (2000, 1.2), (2500, 1.3), (3150, 1.2), (4000, 1.0), (5000, 0.5),
    (6300, -0.1), (8000, -1.1), (10000, -2.5), (12500, -4.3), (16000, -6.6), (20000, -9.3),
)  # fmt: skip
# Same source (lichtbeeldgeluid.nl) for C.
C_TABLE = ((31.5, -3.0), (63, -0.8), (125, -0.2), (1000, 0.0), (4000, -0.8), (8000, -3.0), (16000, -8.5))

# A printed value is rounded to 0.1 dB; the formula adds nothing of its own, so half a step and its edge.
TABLE_TOLERANCE_DB = 0.0501
# librosa rounds the pole frequencies differently in their last digits.
CURVE_TOLERANCE_DB = 0.002


def exact_hz(nominal_hz: float) -> float:
    """The base-ten frequency behind a nominal one, written out here independently of tuner.sound.bands."""
    return float(10.0 ** (round(10.0 * np.log10(nominal_hz)) / 10.0))


@pytest.mark.parametrize(("nominal_hz", "expected_db"), A_TABLE)
def test_a_weighting_meets_the_table_at_exact_frequencies(nominal_hz: float, expected_db: float) -> None:
    assert float(a_weighting_db(exact_hz(nominal_hz))) == pytest.approx(expected_db, abs=TABLE_TOLERANCE_DB)


@pytest.mark.parametrize(("nominal_hz", "expected_db"), C_TABLE)
def test_c_weighting_meets_the_table_at_exact_frequencies(nominal_hz: float, expected_db: float) -> None:
    assert float(c_weighting_db(exact_hz(nominal_hz))) == pytest.approx(expected_db, abs=TABLE_TOLERANCE_DB)


def test_curves_agree_with_librosa_everywhere() -> None:
    frequency_hz = np.geomspace(10.0, 40000.0, 400)
    np.testing.assert_allclose(
        a_weighting_db(frequency_hz), librosa.A_weighting(frequency_hz, min_db=None), atol=CURVE_TOLERANCE_DB
    )
    np.testing.assert_allclose(
        c_weighting_db(frequency_hz), librosa.C_weighting(frequency_hz, min_db=None), atol=CURVE_TOLERANCE_DB
    )


def test_the_curves_keep_the_shape_and_are_minus_infinity_at_zero() -> None:
    frequency_hz = np.array([[0.0, 1000.0], [100.0, 8000.0]])
    level_db = a_weighting_db(frequency_hz)
    assert level_db.shape == (2, 2)
    assert level_db[0, 0] == -np.inf
    assert a_weighting_power(0.0) == 0.0
    assert c_weighting_db(0.0) == -np.inf


@pytest.mark.parametrize("curve", [a_weighting_db, c_weighting_db, a_weighting_power])
def test_a_negative_frequency_is_refused(curve: object) -> None:
    with pytest.raises(ConfigError, match="frequency_hz must be at least 0"):
        curve([-1.0, 100.0])  # type: ignore[operator]
