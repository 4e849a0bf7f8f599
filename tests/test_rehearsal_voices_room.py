"""The way from the source to the samples: room, microphone, quiet background."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from tuner.rehearsal.voices import Background, Place, draw_microphone, draw_room
from tuner.rehearsal.voices.loudness import a_level_db
from tuner.rehearsal.voices.microphone import Microphone, MicrophoneMake
from tuner.rehearsal.voices.room import Room, room_response
from tuner.rehearsal.voices.shaping import Convolver, response_of_curve

RATE = 16_000
CUTS = [0, 1, 17, 800, 3000, 3001, 9000, 16_000]
SAME = 1e-9


def flat_microphone(full_scale_db: float, self_noise_db: float, rate: int = RATE) -> Microphone:
    make = MicrophoneMake("usb measurement", 40.0, 1, (0.0,) * 9, self_noise_db, full_scale_db)
    return Microphone(make, sample_rate=rate, rng=np.random.default_rng(0))


def test_convolution_in_chunks_is_convolution_at_once() -> None:
    rng = np.random.default_rng(1)
    samples, response = rng.standard_normal(16_000), rng.standard_normal(700)
    streamed = Convolver(response)
    parts = np.concatenate([streamed.push(samples[a:b]) for a, b in pairwise(CUTS)])
    # numpy's direct convolution is the reference.
    np.testing.assert_allclose(parts, np.convolve(samples, response)[:16_000], atol=1e-9)


def test_a_response_follows_its_curve() -> None:
    hz = np.array([125.0, 500.0, 2000.0, 8000.0])
    level = np.array([-6.0, 0.0, 6.0, -3.0])
    response = response_of_curve(hz, level, sample_rate=48_000, taps=2048)
    power = np.abs(np.fft.rfft(response, 48_000))
    np.testing.assert_allclose(20.0 * np.log10(power[hz.astype(int)]), level, atol=0.5)
    assert np.argmax(np.abs(response)) < 20  # minimum phase: no delay


def test_a_room_in_chunks_is_a_room_at_once() -> None:
    samples = np.random.default_rng(2).standard_normal(16_000)
    whole = draw_room(np.random.default_rng(3), RATE).place(samples)
    room = draw_room(np.random.default_rng(3), RATE)
    parts = np.concatenate([room.place(samples[a:b]) for a, b in pairwise(CUTS)])
    np.testing.assert_allclose(parts, whole, atol=SAME)


@pytest.mark.parametrize("reverb_time_s", [0.2, 0.6])
def test_a_room_decays_in_its_reverberation_time(reverb_time_s: float) -> None:
    place = Place(distance_m=1.0, reverb_time_s=reverb_time_s, reverb_db=6.0, tilt_db_per_octave=0.0)
    response = room_response(place, sample_rate=RATE, rng=np.random.default_rng(4))
    # Schroeder 1965: backward integration; slope from -10 to -25 dB, after the early reflections.
    energy = np.cumsum(response[::-1] ** 2)[::-1]
    decay_db = 10.0 * np.log10(energy / energy[0])
    fit = (decay_db < -10.0) & (decay_db > -25.0)
    slope = np.polyfit(np.flatnonzero(fit) / RATE, decay_db[fit], 1)[0]
    assert -60.0 / slope == pytest.approx(reverb_time_s, rel=0.35)


def test_distance_lowers_the_direct_sound_by_six_decibels_a_doubling() -> None:
    def level_db(distance_m: float) -> float:
        place = Place(distance_m, 0.3, -60.0, 0.0)
        room = Room(place, room_response(place, sample_rate=RATE, rng=np.random.default_rng(5)))
        return a_level_db(room.place(np.random.default_rng(6).standard_normal(RATE)), sample_rate=RATE)

    # Inverse-square law: 20 lg 2 = 6.02 dB.
    assert level_db(0.5) - level_db(1.0) == pytest.approx(6.02, abs=0.05)


def test_drawn_rooms_are_small_and_near() -> None:
    places = [draw_room(np.random.default_rng(seed), RATE).at for seed in range(20)]
    assert all(0.2 <= p.reverb_time_s <= 0.6 for p in places)
    assert all(0.25 <= p.distance_m <= 1.2 for p in places)
    assert len({p.distance_m for p in places}) == 20


def test_a_microphone_records_94_decibels_where_its_full_scale_says() -> None:
    microphone = flat_microphone(full_scale_db=104.0, self_noise_db=10.0)
    sine = np.sqrt(2.0) * np.sin(2.0 * np.pi * 1000.0 * np.arange(RATE) / RATE)
    samples = microphone.record(sine).astype(np.float64)[RATE // 4 :]
    level_db = 10.0 * np.log10(np.mean(samples**2))
    # A sine of 1 Pa has 93.98 dB; 104 dB fills the range at an RMS of -3.01 dB.
    assert level_db == pytest.approx(93.98 - 104.0 - 3.01, abs=0.1)
    assert level_db + microphone.full_scale_offset_db == pytest.approx(93.98, abs=0.1)


def test_a_microphone_clips_at_full_scale_and_never_beyond() -> None:
    microphone = flat_microphone(full_scale_db=90.0, self_noise_db=10.0)
    samples = microphone.record(10.0 * np.sin(2.0 * np.pi * 500.0 * np.arange(RATE) / RATE))
    assert samples.dtype == np.float32
    assert np.abs(samples).max() == 1.0


def test_a_microphone_has_its_self_noise() -> None:
    microphone = flat_microphone(full_scale_db=94.0, self_noise_db=27.0)
    noise = microphone.record(np.zeros(5 * RATE)).astype(np.float64)
    heard_db = a_level_db(noise / np.sqrt(2.0) * 2.0 * 20e-6 * 10.0 ** (94.0 / 20.0), sample_rate=RATE)
    assert heard_db == pytest.approx(27.0, abs=0.5)


def test_a_microphone_cuts_the_lows() -> None:
    microphone = flat_microphone(full_scale_db=104.0, self_noise_db=0.0)
    levels = []
    for hz in (10.0, 40.0, 1000.0):
        samples = microphone.record(np.sin(2.0 * np.pi * hz * np.arange(RATE) / RATE)).astype(np.float64)
        levels.append(20.0 * np.log10(np.std(samples[RATE // 2 :])))
    # A first-order high pass is 3.0 dB down at its corner.
    assert levels[1] - levels[2] == pytest.approx(-3.0, abs=0.3)
    assert levels[0] < levels[1] - 6.0


def test_a_microphone_in_chunks_records_the_same() -> None:
    pressure = 0.01 * np.random.default_rng(7).standard_normal(16_000)
    whole = draw_microphone(np.random.default_rng(8), RATE).record(pressure)
    microphone = draw_microphone(np.random.default_rng(8), RATE)
    parts = np.concatenate([microphone.record(pressure[a:b]) for a, b in pairwise(CUTS)])
    np.testing.assert_allclose(parts, whole, atol=1e-7)
    assert microphone.record(np.zeros(0)).shape == (0,)


def test_drawn_microphones_are_of_three_makes() -> None:
    drawn = [draw_microphone(np.random.default_rng(seed), RATE).make for seed in range(40)]
    assert {m.make for m in drawn} == {"laptop", "phone", "usb measurement"}
    assert all(40.0 <= m.low_cut_hz <= 150.0 for m in drawn)


@pytest.mark.parametrize("level", [22.0, 34.0])
def test_a_background_has_its_level_and_is_steady(level: float) -> None:
    for seed in range(3):
        samples = Background(np.random.default_rng(seed), 48_000, level).render(48_000 * 6)
        # The level wanders by some tenths of a decibel; a fridge adds at most 1 to 2 dB.
        assert a_level_db(samples, sample_rate=48_000) == pytest.approx(level + 0.5, abs=2.0)
        seconds = [a_level_db(s, sample_rate=48_000) for s in np.split(samples, 6)]
        assert np.std(seconds) < 1.5


def test_a_background_in_chunks_is_the_same() -> None:
    whole = Background(np.random.default_rng(9), RATE, 28.0).render(16_000)
    quiet = Background(np.random.default_rng(9), RATE, 28.0)
    parts = np.concatenate([quiet.render(b - a) for a, b in pairwise(CUTS)])
    np.testing.assert_allclose(parts, whole, atol=1e-12)
