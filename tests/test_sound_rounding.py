"""Rounding: what lies within a step of 16 bits is refused, finer or louder samples are not."""

from __future__ import annotations

import numpy as np
import pytest

import tuner
from tuner.errors import ConfigError
from tuner.sound.rounding import STEP, Rounding, refuse_rounded


def rounded(rms_steps: float, n: int = 96000) -> np.ndarray:
    values = np.random.default_rng(0).normal(0.0, rms_steps, n)
    return (np.round(values) * STEP).astype(np.float32)


def test_the_steps_of_noise_are_its_deviation() -> None:
    """Rounding to whole steps adds a variance of 1/12 (uniform error; textbook, from memory)."""
    rounding = Rounding()
    for block in np.array_split(rounded(5.0), 7):
        rounding.update(block)
    assert rounding.steps == pytest.approx(np.sqrt(25.0 + 1 / 12), rel=0.01)


def test_a_constant_offset_is_no_sound() -> None:
    rounding = Rounding()
    rounding.update(np.full(1000, 40 * STEP, dtype=np.float32))
    assert rounding.steps == pytest.approx(0.0, abs=1e-6)


def test_finer_samples_are_not_judged() -> None:
    refuse_rounded(np.random.default_rng(1).normal(0.0, 0.1 * STEP, 1000).astype(np.float32))


def test_too_quiet_a_recording_is_refused_rather_than_called_silent() -> None:
    with pytest.raises(ConfigError, match="too quiet to tell silence from rounding"):
        tuner.diagnose(rounded(0.4), 48000)
    refuse_rounded(rounded(3.0))
