"""Tones by ECMA-418-1: limits and bands as published, ratios against closed forms and against MOSQITO."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from tuner.errors import ConfigError
from tuner.sound.frames import Framer, LongSpectrum, long_frequencies_hz
from tuner.sound.tones import (
    Tone,
    critical_band_hz,
    critical_bandwidth_hz,
    find_tones,
    neighbour_edges_hz,
    prominence_limit_db,
    prominence_ratio_db,
    tnr_limit_db,
)

Floats = NDArray[np.float64]

# Published limits and widths carry one decimal.
TENTH = 0.0501
# A tone's five bins hold a share of the noise that the closed form leaves out.
CLOSED_FORM_TOLERANCE_DB = 0.25
# Two programs differ in how they cut bins at a band's edges and in how many lines make a tone.
OTHER_PROGRAM_TOLERANCE_DB = 0.1

BINS_HZ = np.arange(24001, dtype=np.float64)
NOISE = 1e-9  # mean square per hertz


def spectrum(tones: dict[int, float], noise: float = NOISE) -> Floats:
    """Flat noise with a ripple, and tones (mean square at whole bins) as a Hann window shows them."""
    power: Floats = noise * (1.0 + 0.3 * np.sin(1.7 * np.arange(BINS_HZ.size)))
    for place, mean_square in tones.items():
        power[place] += mean_square * 2.0 / 3.0
        power[[place - 1, place + 1]] += mean_square / 6.0
    return power


def average_spectrum(samples: Floats, rate: int) -> tuple[Floats, Floats]:
    framer, stage = Framer(rate), LongSpectrum(rate)
    slabs = framer.push(samples.astype(np.float32)) + framer.flush()
    frames = [frame.power for slab in slabs for frame in stage.push(slab)]
    return np.mean(frames, axis=0, dtype=np.float64), long_frequencies_hz(rate)


@pytest.mark.parametrize(
    ("frequency_hz", "tnr_db", "pr_db", "width_hz"),
    # ECMA-418-1 formulas, evaluated by hand calculator; 16.3 and 19.0 dB at 100 Hz are the anchors.
    [(100, 16.3, 19.0, 100.7), (120, 15.7, 18.2, 101.0), (200, 13.8, 16.0, 102.9), (250, 13.0, 15.0, 104.5),
     (500, 10.5, 12.0, 117.3), (1000, 8.0, 9.0, 162.2), (5000, 8.0, 9.0, 914.0)],
)  # fmt: skip
def test_limits_and_critical_bandwidths(frequency_hz: float, tnr_db: float, pr_db: float, width_hz: float) -> None:
    assert tnr_limit_db(frequency_hz) == pytest.approx(tnr_db, abs=TENTH)
    assert prominence_limit_db(frequency_hz) == pytest.approx(pr_db, abs=TENTH)
    assert critical_bandwidth_hz(frequency_hz) == pytest.approx(width_hz, abs=TENTH)


@pytest.mark.parametrize(
    ("frequency_hz", "lowest", "lower", "upper", "highest"),
    # MOSQITO 1.2.1, _critical_band.py.
    [(100.0, 20.0, 49.639, 150.361, 253.77), (120.0, 20.0, 69.480, 170.520, 274.809),
     (250.0, 96.437, 197.766, 302.234, 413.062), (1000.0, 782.5, 922.176, 1084.392, 1261.5),
     (4000.0, 3099.6, 3671.944, 4357.364, 5208.9)],
)  # fmt: skip
def test_band_edges_are_mosqitos(
    frequency_hz: float, lowest: float, lower: float, upper: float, highest: float
) -> None:
    assert critical_band_hz(frequency_hz) == pytest.approx((lower, upper), abs=0.001)
    assert neighbour_edges_hz(frequency_hz) == pytest.approx((lowest, highest), abs=0.001)


def test_ratios_meet_mosqito() -> None:
    tones = find_tones(spectrum({440: 1e-5, 700: 3e-6, 1500: 2e-6, 3000: 1e-5}), BINS_HZ)
    assert [round(tone.frequency_hz) for tone in tones] == [440, 700, 1500, 3000]
    # MOSQITO 1.2.1 on this very spectrum (+120 dB): pr_ecma_freq and tnr_ecma_freq.
    expected = ((19.47, 19.54), (13.76, 13.63), (9.92, 9.53), (13.15, 13.22))
    for tone, (pr_db, tnr_db) in zip(tones, expected, strict=True):
        assert tone.prominence_db == pytest.approx(pr_db, abs=OTHER_PROGRAM_TOLERANCE_DB)
        assert tone.tnr_db == pytest.approx(tnr_db, abs=OTHER_PROGRAM_TOLERANCE_DB)


@pytest.mark.parametrize("tone_hz", [100, 120, 250, 1000, 4000, 11000])
@pytest.mark.parametrize("tnr_db", [6.0, 20.0, 50.0])
def test_one_tone_in_flat_noise_meets_the_closed_forms(tone_hz: int, tnr_db: float) -> None:
    width_hz = critical_bandwidth_hz(tone_hz)
    mean_square = NOISE * width_hz * 10.0 ** (tnr_db / 10.0)
    (tone,) = find_tones(spectrum({tone_hz: mean_square}), BINS_HZ)
    assert tone.frequency_hz == pytest.approx(tone_hz, abs=0.01)
    assert tone.tnr_db == pytest.approx(tnr_db, abs=CLOSED_FORM_TOLERANCE_DB)
    assert tone.level_db == pytest.approx(10.0 * np.log10(mean_square), abs=CLOSED_FORM_TOLERANCE_DB)
    lower, upper = critical_band_hz(tone_hz)
    lowest, highest = neighbour_edges_hz(tone_hz)
    # Below 171.4 Hz the lower neighbour, cut off at 20 Hz, counts as if it were 100 Hz wide.
    below_hz = 100.0 if tone_hz < 171.4 else lower - lowest
    around = NOISE * (below_hz + highest - upper) / 2.0
    expected_db = 10.0 * np.log10((mean_square + NOISE * width_hz) / around)
    assert tone.prominence_db == pytest.approx(expected_db, abs=CLOSED_FORM_TOLERANCE_DB)


def test_flat_noise_has_a_prominence_of_about_nothing_and_no_tones() -> None:
    assert find_tones(spectrum({}), BINS_HZ) == ()
    for tone_hz in (100.0, 300.0, 1000.0, 5000.0):
        assert prominence_ratio_db(spectrum({}), BINS_HZ, tone_hz) == pytest.approx(0.0, abs=0.25)


@settings(max_examples=10, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_noise_alone_has_no_tones_even_in_a_single_spectrum(seed: int) -> None:
    power = np.random.default_rng(seed).exponential(NOISE, BINS_HZ.size)
    assert find_tones(power, BINS_HZ) == ()


def test_tones_that_share_a_critical_band_do_not_mask_each_other() -> None:
    # Shaft, hum and blade tones of one pump, in and around the band from 50 to 150 Hz.
    tones = find_tones(spectrum({100: 1e-5, 145: 1e-6, 300: 1e-6}), BINS_HZ)
    assert [round(tone.frequency_hz) for tone in tones] == [100, 145, 300]
    alone = find_tones(spectrum({145: 1e-6}), BINS_HZ)[0]
    assert tones[1].tnr_db == pytest.approx(alone.tnr_db, abs=CLOSED_FORM_TOLERANCE_DB)


def test_near_tones_are_heard_as_one() -> None:
    # At 100 Hz ECMA-418-1 takes a weaker tone within 21·10^(1.2·|lg(100/212)|^1.8) = 30 Hz together with it.
    alone, near, far = (
        find_tones(spectrum({100: 1e-6, **extra}), BINS_HZ)[0].tnr_db for extra in ({}, {120: 9e-7}, {140: 9e-7})
    )
    assert near - alone == pytest.approx(10.0 * np.log10(1.9), abs=0.2)
    assert far == pytest.approx(alone, abs=0.2)


@pytest.mark.parametrize("rate", [16000, 44100, 48000])
def test_a_pump_hum_is_found_in_sound(rate: int) -> None:
    rng = np.random.default_rng(21)
    time_s = np.arange(5 * rate) / rate
    hum = 0.02 * np.sin(2.0 * np.pi * 100.37 * time_s) + 0.01 * np.sin(2.0 * np.pi * 360.2 * time_s)
    density = 1e-8
    samples = hum + rng.normal(scale=np.sqrt(density * rate / 2.0), size=time_s.size)
    tones = find_tones(*average_spectrum(samples, rate))
    assert len(tones) == 2
    for tone, tone_hz, amplitude in zip(tones, (100.37, 360.2), (0.02, 0.01), strict=True):
        mean_square = amplitude**2 / 2.0
        # A parabola through a Hann window's main lobe errs by up to 0.05 bins.
        assert tone.frequency_hz == pytest.approx(tone_hz, abs=0.06)
        assert tone.level_db == pytest.approx(10.0 * np.log10(mean_square), abs=0.1)
        expected_db = 10.0 * np.log10(mean_square / (density * critical_bandwidth_hz(tone_hz)))
        # The noise of one critical band over 5 s is known within 4.34/sqrt(100·5) = 0.2 dB; three of it.
        assert tone.tnr_db == pytest.approx(expected_db, abs=0.6)
        assert tone.prominent


def test_a_hump_is_no_tone() -> None:
    hump = NOISE * 300.0 * np.exp(-(((BINS_HZ - 1000.0) / 60.0) ** 2))
    assert find_tones(spectrum({}) + hump, BINS_HZ) == ()


def test_prominent_is_either_ratio_over_its_limit() -> None:
    assert Tone(100.0, -40.0, 19.1, 0.0).prominent
    assert Tone(100.0, -40.0, 0.0, 16.4).prominent
    assert not Tone(100.0, -40.0, 18.9, 16.2).prominent
    assert not Tone(100.0, -40.0, None, 16.2).prominent


def test_the_prominence_near_the_nyquist_frequency_is_not_made_up() -> None:
    power, bins_hz = spectrum({7000: 1e-5})[:8001], BINS_HZ[:8001]
    (tone,) = find_tones(power, bins_hz)
    assert tone.prominence_db is None
    assert prominence_ratio_db(power, bins_hz, 7000.0) is None
    assert tone.tnr_db > 8.0


def test_weak_tones_are_given_when_asked_for() -> None:
    power = spectrum({1000: NOISE * critical_bandwidth_hz(1000.0) * 10.0**-0.3})
    assert find_tones(power, BINS_HZ) == ()
    (tone,) = find_tones(power, BINS_HZ, least_tnr_db=-6.0)
    # Its five bins hold 5/162 of the noise besides: 0.26 dB at this ratio.
    assert tone.tnr_db == pytest.approx(-3.0, abs=0.5)


def test_digital_silence_has_no_tones() -> None:
    assert find_tones(np.zeros(BINS_HZ.size), BINS_HZ) == ()


def test_what_is_no_long_spectrum_is_refused() -> None:
    with pytest.raises(ConfigError, match="give powers, not levels in dB"):
        find_tones(np.full(BINS_HZ.size, -60.0), BINS_HZ)
    with pytest.raises(ConfigError, match="at most 5 Hz apart: take a long spectrum"):
        find_tones(np.ones(1025), np.arange(1025) * 23.4375)
    with pytest.raises(ConfigError, match="must be one spectrum over its bins"):
        find_tones(np.ones((2, 100)), np.arange(100.0))
    with pytest.raises(ConfigError, match=r"frequency_hz=50 must be from 89\.1 to 11220 Hz"):
        prominence_limit_db(50.0)
    with pytest.raises(ConfigError, match="ECMA-418-1 covers no other tones"):
        tnr_limit_db(12000.0)
    with pytest.raises(ConfigError, match="frequency_hz=20 must be"):
        prominence_ratio_db(np.ones(BINS_HZ.size), BINS_HZ, 20.0)
