"""Octave and third-octave bands against IEC 61260-1, and the sums over bins against closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tuner.errors import ConfigError
from tuner.sound.bands import (
    band_weights,
    nominal_hz,
    nominal_name,
    octave_centres_hz,
    octave_edges_hz,
    third_octave_centres_hz,
    third_octave_edges_hz,
)
from tuner.sound.frames import frame_frequencies_hz, hann_window, long_frequencies_hz, power_scale

# The published values carry five or six figures.
RELATIVE_TOLERANCE = 1e-5


def test_octave_centres_are_those_of_the_standard() -> None:
    # IEC 61260-1:2014 base ten, exact centres 31.5 Hz to 8 kHz, computed from G = 10^0.3 by hand.
    expected_hz = [31.623, 63.096, 125.893, 251.189, 501.187, 1000.0, 1995.26, 3981.07, 7943.28]
    np.testing.assert_allclose(octave_centres_hz(31.5, 8000), expected_hz, rtol=2e-5)


def test_third_octave_centres_are_base_ten_not_base_two() -> None:
    # 630.96, 794.33, 1258.9, 1584.9 Hz: IEC 61260-1 (base two would give 629.96, 793.70, 1259.9, 1587.4).
    centres_hz = third_octave_centres_hz(630, 1600)
    np.testing.assert_allclose(centres_hz, [630.957, 794.328, 1000.0, 1258.925, 1584.893], rtol=1e-6)


@pytest.mark.parametrize(
    ("centre_hz", "lower_hz", "upper_hz"), [(1000.0, 891.251, 1122.018), (100.0, 89.1251, 112.2018)]
)
def test_third_octave_edges_are_those_of_the_standard(centre_hz: float, lower_hz: float, upper_hz: float) -> None:
    # IEC 61260-1: 1000·10^(∓1/20) Hz.
    np.testing.assert_allclose(third_octave_edges_hz([centre_hz]), [[lower_hz, upper_hz]], rtol=RELATIVE_TOLERANCE)


def test_neighbouring_bands_share_their_edge() -> None:
    thirds_hz = third_octave_edges_hz(third_octave_centres_hz(25, 16000))
    np.testing.assert_allclose(thirds_hz[1:, 0], thirds_hz[:-1, 1], rtol=1e-12)
    octaves_hz = octave_edges_hz(octave_centres_hz(31.5, 8000))
    np.testing.assert_allclose(octaves_hz[1:, 0], octaves_hz[:-1, 1], rtol=1e-12)
    np.testing.assert_allclose(octaves_hz[5], [707.946, 1412.538], rtol=1e-6)


def test_a_nominal_centre_means_the_same_band_as_the_exact_one() -> None:
    nominal = [31.5, 40.0, 125.0, 160.0, 315.0, 1250.0, 3150.0, 12500.0]
    exact_hz = [1000.0 * 10.0 ** (round(10.0 * np.log10(f / 1000.0)) / 10.0) for f in nominal]
    np.testing.assert_array_equal(third_octave_edges_hz(nominal), third_octave_edges_hz(exact_hz))
    assert [nominal_hz(f) for f in exact_hz] == nominal


def test_nominal_names_from_25_hz_to_16_khz() -> None:
    # IEC 61260-1:2014 annex E, nominal midband frequencies.
    expected = (
        "25 31.5 40 50 63 80 100 125 160 200 250 315 400 500 630 800 "
        "1k 1.25k 1.6k 2k 2.5k 3.15k 4k 5k 6.3k 8k 10k 12.5k 16k"
    )
    assert " ".join(nominal_name(float(f)) for f in third_octave_centres_hz(25, 16000)) == expected


@pytest.mark.parametrize("sample_rate", [16000, 44100, 48000, 96000])
def test_white_spectrum_band_powers_are_exact(sample_rate: int) -> None:
    density = 3.0  # mean square per hertz
    for frequencies_hz in (frame_frequencies_hz(sample_rate), long_frequencies_hz(sample_rate)):
        power = np.full(frequencies_hz.size, density * frequencies_hz[1])
        power[[0, -1]] /= 2.0
        edges_hz = third_octave_edges_hz(third_octave_centres_hz(31.5, 6300))
        bands = power @ band_weights(frequencies_hz, edges_hz).T
        np.testing.assert_allclose(bands, density * (edges_hz[:, 1] - edges_hz[:, 0]), rtol=1e-9)


@given(
    cuts=st.lists(st.floats(min_value=1.0, max_value=23999.0), min_size=1, max_size=12, unique=True),
    seed=st.integers(0, 2**16),
)
def test_contiguous_bands_lose_and_double_nothing(cuts: list[float], seed: int) -> None:
    frequencies_hz = frame_frequencies_hz(48000)
    power = np.random.default_rng(seed).exponential(size=frequencies_hz.size)
    limits_hz = np.array([0.0, *sorted(cuts), 24000.0])
    weights = band_weights(frequencies_hz, np.stack([limits_hz[:-1], limits_hz[1:]], axis=1))
    np.testing.assert_allclose(weights.sum(axis=0), 1.0, rtol=1e-9)
    assert (power @ weights.T).sum() == pytest.approx(power.sum(), rel=1e-9)


@pytest.mark.parametrize("offset_bins", [0.0, 0.25, 0.5])
@pytest.mark.parametrize("centre_hz", [500.0, 1000.0, 4000.0, 10000.0])
def test_a_tone_reads_its_level_in_its_band(centre_hz: float, offset_bins: float) -> None:
    sample_rate, length = 48000, 2048
    window = hann_window(length)
    exact_hz = float(third_octave_centres_hz(centre_hz, centre_hz)[0]) + offset_bins * sample_rate / length
    tone = np.sin(2.0 * np.pi * exact_hz * np.arange(length) / sample_rate + 0.4)
    power = np.abs(np.fft.rfft(tone * window)) ** 2 * power_scale(window)
    weights = band_weights(frame_frequencies_hz(sample_rate), third_octave_edges_hz([centre_hz]))
    # A sine of amplitude 1 has mean square 0.5.
    assert 10.0 * np.log10((power @ weights.T).item() / 0.5) == pytest.approx(0.0, abs=0.1)


def test_what_is_no_band_is_refused() -> None:
    with pytest.raises(ConfigError, match="must be a third-octave centre: the nearest is 1000 Hz"):
        third_octave_centres_hz(1060, 2000)
    with pytest.raises(ConfigError, match="must be an octave centre: the nearest is"):
        octave_centres_hz(800, 2000)
    with pytest.raises(ConfigError, match="must be a positive frequency"):
        nominal_hz(0.0)
    with pytest.raises(ConfigError, match="highest_hz=100 must be at least lowest_hz=200"):
        third_octave_centres_hz(200, 100)


def test_bands_and_bins_that_do_not_fit_are_refused() -> None:
    frequencies_hz = frame_frequencies_hz(16000)
    with pytest.raises(ConfigError, match="must be at most 8000 Hz: the sample rate is too low"):
        band_weights(frequencies_hz, third_octave_edges_hz([8000.0]))
    with pytest.raises(ConfigError, match="every lower edge below its upper edge"):
        band_weights(frequencies_hz, [[200.0, 100.0]])
    with pytest.raises(ConfigError, match="starting at 0 Hz"):
        band_weights([10.0, 20.0], [[10.0, 20.0]])
    with pytest.raises(ConfigError, match="evenly spaced"):
        band_weights([0.0, 10.0, 30.0], [[10.0, 20.0]])
