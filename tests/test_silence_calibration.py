from __future__ import annotations

import numpy as np
import pytest

from tuner.errors import ConfigError
from tuner.silence.calibration import (
    Calibration,
    calibrate_with_calibrator,
    calibrate_with_meter,
    drift_db,
    has_drifted,
)

RATE = 16_000


def tone(hz: float = 1000.0, amplitude: float = 0.1, seconds: float = 5.0, noise: float = 1e-4) -> np.ndarray:
    time = np.arange(round(seconds * RATE)) / RATE
    rng = np.random.default_rng(4)
    return (amplitude * np.sin(2 * np.pi * hz * time) + noise * rng.standard_normal(time.size)).astype(np.float32)


@pytest.mark.parametrize("level_db", [94.0, 114.0])
def test_a_calibrators_tone_gives_the_offset(level_db: float) -> None:
    # A sine of amplitude 0.1 has -23.01 dB re full scale: G = L_cal - 20 lg(rms).
    found = calibrate_with_calibrator(tone(), RATE, level_db)
    assert found.offset_db == pytest.approx(level_db + 23.01, abs=0.02)


@pytest.mark.parametrize(("samples", "says"), [
    (tone(hz=1200.0), "strongest tone lies at 1200 Hz"), (tone(amplitude=1.0), "reaches full scale"),
    (tone(noise=0.1), "does not stand out"), (tone(seconds=1.5), "at least 3 s"),
    (tone() * np.linspace(1.0, 0.5, 5 * RATE, dtype=np.float32), "level moves by"),
])
def test_what_is_no_calibrator_is_refused(samples: np.ndarray, says: str) -> None:
    with pytest.raises(ConfigError, match=says):
        calibrate_with_calibrator(samples, RATE)


def test_another_level_is_no_calibrators() -> None:
    with pytest.raises(ConfigError, match="calibrator=90 must be 94 or 114"):
        calibrate_with_calibrator(tone(), RATE, 90.0)


def test_a_meters_reading_gives_the_offset_and_is_less_sure() -> None:
    found = calibrate_with_meter(tone(), RATE, 60.0)
    assert found.offset_db == pytest.approx(83.01, abs=0.05)
    assert found.unsure_db > calibrate_with_calibrator(tone(), RATE).unsure_db
    with pytest.raises(ConfigError, match="meter=300 must be 20 to 130"):
        calibrate_with_meter(tone(), RATE, 300.0)
    with pytest.raises(ConfigError, match="compare on a steady sound"):
        calibrate_with_meter(tone() * np.repeat([1.0, 0.1], 5 * RATE // 2).astype(np.float32), RATE, 60.0)


def test_half_a_decibel_of_drift_between_two_calibrators_is_too_much() -> None:
    first = Calibration(110.0, "calibrator", 94.0, 0.5)
    assert drift_db(first, Calibration(109.0, "calibrator", 94.0, 0.5)) == pytest.approx(1.0)
    assert has_drifted(first, Calibration(109.4, "calibrator", 94.0, 0.5))
    assert not has_drifted(first, Calibration(109.6, "calibrator", 94.0, 0.5))
    # A meter's reading is not sure enough to show it.
    assert not has_drifted(first, Calibration(108.0, "meter", 60.0, 2.0))
