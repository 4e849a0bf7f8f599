"""Textures: band powers, fast envelopes, peaks and persistence, against librosa and closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from tuner.sound.frames import Framer, frame_frequencies_hz, frame_length
from tuner.sound.texture import FAST_OCTAVES_HZ, THIRD_CENTRES_HZ, Texture, Texturer

RATES = (16000, 44100, 48000)


def textures(samples: np.ndarray, sample_rate: int) -> list[Texture]:
    framer, texturer = Framer(sample_rate), Texturer(sample_rate)
    slabs = (*framer.push(samples.astype(np.float32)), *framer.flush())
    return [t for slab in slabs for t in texturer.push(slab)]


def tone(frequency_hz: float, sample_rate: int, seconds: float = 1.0) -> np.ndarray:
    return 0.1 * np.sin(2 * np.pi * frequency_hz * np.arange(round(seconds * sample_rate)) / sample_rate)


@pytest.mark.parametrize("sample_rate", RATES)
def test_a_tone_lies_in_its_third_octave_with_its_power(sample_rate: int) -> None:
    made = textures(tone(1000.0, sample_rate), sample_rate)[4]
    # a 42.7 ms Hann window spreads 2-3 % of a tone into the neighbours
    assert made.thirds[THIRD_CENTRES_HZ.index(1000)] == pytest.approx(0.005, rel=0.03)
    assert int(np.argmax(made.thirds)) == THIRD_CENTRES_HZ.index(1000)


def test_bands_above_the_nyquist_frequency_are_empty() -> None:
    made = textures(np.random.default_rng(1).normal(0, 0.1, 16000), 16000)[4]
    assert np.all(made.thirds[[THIRD_CENTRES_HZ.index(f) for f in (8000, 10000, 12500)]] == 0)
    assert np.all(made.thirds[: THIRD_CENTRES_HZ.index(8000)] > 0)


def test_frame_spectra_agree_with_librosa() -> None:
    """librosa 0.11 is the independent reference for frames, centroid and flatness."""
    librosa = pytest.importorskip("librosa")
    sample_rate = 48000
    rng = np.random.default_rng(3)
    samples = (0.1 * rng.normal(size=sample_rate)).astype(np.float32)
    framer = Framer(sample_rate)
    slab = framer.push(samples)[3]
    n_fft, hop = frame_length(sample_rate), framer.hop
    start = slab.start + hop // 2 - n_fft // 2
    reference = np.abs(
        librosa.stft(samples[start : start + 9 * hop + n_fft], n_fft=n_fft, hop_length=hop, center=False)
    ).T ** 2
    scale = slab.power.sum() / reference.sum()
    assert np.allclose(slab.power[:, 1:-1], scale * reference[:, 1:-1], rtol=2e-3, atol=1e-9)
    frequencies = frame_frequencies_hz(sample_rate)
    centroid = (np.sqrt(slab.power[0]) @ frequencies) / np.sqrt(slab.power[0]).sum()
    theirs = librosa.feature.spectral_centroid(S=np.sqrt(reference[:1].T), sr=sample_rate, n_fft=n_fft)
    assert centroid == pytest.approx(float(theirs[0, 0]), rel=2e-3)


def test_fast_envelope_shows_a_click_within_five_milliseconds() -> None:
    sample_rate = 48000
    samples = np.random.default_rng(2).normal(0, 1e-4, sample_rate)
    samples[24000 + 1200 : 24000 + 1230] += 0.2 * np.hanning(30)
    made = textures(samples, sample_rate)[5]
    octave = next(i for i, (low, _) in enumerate(FAST_OCTAVES_HZ) if low == 710)
    loud = np.flatnonzero(made.fast[:, octave] > 100 * np.median(made.fast[:, octave]))
    assert 1 <= loud.size <= 4  # 2.5 ms apart: seen from start to end within the window of 5.3 ms and its overlap
    assert 9 <= loud.min() <= 12


def test_a_held_tone_stays_and_short_notes_do_not() -> None:
    sample_rate = 48000
    rng = np.random.default_rng(4)
    time_s = np.arange(2 * sample_rate) / sample_rate
    noise = rng.normal(0, 0.003, time_s.size)
    held = noise + 0.05 * np.sin(2 * np.pi * 700 * time_s) + 0.05 * np.sin(2 * np.pi * 1130 * time_s)
    notes = noise.copy()
    for start in rng.uniform(0, 1.9, 60):
        i = int(start * sample_rate)
        local = time_s[: sample_rate // 20]
        notes[i : i + local.size] += 0.1 * np.sin(2 * np.pi * rng.uniform(400, 3000) * local) * np.exp(-local / 0.012)
    stay = [np.mean([t.persistence[1] for t in textures(x, sample_rate)[4:]]) for x in (held, notes, noise)]
    peaks = [np.mean([t.peaks.max() for t in textures(x, sample_rate)[4:]]) for x in (held, notes, noise)]
    assert stay[0] > 0.25 > abs(stay[1])
    assert abs(stay[2]) < 0.1
    assert peaks[1] > 1.5 * peaks[2]


@pytest.mark.parametrize("sample_rate", RATES)
def test_a_voiced_sound_has_pitch_and_noise_has_none(sample_rate: int) -> None:
    time_s = np.arange(sample_rate) / sample_rate
    voiced = sum(np.sin(2 * np.pi * 150 * k * time_s) / k for k in range(1, 9)) * 0.05
    noise = np.random.default_rng(5).normal(0, 0.05, sample_rate)
    assert textures(voiced, sample_rate)[5].pitch > 0.6
    assert textures(noise, sample_rate)[5].pitch < 0.3


def test_samples_at_full_scale_are_counted() -> None:
    samples = np.full(48000, 0.1)
    samples[24100:24150] = 1.0
    assert [t.clipped for t in textures(samples, 48000)].count(50) == 1
