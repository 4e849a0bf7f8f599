"""From full scale to sound pressure: by an acoustic calibrator, by another meter's reading, or not at all.

Without one of the two, levels are relative: they tell louder from quieter on this microphone and nothing else.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tuner.errors import ConfigError
from tuner.sound.decibels import calibration_offset_db
from tuner.sound.frames import Framer, LongSpectrum, long_frequencies_hz
from tuner.sound.levels import measure_levels

Method = Literal["calibrator", "meter"]

CALIBRATOR_DB = (94.0, 114.0)
CALIBRATOR_HZ = 1000.0
DRIFT_DB = 0.5
"""Two calibrations of one microphone that differ by more put everything measured between them in doubt."""

_TOLERANCE_HZ = 25.0  # calibrators of class 2 hold 1 kHz within 2 %; common practice
_STEADY_DB = 0.3
_PURE_DB = 15.0
_METER_STEADY_DB = 6.0
_METER_DB = (20.0, 130.0)
_FULL = 0.999
_UNSURE_DB: dict[Method, float] = {"calibrator": 0.5, "meter": 2.0}


@dataclass(frozen=True, slots=True)
class Calibration:
    """What to add to levels re full scale (dB) for dB re 20 µPa, how it was found, and how far it may be off (dB)."""

    offset_db: float
    method: Method
    reference_db: float
    unsure_db: float


def check_reference(method: Method, level_db: float) -> None:
    """Raise ConfigError for a level (dB) that no calibrator gives, or that no meter reads beside a microphone."""
    if method == "calibrator" and level_db not in CALIBRATOR_DB:
        raise ConfigError(f"calibrator={level_db:g} must be 94 or 114 dB: read it off the calibrator")
    if method == "meter" and not _METER_DB[0] <= level_db <= _METER_DB[1]:
        raise ConfigError(f"meter={level_db:g} must be 20 to 130 dB(A): read the meter again")


def calibrate_with_calibrator(
    samples: NDArray[np.floating], sample_rate: int, calibrator_db: float = CALIBRATOR_DB[0]
) -> Calibration:
    """Return the calibration from at least 3 s of an acoustic calibrator (IEC 60942: 94 or 114 dB at 1 kHz).

    Raises ConfigError when this is no steady, pure tone of 1 kHz below full scale, or no calibrator's level.
    """
    check_reference("calibrator", calibrator_db)
    if float(np.max(np.abs(samples), initial=0.0)) >= _FULL:
        raise ConfigError("the calibrator's tone reaches full scale: turn the input level down and calibrate again")
    framer, long = Framer(sample_rate), LongSpectrum(sample_rate)
    slabs = (*framer.push(samples), *framer.flush())
    spectra = np.array([frame.power for slab in slabs for frame in long.push(slab)])
    if spectra.shape[0] < 4:
        raise ConfigError("the calibrator must be heard for at least 3 s: hold it on the microphone and try again")
    frequencies = long_frequencies_hz(sample_rate)
    near = np.abs(frequencies - CALIBRATOR_HZ) <= 2 * _TOLERANCE_HZ
    peak_hz = float(frequencies[50:][np.argmax(spectra.mean(axis=0)[50:])])
    tone = spectra[:, near].sum(axis=1)
    rest = spectra[:, (frequencies > 100.0) & ~near].sum(axis=1)
    if abs(peak_hz - CALIBRATOR_HZ) > _TOLERANCE_HZ:
        raise ConfigError(f"the strongest tone lies at {peak_hz:.0f} Hz and must be 1000 Hz: is the calibrator on?")
    if 10 * np.log10(np.median(tone) / (np.median(rest) + 1e-20)) < _PURE_DB:
        raise ConfigError("the tone does not stand out of the noise: seat the calibrator on the microphone")
    spread_db = float(np.ptp(10 * np.log10(tone)))
    if spread_db > _STEADY_DB:
        raise ConfigError(f"the tone's level moves by {spread_db:.1f} dB: seat the calibrator, switch gain control off")
    offset = calibration_offset_db(calibrator_db, float(tone.mean()))
    return Calibration(offset, "calibrator", calibrator_db, _UNSURE_DB["calibrator"])


def calibrate_with_meter(samples: NDArray[np.floating], sample_rate: int, meter_db: float) -> Calibration:
    """Return the calibration from a steady sound and what a meter beside the microphone read for it (LAeq, dB(A)).

    Raises ConfigError for a reading that is no sound level, or a sound that was not steady.
    """
    check_reference("meter", meter_db)
    levels = measure_levels(samples, sample_rate)
    spread_db = levels.la10_db - levels.la90_db
    if spread_db > _METER_STEADY_DB:
        raise ConfigError(f"the sound's level moves by {spread_db:.0f} dB: compare on a steady sound, such as a fan")
    return Calibration(meter_db - levels.laeq_db, "meter", meter_db, _UNSURE_DB["meter"])


def drift_db(before: Calibration, after: Calibration) -> float:
    """Return how far a microphone has drifted between two calibrations (dB, positive: it has become more sensitive)."""
    return before.offset_db - after.offset_db


def has_drifted(before: Calibration, after: Calibration) -> bool:
    """Tell whether the drift is more than half a decibel beyond what the methods themselves leave open."""
    own = 0.0 if before.method == after.method == "calibrator" else max(before.unsure_db, after.unsure_db)
    return abs(drift_db(before, after)) > DRIFT_DB + own
