from __future__ import annotations

import pytest

from tuner.errors import ConfigError
from tuner.silence.hearing import hearing_threshold_db, is_inaudible
from tuner.sound.weighting import a_weighting_db


@pytest.mark.parametrize(("frequency_hz", "threshold_db"), [
    # ISO 226:2003 / ISO 389-7, as independent published tables have them.
    (20.0, 78.5), (50.0, 44.0), (100.0, 26.5), (125.0, 22.1), (630.0, 3.0), (1000.0, 2.4), (3150.0, -6.0),
    (8000.0, 12.6), (12500.0, 12.3),
])
def test_the_threshold_in_quiet(frequency_hz: float, threshold_db: float) -> None:
    assert hearing_threshold_db(frequency_hz) == threshold_db


def test_between_two_points_it_lies_between() -> None:
    assert 22.1 < hearing_threshold_db(112.0) < 26.5


def test_an_audible_hum_hides_in_an_a_weighted_level() -> None:
    # At the threshold, 100 Hz has 7.4 dB(A): far below any room's level, and yet just heard.
    assert hearing_threshold_db(100.0) + float(a_weighting_db(100.0)) == pytest.approx(7.4, abs=0.1)
    assert not is_inaudible(100.0, 26.5)


def test_nothing_is_claimed_outside_the_standard() -> None:
    assert not is_inaudible(10.0, -100.0)
    with pytest.raises(ConfigError, match="frequency_hz=15000 must be from 20 to 12500 Hz"):
        hearing_threshold_db(15000.0)
