"""The framer and the long spectrum: closed-form levels, the fixed grid, and independence of the cuts."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from tuner.errors import ConfigError
from tuner.sound.frames import (
    Framer,
    LongSpectrum,
    Slab,
    frame_frequencies_hz,
    frame_length,
    hop_length,
    long_frequencies_hz,
    require_samples,
    slab_length,
)

RATES = (16000, 44100, 48000, 96000)
# float32 spectra: relative error about 1e-6, far below 0.001 dB.
LEVEL_TOLERANCE_DB = 0.01


def sine(sample_rate: int, frequency_hz: float, seconds: float, amplitude: float = 1.0) -> NDArray[np.float32]:
    time_s = np.arange(round(seconds * sample_rate)) / sample_rate
    return (amplitude * np.sin(2.0 * np.pi * frequency_hz * time_s)).astype(np.float32)


def all_slabs(samples: NDArray[np.float32], sample_rate: int) -> tuple[Slab, ...]:
    framer = Framer(sample_rate)
    return framer.push(samples) + framer.flush()


@pytest.mark.parametrize("sample_rate", RATES)
def test_a_full_scale_sine_reads_minus_3_01_db_in_every_frame(sample_rate: int) -> None:
    for slab in all_slabs(sine(sample_rate, 997.0, 1.0)[:sample_rate], sample_rate)[1:-1]:
        level_db = 10.0 * np.log10(slab.power.sum(axis=1))
        np.testing.assert_allclose(level_db, -3.0103, atol=LEVEL_TOLERANCE_DB)


@pytest.mark.parametrize("sample_rate", RATES)
def test_the_grid_is_ten_frames_of_ten_milliseconds(sample_rate: int) -> None:
    samples = np.random.default_rng(1).normal(size=sample_rate).astype(np.float32)
    slabs = all_slabs(samples, sample_rate)
    assert len(slabs) == 10
    assert [s.start for s in slabs] == [i * sample_rate // 10 for i in range(10)]
    assert all(s.power.shape == (10, frame_length(sample_rate) // 2 + 1) for s in slabs)
    np.testing.assert_array_equal(np.concatenate([s.samples for s in slabs]), samples)
    assert frame_length(sample_rate) / sample_rate == pytest.approx(0.0427, rel=0.06)
    assert hop_length(sample_rate) * 100 == sample_rate


def test_a_click_peaks_in_the_frame_centred_on_it() -> None:
    samples = np.zeros(48000, dtype=np.float32)
    # Frame 3 of slab 4: start + 3 steps + half a step.
    samples[4 * 4800 + 3 * 480 + 240] = 1.0
    energy = np.array([s.power.sum(axis=1) for s in all_slabs(samples, 48000)])
    assert int(np.argmax(energy)) == 4 * 10 + 3


def test_the_spectra_are_those_of_a_direct_fft() -> None:
    samples = np.random.default_rng(2).normal(scale=0.1, size=48000).astype(np.float32)
    slab = all_slabs(samples, 48000)[5]
    centre = slab.start + 7 * 480 + 240
    frame = samples[centre - 1024 : centre + 1024].astype(np.float64)
    window = np.hanning(2049)[:-1]
    expected = np.abs(np.fft.rfft(frame * window)) ** 2 / (2048 * np.sum(window**2))
    expected[1:-1] *= 2.0
    np.testing.assert_allclose(slab.power[7], expected, rtol=1e-3, atol=1e-9)


def test_frames_cover_noise_evenly_in_time() -> None:
    samples = np.random.default_rng(3).normal(scale=0.1, size=10 * 48000).astype(np.float32)
    from_frames = np.mean([s.power.sum(axis=1) for s in all_slabs(samples, 48000)])
    direct = np.mean(samples.astype(np.float64) ** 2)
    assert 10.0 * np.log10(from_frames / direct) == pytest.approx(0.0, abs=0.02)


def flat(slabs: tuple[Slab, ...]) -> bytes:
    return b"".join(s.start.to_bytes(8, "big") + s.power.tobytes() + s.samples.tobytes() for s in slabs)


@settings(max_examples=25, deadline=None)
@given(sizes=st.lists(st.integers(0, 9000), max_size=12), rate=st.sampled_from((16000, 44100)))
def test_any_cut_gives_the_same_bits(sizes: list[int], rate: int) -> None:
    samples = np.random.default_rng(4).normal(scale=0.1, size=31000).astype(np.float32)
    framer = Framer(rate)
    slabs: tuple[Slab, ...] = ()
    taken = 0
    for size in sizes:
        slabs += framer.push(samples[taken : taken + size])
        taken += size
    slabs += framer.push(samples[taken:]) + framer.flush()
    assert flat(slabs) == flat(all_slabs(samples, rate))


def test_single_samples_give_the_same_bits() -> None:
    samples = np.random.default_rng(5).normal(scale=0.1, size=5000).astype(np.float32)
    framer = Framer(16000)
    slabs = sum((framer.push(samples[i : i + 1]) for i in range(samples.size)), ()) + framer.flush()
    assert flat(slabs) == flat(all_slabs(samples, 16000))


def test_a_slab_comes_within_the_stated_latency() -> None:
    framer = Framer(48000)
    lookahead = round(framer.latency_s * 48000)
    assert framer.push(np.zeros(lookahead - 1, dtype=np.float32)) == ()
    assert len(framer.push(np.zeros(1, dtype=np.float32))) == 1


def test_less_than_a_tenth_of_a_second_gives_nothing_and_exactly_that_gives_one_slab() -> None:
    assert all_slabs(np.ones(4799, dtype=np.float32), 48000) == ()
    assert len(all_slabs(np.ones(4800, dtype=np.float32), 48000)) == 1


def test_reset_goes_on_at_the_given_index_after_a_gap() -> None:
    samples = np.random.default_rng(6).normal(size=10000).astype(np.float32)
    framer = Framer(48000)
    framer.push(samples)
    framer.reset(start=777)
    slabs = framer.push(samples) + framer.flush()
    assert [s.start for s in slabs] == [777, 5577]
    np.testing.assert_array_equal(slabs[0].power, all_slabs(samples, 48000)[0].power)


def test_slabs_are_read_only_and_keep_nothing_of_the_callers_buffer() -> None:
    buffer = np.random.default_rng(7).normal(size=4800).astype(np.float32)
    framer = Framer(48000)
    slabs = framer.push(buffer)
    buffer[:] = 99.0
    slabs += framer.flush()
    assert float(np.abs(slabs[0].samples).max()) < 10.0
    with pytest.raises(ValueError, match="read-only"):
        slabs[0].samples[0] = 1.0
    with pytest.raises(ValueError, match="read-only"):
        slabs[0].power[0, 0] = 1.0


@pytest.mark.parametrize("bad", [7999, 0, -48000, 44100.5])
def test_an_unusable_sample_rate_is_refused(bad: float) -> None:
    with pytest.raises(ConfigError, match="must be a whole number of at least 8000 Hz"):
        Framer(bad)  # type: ignore[arg-type]


def test_samples_that_are_not_one_channel_of_finite_floats_are_refused() -> None:
    framer = Framer(48000)
    with pytest.raises(ConfigError, match="one channel of floats"):
        framer.push(np.zeros((2, 100), dtype=np.float32))
    with pytest.raises(ConfigError, match="divide integers by full scale"):
        framer.push(np.zeros(100, dtype=np.int16))
    with pytest.raises(ConfigError, match="must be finite"):
        framer.push(np.array([0.0, np.nan], dtype=np.float32))
    assert require_samples(np.zeros(3)).dtype == np.float32


def test_the_long_spectrum_reads_a_tone_within_a_hertz_every_half_second() -> None:
    for rate in RATES:
        stage = LongSpectrum(rate)
        frames = [f for s in all_slabs(sine(rate, 100.3, 2.0, 0.5), rate) for f in stage.push(s)]
        assert [f.start for f in frames] == [0, rate // 2, rate]
        frequencies_hz = long_frequencies_hz(rate)
        for frame in frames:
            near = np.abs(frequencies_hz - 100.3) < 3.0
            # Amplitude 0.5: mean square 0.125, -9.03 dB.
            assert 10.0 * np.log10(frame.power[near].sum()) == pytest.approx(-9.031, abs=LEVEL_TOLERANCE_DB)
            assert frequencies_hz[np.argmax(frame.power)] == pytest.approx(100.3, abs=0.51)
        assert stage.flush() == ()


def test_the_long_spectrum_refuses_a_gap_and_a_foreign_rate() -> None:
    slabs = all_slabs(sine(48000, 500.0, 0.5), 48000)
    stage = LongSpectrum(48000)
    stage.push(slabs[0])
    with pytest.raises(ConfigError, match=r"slab\.start=9600 must be 4800: reset the chain after a gap"):
        stage.push(slabs[2])
    with pytest.raises(ConfigError, match="comes from another sample rate"):
        LongSpectrum(16000).push(slabs[0])
    assert slab_length(16000) == 1600


def test_the_live_path_starts_without_the_slow_imports() -> None:
    code = (
        "import sys, tuner.sound.frames, tuner.sound.levels, tuner.sound.tones\n"
        "print([m for m in ('scipy.signal', 'librosa') if m in sys.modules])"
    )
    result = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert result.stdout.strip() == "[]"


def test_bin_frequencies_run_to_the_nyquist_frequency() -> None:
    for rate in RATES:
        assert frame_frequencies_hz(rate)[-1] == pytest.approx(rate / 2.0)
        assert long_frequencies_hz(rate)[-1] == pytest.approx(rate / 2.0)
