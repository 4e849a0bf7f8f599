"""What every voice keeps: silence, one stream for any chunks, seeds, loudness."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from tuner.errors import ConfigError
from tuner.rehearsal.voices import CONTROL_S, TYPICAL_LEVEL_DB, Voice, make_hum, make_rattle, make_voice
from tuner.rehearsal.voices.control import Returns, step_samples
from tuner.rehearsal.voices.loudness import a_level_db, a_weighting_db
from tuner.terms import SOUND_KINDS, SoundKind

RATE = 16_000
STEPS = 60
SAME = 2e-6  # of the peak: float32 holds 24 bits, and convolution in other blocks rounds otherwise


def voice(kind: SoundKind, seed: int, rate: int = RATE) -> Voice:
    return make_voice(kind, sample_rate=rate, rng=np.random.default_rng(seed))


@pytest.mark.parametrize("kind", SOUND_KINDS)
def test_no_drive_gives_silence_of_the_right_length(kind: SoundKind) -> None:
    samples = voice(kind, 1).render(np.zeros(20))
    assert samples.dtype == np.float32
    assert samples.shape == (round(20 * CONTROL_S * RATE),)
    assert not samples.any()


@pytest.mark.parametrize("kind", SOUND_KINDS)
def test_a_voice_falls_silent_after_the_drive_has_gone(kind: SoundKind) -> None:
    one = voice(kind, 2)
    loud = one.render(np.ones(40))
    one.render(np.zeros(140))  # 7 s: tails, the last gulp and the gasp
    rest = one.render(np.zeros(20))
    assert np.abs(rest).max() < 1e-4 * np.abs(loud).max()


@pytest.mark.parametrize("kind", SOUND_KINDS)
def test_any_chunks_give_one_stream(kind: SoundKind) -> None:
    drive = np.concatenate((np.zeros(3), np.linspace(0.2, 1.5, 30), np.zeros(7), np.full(20, 0.8)))
    whole = voice(kind, 3).render(drive)
    one = voice(kind, 3)
    cuts = [0, 1, 2, 7, 8, 20, 33, 41, 59, len(drive)]
    parts = np.concatenate([one.render(drive[a:b]) for a, b in pairwise(cuts)])
    assert parts.shape == whole.shape
    assert np.abs(parts - whole).max() <= SAME * np.abs(whole).max()


@pytest.mark.parametrize("kind", SOUND_KINDS)
def test_a_seed_gives_the_same_samples_and_another_seed_others(kind: SoundKind) -> None:
    drive = np.ones(STEPS)
    first = voice(kind, 4).render(drive)
    np.testing.assert_array_equal(first, voice(kind, 4).render(drive))
    assert not np.array_equal(first, voice(kind, 5).render(drive))


@pytest.mark.parametrize("kind", SOUND_KINDS)
def test_more_drive_is_louder(kind: SoundKind) -> None:
    levels = [
        a_level_db(voice(kind, 6).render(np.full(100, drive)).astype(np.float64), sample_rate=RATE)
        for drive in (0.1, 0.4, 1.0, 3.0)
    ]
    assert np.all(np.diff(levels) > 1.0)


@pytest.mark.parametrize("kind", SOUND_KINDS)
def test_drive_one_has_the_level_of_its_kind(kind: SoundKind) -> None:
    heard = []
    for seed in (7, 8):
        samples = voice(kind, seed, 48_000).render(np.ones(100)).astype(np.float64)
        heard.append(a_level_db(samples[len(samples) // 5 :], sample_rate=48_000))
    # A voice lies at most 6 dB off its kind, and 4 s of a bursty sound wander by some decibels.
    assert np.all(np.abs(np.array(heard) - TYPICAL_LEVEL_DB[kind]) < 9.0)


@pytest.mark.parametrize("kind", SOUND_KINDS)
def test_an_empty_drive_gives_nothing_and_does_no_harm(kind: SoundKind) -> None:
    one = voice(kind, 10)
    assert one.render(np.zeros(0)).shape == (0,)
    before = one.render(np.ones(5))
    assert one.render(np.zeros(0)).shape == (0,)
    other = voice(kind, 10)
    np.testing.assert_array_equal(before, other.render(np.ones(5)))


def test_the_drive_is_not_changed() -> None:
    drive = np.full(10, 0.7)
    voice("gurgle", 11).render(drive)
    np.testing.assert_array_equal(drive, np.full(10, 0.7))


def test_events_return_at_their_rate_and_never_while_it_is_nought() -> None:
    returns = Returns(np.random.default_rng(0), 4.0)
    times = [step * CONTROL_S + t for step in range(2000) for t in returns.step(2.5)]
    # 100 s at 2.5 a second, gaps with a standard deviation of half the mean: 250 give or take 8.
    assert len(times) == pytest.approx(250, abs=25)
    assert np.all(np.diff(times) > 0.0)
    assert returns.step(0.0) == []


@pytest.mark.parametrize("bad", [np.array([-0.1]), np.array([np.nan]), np.ones((2, 2))])
def test_a_drive_that_makes_no_sense_is_refused(bad: np.ndarray) -> None:
    with pytest.raises(ConfigError, match=r"drive=.*must be"):
        voice("trickle", 12).render(bad)


def test_kinds_rates_and_pumps_that_do_not_exist_are_refused() -> None:
    rng = np.random.default_rng(0)
    with pytest.raises(ConfigError, match="kind=whistle must be one of gurgle"):
        make_voice("whistle", sample_rate=RATE, rng=rng)  # type: ignore[arg-type]
    for rate in (8_000, 22_050, 96_000):
        with pytest.raises(ConfigError, match=r"sample_rate=.*must be a multiple of 20"):
            make_voice("gurgle", sample_rate=rate, rng=rng)
    with pytest.raises(ConfigError, match=r"mains_hz=55\.0 must be 50 or 60"):
        make_hum(sample_rate=RATE, rng=rng, mains_hz=55.0, shaft_hz=50.0)
    with pytest.raises(ConfigError, match=r"shaft_hz=0\.0 must be 5 to 150"):
        make_rattle(sample_rate=RATE, rng=rng, mains_hz=50.0, shaft_hz=0.0)


def test_a_control_step_is_whole_at_the_usual_rates() -> None:
    assert [step_samples(rate) for rate in (16_000, 32_000, 44_100, 48_000)] == [800, 1600, 2205, 2400]


def test_a_weighting_follows_the_standard() -> None:
    # IEC 61672-1 table: 31.5 Hz -39.4, 1 kHz 0, 4 kHz +1.0, 8 kHz -1.1 dB, at the exact third-octave centres.
    exact = 1000.0 * 10.0 ** (np.array([-15.0, 0.0, 6.0, 9.0]) / 10.0)
    np.testing.assert_allclose(a_weighting_db(exact), [-39.4, 0.0, 1.0, -1.1], atol=0.05)


def test_a_sine_of_one_pascal_has_94_decibels() -> None:
    sine = np.sqrt(2.0) * np.sin(2.0 * np.pi * 1000.0 * np.arange(RATE) / RATE)
    # 1 Pa re 20 µPa is 93.98 dB by definition.
    assert a_level_db(sine, sample_rate=RATE) == pytest.approx(93.98, abs=0.02)
    assert a_level_db(np.zeros(100), sample_rate=RATE) == float("-inf")
