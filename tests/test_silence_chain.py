from __future__ import annotations

import numpy as np
import pytest
import scipy.signal

from tests.chains import FAULTS, draw_chain
from tuner.silence.chain import HOW_TO_SWITCH_OFF, ChainCheck, ChainReport

SEEDS = (100_201, 100_202)
RATE = 16_000


def checked(samples: np.ndarray, rate: int = RATE) -> ChainReport:
    check = ChainCheck(rate)
    check.push(samples.astype(np.float32))
    return check.report(trial=True)


def noise(seconds: float, rate: int = 16_000, level: float = 0.01, seed: int = 1) -> np.ndarray:
    return level * np.random.default_rng(seed).standard_normal(round(seconds * rate))


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("fault", FAULTS)
def test_a_chain_with_a_fault_is_caught(fault: str, seed: int) -> None:
    report = checked(draw_chain(fault, seed, RATE))
    assert not report.honest
    assert fault in {found.fault for found in report.faults}


@pytest.mark.parametrize("seed", SEEDS)
def test_an_honest_chain_is_acquitted(seed: int) -> None:
    report = checked(draw_chain(None, seed, RATE))
    assert report.faults == ()
    assert report.honest
    assert report.texture_db == pytest.approx(5.4, abs=0.4)
    assert report.loud_db is not None
    assert report.quiet_db is not None
    assert report.loud_db > report.quiet_db + 12.0


def test_while_one_listens_a_level_that_comes_and_goes_convicts_nobody() -> None:
    samples = noise(20.0)
    samples[8 * RATE : 14 * RATE] *= np.linspace(10.0, 3.0, 6 * RATE)
    samples[14 * RATE : 16 * RATE] *= 0.7
    check = ChainCheck(RATE)
    check.push(samples.astype(np.float32))
    assert {found.fault for found in check.report(trial=True).faults} >= {"gain control"}
    assert check.report(trial=False).faults == ()


def test_without_a_loud_stretch_nothing_is_acquitted() -> None:
    report = checked(noise(20.0))
    assert report.faults == ()
    assert not report.honest


def test_the_roughness_of_gaussian_noise_does_not_depend_on_its_colour() -> None:
    # The logarithm of an exponential variable spreads by 5.57 dB; nine neighbours on each side take 3 % off.
    white = noise(8.0)
    brown = scipy.signal.lfilter([1.0], [1.0, -0.95], white)
    for samples in (white, brown):
        assert checked(samples).texture_db == pytest.approx(5.4, abs=0.25)


def test_a_gate_to_digital_silence_is_named() -> None:
    samples = noise(12.0)
    samples[5 * RATE : 6 * RATE] = 0.0
    assert "digital silence" in {found.fault for found in checked(samples).faults}


def test_a_gate_is_told_from_a_hole_in_the_stream() -> None:
    samples = noise(26.0, level=1e-3)
    samples[8 * RATE : 16 * RATE] *= 100.0
    hole = samples.copy()
    hole[20 * RATE : 20 * RATE + RATE // 2] *= 1e-3
    assert "gating" not in {found.fault for found in checked(hole).faults}
    samples[17 * RATE :] *= 0.1
    assert "gating" in {found.fault for found in checked(samples).faults}


def test_sound_that_was_taken_at_a_lower_rate_reaches_less_far() -> None:
    wide = noise(8.0, rate=48_000)
    narrow = scipy.signal.resample_poly(noise(8.0), 3, 1)
    check = ChainCheck(48_000)
    for samples, reaches_hz, slope_hz in ((wide, 23_000.0, 1000.0), (narrow, 8_000.0, 2000.0)):
        check.reset()
        check.push(samples.astype(np.float32))
        assert reaches_hz <= check.report(trial=True).bandwidth_hz <= reaches_hz + slope_hz


def test_an_offset_is_named_with_its_size() -> None:
    report = checked(noise(8.0) + 0.05)
    assert report.offset == pytest.approx(0.05, abs=0.001)
    assert [found.fault for found in report.faults] == ["offset"]


def test_a_tone_of_16_bits_is_not_taken_for_clipped() -> None:
    # Coarse bits make a slow crest flat, but round; cut off at 90 % it is clipped.
    time = np.arange(8 * 16_000) / 16_000
    tone = np.round(2000 * np.sin(2 * np.pi * 50.0 * time)) / 32768 + noise(8.0, level=1e-6)
    tone = np.round(tone * 32768) / 32768
    assert "clipping" not in {found.fault for found in checked(tone).faults}
    cut = np.clip(np.sin(2 * np.pi * 440.0 * time), -0.9, 0.9)
    assert "clipping" in {found.fault for found in checked(cut).faults}


@pytest.mark.parametrize("step", [1 / 128, 1 / 32768, 1e-9])
def test_rare_crests_of_bright_noise_are_found_clipped_and_whole_ones_are_not(step: float) -> None:
    # White noise has no runs at its crest: hardly two samples in a row reach over 3.2 times the spread.
    whole = np.round(noise(8.0, level=0.1) / step) * step
    assert "clipping" not in {found.fault for found in checked(whole).faults}
    limit = np.round(0.32 / step) * step
    assert "clipping" in {found.fault for found in checked(np.clip(whole, -limit, limit)).faults}


def test_cuts_do_not_matter_and_reset_forgets() -> None:
    samples = noise(10.0).astype(np.float32)
    whole, parts = ChainCheck(16_000), ChainCheck(16_000)
    parts.push(noise(3.0, seed=2).astype(np.float32))
    parts.reset()
    whole.push(samples)
    for start in range(0, samples.size, 777):
        parts.push(samples[start : start + 777])
    assert parts.report(trial=True) == whole.report(trial=True)


def test_the_advice_covers_every_system_that_is_supported() -> None:
    assert {"linux", "darwin", "win32", "phone", "browser"} <= set(HOW_TO_SWITCH_OFF)
