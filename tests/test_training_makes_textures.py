"""Textures: power, spectrum and swells of what the training's other sounds are built from."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import welch

from tuner.training.makes.textures import Band, Notes, noise, patter, rasp, swell, throng

RATE = 16_000


def rng(seed: int = 0) -> np.random.Generator:
    return np.random.default_rng(seed)


def octave_db(samples: np.ndarray, centre_hz: float) -> float:
    """Spectral density in an octave, by scipy's Welch estimate."""
    bins, density = welch(samples, RATE, nperseg=4096)
    inside = (bins > centre_hz / 2**0.5) & (bins < centre_hz * 2**0.5)
    return float(10 * np.log10(density[inside].mean()))


def test_noise_has_unit_power_and_the_slopes_of_its_band() -> None:
    band = Band(500.0, 2000.0, below_db=12.0, above_db=18.0, ripple_db=0.0)
    made = noise(rng(), RATE, 20 * RATE, band)
    assert np.mean(made**2) == pytest.approx(1.0)
    assert octave_db(made, 1000.0) - octave_db(made, 700.0) == pytest.approx(0.0, abs=0.5)
    assert octave_db(made, 125.0) - octave_db(made, 62.5) == pytest.approx(12.0, abs=1.5)
    assert octave_db(made, 4000.0) - octave_db(made, 5600.0) == pytest.approx(9.0, abs=1.5)


def test_a_resonance_stands_out_of_its_band() -> None:
    flat = Band(50.0, 7000.0, ripple_db=0.0)
    peaked = Band(50.0, 7000.0, ripple_db=0.0, peak_hz=1000.0, peak_db=10.0, peak_octaves=0.5)
    without, with_peak = (noise(rng(), RATE, 10 * RATE, b) for b in (flat, peaked))
    assert octave_db(with_peak, 1000.0) - octave_db(with_peak, 4000.0) > (
        octave_db(without, 1000.0) - octave_db(without, 4000.0) + 6.0
    )


def test_a_throng_lies_between_its_pitches_and_falls_while_driven() -> None:
    drive = np.concatenate([np.ones(100), np.zeros(100)])
    made = throng(rng(), RATE, drive, RATE // 20, Notes(100.0, 600.0, 1200.0, 20.0))
    assert octave_db(made, 850.0) > octave_db(made, 200.0) + 20.0
    assert octave_db(made, 850.0) > octave_db(made, 4000.0) + 15.0
    assert not made[int(5.3 * RATE):].any(), "what fell last has rung out"
    assert np.mean(made[: 5 * RATE] ** 2) == pytest.approx(1.0, rel=0.5)


@settings(max_examples=15, deadline=None)
@given(st.floats(0.1, 30.0), st.floats(0.01, 0.9), st.integers(0, 99))
def test_a_swell_keeps_the_mean_square_and_is_never_negative(corner_hz: float, depth: float, seed: int) -> None:
    made = swell(rng(seed), RATE, 60 * RATE, corner_hz, depth)
    assert made.min() > 0.0
    if corner_hz > 5.0 and depth < 0.5:
        assert np.mean(made**2) == pytest.approx(1.0, rel=0.35)


@settings(max_examples=15, deadline=None)
@given(st.floats(0.1, 1.0), st.integers(0, 99))
def test_a_rasp_swings_between_one_and_what_its_depth_leaves(depth: float, seed: int) -> None:
    made = rasp(rng(seed), RATE, 2 * RATE, 15.0, 40.0, depth)
    assert 1.0 - depth - 1e-9 <= made.min() < made.max() <= 1.0 + 1e-9
    assert made.max() - made.min() > 0.8 * depth


def test_blows_patter_at_their_rate() -> None:
    made = patter(rng(), RATE, 20 * RATE, 4.0, 0.02)
    assert np.mean(made**2) == pytest.approx(1.0)
    rises = np.count_nonzero((made[1:] > 1.0) & (made[:-1] <= 1.0))
    assert 30 < rises < 90
