"""Level statistics against closed forms and against a direct FFT of the whole sound."""

from __future__ import annotations

from dataclasses import replace

import librosa
import numpy as np
import pytest
import scipy.signal
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from tuner.errors import ConfigError
from tuner.sound.bands import third_octave_centres_hz
from tuner.sound.frames import Framer, Slab
from tuner.sound.levels import LevelMeter, measure_levels
from tuner.terms import Levels

RATES = (16000, 44100, 48000, 96000)
Sound32 = NDArray[np.float32]

# The mirrored ends of the sound weigh a little differently from its middle.
STEADY_TOLERANCE_DB = 0.05
# Two routes over the same ten seconds of noise differ by their windows only.
NOISE_TOLERANCE_DB = 0.25


def sine(rate: int, frequency_hz: float, seconds: float, amplitude: float = 1.0) -> Sound32:
    time_s = np.arange(round(seconds * rate)) / rate
    samples: Sound32 = (amplitude * np.sin(2.0 * np.pi * frequency_hz * time_s)).astype(np.float32)
    return samples


def noise(rate: int, seconds: float, slope: float, seed: int) -> Sound32:
    """Gaussian noise whose power falls with frequency to the power ``slope`` (0 white, 1 pink)."""
    count = round(seconds * rate)
    rng = np.random.default_rng(seed)
    frequency_hz = np.fft.rfftfreq(count, 1.0 / rate)
    spectrum = rng.normal(size=frequency_hz.size) + 1j * rng.normal(size=frequency_hz.size)
    spectrum *= np.maximum(frequency_hz, 10.0) ** (-slope / 2.0)
    samples = np.fft.irfft(spectrum, count)
    scaled: Sound32 = (0.1 * samples / samples.std()).astype(np.float32)
    return scaled


def direct(samples: Sound32, rate: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Frequencies and one-sided powers of one FFT over the whole sound, without a window."""
    power = np.abs(np.fft.rfft(samples.astype(np.float64))) ** 2 * 2.0 / samples.size**2
    return np.arange(power.size, dtype=np.float64) * (rate / samples.size), power


def slabs_of(samples: Sound32, rate: int) -> tuple[Slab, ...]:
    framer = Framer(rate)
    return framer.push(samples) + framer.flush()


def band_db(levels: Levels, nominal_hz: float) -> float:
    return levels.third_octave_db[levels.third_octave_hz.index(nominal_hz)]


@pytest.mark.parametrize("rate", RATES)
def test_a_full_scale_sine_at_1_khz_reads_minus_3_01_db_in_everything(rate: int) -> None:
    levels = measure_levels(sine(rate, 1000.0, 3.0), rate)
    assert levels.laeq_db == pytest.approx(-3.0103, abs=0.01)
    assert band_db(levels, 1000.0) == pytest.approx(-3.0103, abs=STEADY_TOLERANCE_DB)
    # One step of the histogram.
    for level_db in (levels.la10_db, levels.la50_db, levels.la90_db, levels.lafmax_db):
        assert level_db == pytest.approx(-3.0103, abs=0.1)
    assert not levels.calibrated


@pytest.mark.parametrize(
    ("frequency_hz", "weight_db", "tolerance_db"),
    # IEC 61672-1 table values; below 200 Hz the frames' resolution adds up to 0.25 dB, at 50 Hz 1.6 dB.
    [(50.1187, -30.2, 1.7), (100.0, -19.1, 0.3), (125.893, -16.1, 0.2), (251.189, -8.6, 0.1),
     (501.187, -3.2, 0.1), (1995.26, 1.2, 0.1), (3981.07, 1.0, 0.1)],
)  # fmt: skip
@pytest.mark.parametrize("rate", [16000, 48000])
def test_sines_read_their_a_weighted_level(
    rate: int, frequency_hz: float, weight_db: float, tolerance_db: float
) -> None:
    reading = measure_levels(sine(rate, frequency_hz, 2.0, 0.1), rate).laeq_db
    assert reading == pytest.approx(-23.0103 + weight_db, abs=tolerance_db)


def test_high_sines_are_not_bent_by_the_nyquist_frequency() -> None:
    # IEC 61672-1: -4.3 dB at 12.5 kHz, -9.3 dB at 20 kHz; a bilinear filter is off by 3 and 16 dB here.
    for frequency_hz, weight_db in ((12589.25, -4.3), (19952.6, -9.3)):
        reading = measure_levels(sine(48000, frequency_hz, 2.0), 48000).laeq_db
        assert reading == pytest.approx(-3.0103 + weight_db, abs=0.1)


@pytest.mark.parametrize("nominal_hz", [31.5, 63.0, 100.0, 400.0, 500.0, 5000.0])
def test_a_sine_stands_in_its_band_and_far_below_in_the_others(nominal_hz: float) -> None:
    exact_hz = float(third_octave_centres_hz(nominal_hz, nominal_hz)[0])
    levels = measure_levels(sine(48000, exact_hz, 5.0), 48000)
    assert band_db(levels, nominal_hz) == pytest.approx(-3.0103, abs=0.1)
    place = levels.third_octave_hz.index(nominal_hz)
    others_db = np.delete(np.array(levels.third_octave_db), [place - 1, place, place + 1])
    # IEC 61260-1:2014 class 1 asks for at least 41 dB two bands away and more beyond (from memory).
    assert others_db.max() < -3.0 - 41.0


def test_a_sound_that_is_on_half_of_the_time() -> None:
    cycle = np.concatenate([sine(48000, 1000.0, 2.0), np.zeros(2 * 48000, dtype=np.float32)])
    levels = measure_levels(np.tile(cycle, 5), 48000)
    assert levels.laeq_db == pytest.approx(-6.0206, abs=STEADY_TOLERANCE_DB)
    assert levels.la10_db == pytest.approx(-3.0103, abs=0.1)
    # FAST falls by 10 lg(e)/0.125 s = 34.7 dB a second: it passes LA90 after 1.6 of the 2 s of pause.
    assert levels.la90_db == pytest.approx(-3.0103 - 34.74 * 1.6, abs=4.0)


@pytest.mark.parametrize(
    ("duration_s", "expected_db", "tolerance_db"),
    # IEC 61672-1:2013 table 4, toneburst response LAFmax - LA at 4 kHz and its class 1 limits.
    [(1.0, 0.0, 0.5), (0.5, -0.1, 0.5), (0.2, -1.0, 0.5), (0.1, -2.6, 1.0), (0.05, -4.8, 1.0),
     (0.02, -8.3, 1.0), (0.01, -11.1, 1.0)],
)  # fmt: skip
def test_fast_meets_the_toneburst_table(duration_s: float, expected_db: float, tolerance_db: float) -> None:
    samples = np.zeros(3 * 48000, dtype=np.float32)
    burst = sine(48000, 4000.0, duration_s)
    samples[48000 : 48000 + burst.size] = burst
    steady_db = -3.0103 + 0.96
    reading = measure_levels(samples, 48000).lafmax_db
    assert reading - steady_db == pytest.approx(expected_db, abs=tolerance_db)


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("slope", [0.0, 1.0])
def test_noise_meets_a_direct_fft_with_librosas_curve(rate: int, slope: float) -> None:
    samples = noise(rate, 10.0, slope, seed=11)
    levels = measure_levels(samples, rate)
    frequency_hz, power = direct(samples, rate)
    weight = 10.0 ** (librosa.A_weighting(frequency_hz[1:], min_db=None) / 10.0)
    assert levels.laeq_db == pytest.approx(10.0 * np.log10(power[1:] @ weight), abs=STEADY_TOLERANCE_DB)
    for nominal_hz, level_db in zip(levels.third_octave_hz, levels.third_octave_db, strict=True):
        exact_hz = 1000.0 * 10.0 ** (round(10.0 * np.log10(nominal_hz / 1000.0)) / 10.0)
        inside = (frequency_hz >= exact_hz * 10.0**-0.05) & (frequency_hz < exact_hz * 10.0**0.05)
        # A narrow band's share at its edges is uncertain by the resolution of one second.
        tolerance_db = NOISE_TOLERANCE_DB * max(1.0, 4.0 / np.sqrt(exact_hz * 0.23 / 5.0))
        assert level_db == pytest.approx(10.0 * np.log10(power[inside].sum()), abs=tolerance_db), nominal_hz


def test_pink_noise_has_equal_third_octaves() -> None:
    levels = measure_levels(noise(48000, 20.0, 1.0, seed=12), 48000)
    bands_db = np.array(levels.third_octave_db)
    bandwidth_hz = np.array(levels.third_octave_hz) * 0.2316
    # Bendat & Piersol: a level's standard deviation is 4.34/sqrt(BT) dB; four of them.
    spread_db = 4.0 * 4.34 / np.sqrt(bandwidth_hz * 20.0)
    assert np.all(np.abs(bands_db - np.median(bands_db)) < spread_db + 0.05)


@pytest.mark.parametrize("rate", RATES)
def test_the_bands_run_from_25_hz_to_what_the_rate_allows(rate: int) -> None:
    names_hz = measure_levels(noise(rate, 1.0, 0.0, seed=13), rate).third_octave_hz
    assert names_hz[0] == 25.0
    assert names_hz[-1] == (6300.0 if rate == 16000 else 16000.0)


@settings(max_examples=15, deadline=None)
@given(at_s=st.floats(min_value=0.6, max_value=4.0))
def test_a_low_burst_counts_the_same_wherever_it_falls(at_s: float) -> None:
    rate = 16000
    samples = np.zeros(5 * rate, dtype=np.float32)
    burst = sine(rate, 100.0, 0.3) * np.hanning(round(0.3 * rate)).astype(np.float32)
    start = round(at_s * rate)
    samples[start : start + burst.size] = burst
    # Windows of 0.8 s, 0.2 s apart, inside 5 s: 22 steps of 0.2 s stand for the whole.
    expected_db = 10.0 * np.log10(np.sum(burst.astype(np.float64) ** 2) / (22 * 0.2 * rate))
    assert band_db(measure_levels(samples, rate), 100.0) == pytest.approx(expected_db, abs=0.1)


def test_exceedance_levels_meet_a_time_domain_route() -> None:
    rate = 48000
    time_s = np.arange(20 * rate) / rate
    swing = 10.0 ** (np.sin(2.0 * np.pi * 0.2 * time_s) * 0.5)
    samples = (noise(rate, 20.0, 1.0, seed=14) * swing * 0.3).astype(np.float32)
    levels = measure_levels(samples, rate)
    spectrum = np.fft.rfft(samples.astype(np.float64))
    frequency_hz = np.maximum(np.fft.rfftfreq(samples.size, 1.0 / rate), 1e-3)
    weighted = np.fft.irfft(spectrum * 10.0 ** (librosa.A_weighting(frequency_hz, min_db=None) / 20.0))
    decay = np.exp(-1.0 / rate / 0.125)
    squares = weighted**2
    fast, _ = scipy.signal.lfilter([1.0 - decay], [1.0, -decay], squares, zi=[decay * squares[:4800].mean()])
    fast_db = 10.0 * np.log10(fast[4799::4800])
    expected_db = np.percentile(fast_db, [90.0, 50.0, 10.0])
    np.testing.assert_allclose([levels.la10_db, levels.la50_db, levels.la90_db], expected_db, atol=0.5)
    assert levels.lafmax_db == pytest.approx(10.0 * np.log10(fast.max()), abs=0.5)


@settings(max_examples=15, deadline=None)
@given(
    sizes=st.lists(st.integers(1, 20000), max_size=10),
    seed=st.integers(0, 1000),
    gain=st.floats(min_value=1e-6, max_value=1.0),
)
def test_any_cut_gives_the_same_levels_and_they_are_in_order(sizes: list[int], seed: int, gain: float) -> None:
    rate = 16000
    samples = (np.random.default_rng(seed).laplace(size=2 * rate) * gain).astype(np.float32)
    framer, meter = Framer(rate), LevelMeter(rate)
    taken = 0
    for size in [*sizes, samples.size]:
        for slab in framer.push(samples[taken : taken + size]):
            meter.update(slab)
        taken += size
    for slab in framer.flush():
        meter.update(slab)
    levels = meter.levels()
    assert levels == measure_levels(samples, rate)
    assert levels.la90_db <= levels.la50_db <= levels.la10_db <= levels.lafmax_db


def test_a_calibration_offset_shifts_every_level() -> None:
    samples = noise(48000, 2.0, 1.0, seed=15)
    plain, shifted = measure_levels(samples, 48000), measure_levels(samples, 48000, offset_db=120.0)
    assert shifted.calibrated
    assert shifted.third_octave_hz == plain.third_octave_hz
    for name in ("laeq_db", "la10_db", "la50_db", "la90_db", "lafmax_db"):
        assert getattr(shifted, name) == pytest.approx(getattr(plain, name) + 120.0)
    np.testing.assert_allclose(shifted.third_octave_db, np.array(plain.third_octave_db) + 120.0)


def test_digital_silence_reads_the_stated_bottom() -> None:
    levels = measure_levels(np.zeros(48000, dtype=np.float32), 48000)
    assert levels.laeq_db == levels.lafmax_db == -200.0
    assert set(levels.third_octave_db) == {-200.0}
    assert levels.la90_db <= levels.la10_db <= -200.0


def test_the_meter_runs_on_while_it_is_asked() -> None:
    samples = noise(16000, 4.0, 0.0, seed=16)
    meter = LevelMeter(16000)
    assert meter.laf_db is None
    for count, slab in enumerate(slabs_of(samples, 16000), start=1):
        meter.update(slab)
        if count >= 10:
            meter.levels()
    assert meter.levels() == measure_levels(samples, 16000)
    assert meter.duration_s == pytest.approx(4.0)
    assert meter.laf_db == pytest.approx(meter.levels().laeq_db, abs=1.0)


def test_a_gap_neither_spoils_nor_drops_what_was_gathered() -> None:
    samples = sine(48000, 100.0, 4.0)
    slabs = slabs_of(samples, 48000)
    meter = LevelMeter(48000)
    for slab in slabs[:17] + tuple(replace(s, start=s.start + 1000) for s in slabs[17:]):
        meter.update(slab)
    assert meter.duration_s == pytest.approx(4.0)
    assert band_db(meter.levels(), 100.0) == pytest.approx(-3.0103, abs=0.05)


def test_too_little_sound_is_said() -> None:
    with pytest.raises(ConfigError, match=r"duration_s=0\.9 must be at least 1\.0: listen for longer"):
        measure_levels(np.zeros(47999, dtype=np.float32), 48000)
    meter = LevelMeter(48000)
    with pytest.raises(ConfigError, match=r"duration_s=0\.0 must be at least 1\.0"):
        meter.levels()
    slab = slabs_of(noise(48000, 0.1, 0.0, seed=17), 48000)[0]
    for place in range(20):
        meter.update(replace(slab, start=place * 10000))
    with pytest.raises(ConfigError, match="must hold an unbroken 0"):
        meter.levels()


def test_a_foreign_slab_and_a_broken_calibration_are_refused() -> None:
    slab = slabs_of(noise(16000, 0.1, 0.0, seed=18), 16000)[0]
    with pytest.raises(ConfigError, match="comes from another sample rate"):
        LevelMeter(48000).update(slab)
    with pytest.raises(ConfigError, match="offset_db=nan must be finite"):
        LevelMeter(48000, offset_db=float("nan"))
