"""The parts of a source and its path: bands where they belong, statistics as asked for, strokes and rests in time."""

from __future__ import annotations

import numpy as np
import pytest

from tuner.rehearsal.voices.loudness import a_weighting_db
from tuner.training.makes.plumbed_parts import FPS, Chain

RATE = 16_000


def chain(seed: int = 1, steps: int = 80) -> Chain:
    return Chain(np.random.default_rng(seed), RATE, np.ones(steps), 50.0)


@pytest.mark.parametrize("ringing", [False, True])
@pytest.mark.parametrize("band", [6, 15, 21])
def test_a_band_lies_at_its_place_with_its_level(band: int, ringing: bool) -> None:
    c = chain()
    levels = np.zeros((len(c.centres), c.frames))
    levels[band] = c.on
    if ringing:
        c.bubbles(levels, 300.0, 30.0, 0.4, 0.5)
    else:
        c.noise(levels, 0.5)
    x = c.heard(0.1)
    power, hz = np.abs(np.fft.rfft(x)) ** 2, np.fft.rfftfreq(len(x), 1 / RATE)
    near = np.abs(np.log2(hz[1:] / c.centres[band])) < 0.25
    assert power[1:][near].sum() > 0.9 * power.sum()
    heard_db = 20.0 * np.log10(np.std(x)) + float(a_weighting_db(c.centres[band : band + 1])[0])
    assert heard_db == pytest.approx(20.0 * np.log10(0.5), abs=3.0)


def test_neighbouring_bands_join_to_a_flat_spectrum() -> None:
    c = chain(3, 200)
    own = np.sqrt(c.centres)[:, None] * np.ones(c.frames)
    c.noise(own)
    power = np.abs(c.spectrum) ** 2
    hz = np.arange(len(power)) * RATE / c.size
    parts = [power[(hz > low) & (hz < low + 40.0)].mean() for low in range(400, 5000, 40)]
    assert 10.0 * np.log10(max(parts) / min(parts)) < 6.0


@pytest.mark.parametrize("kurtosis", [3.3, 6.0, 9.0])
def test_stirred_noise_has_about_the_kurtosis_asked_for(kurtosis: float) -> None:
    found = []
    for seed in range(6):
        power = chain(seed).stir(kurtosis, 20.0, 0.3) ** 2
        assert np.mean(power) == pytest.approx(1.0, abs=0.35)
        found.append(3.0 * float(np.mean(power**2) / np.mean(power) ** 2))
    assert np.median(found) == pytest.approx(kurtosis, rel=0.3)


def test_a_stroke_climbs_through_the_bands() -> None:
    c = chain()
    painted = c.strokes(np.array([1.0]), np.ones(1), 0.005, 0.05, 0.03)
    peaks = np.argmax(painted, axis=1) / FPS
    assert peaks[0] == pytest.approx(1.0, abs=0.05)
    assert peaks[-1] - peaks[0] == pytest.approx(0.03 * (c.octaves[-1] - c.octaves[0]), abs=0.02)
    assert not painted[:, : FPS - 1].any()
    down = np.argmax(c.strokes(np.array([1.0]), np.ones(1), 0.005, 0.05, -0.03), axis=1)
    assert down[0] > down[-1]


def test_times_keep_their_rate_and_their_rests() -> None:
    c = Chain(np.random.default_rng(2), RATE, np.repeat([1.0, 0.0, 1.0], 80), 50.0)
    at = c.times(20.0, 4.0)
    assert len(at) == pytest.approx(160, rel=0.2)
    assert not np.any((at > 4.01) & (at < 8.0))
    regular, ragged = (np.diff(chain(4, 200).times(20.0, shape)) for shape in (50.0, 1.0))
    assert np.std(ragged) > 3.0 * np.std(regular)


def test_a_rasp_has_its_pace() -> None:
    c = chain()
    pulses = c.rasp(np.full(c.frames, 40.0), 4.0)
    power = np.abs(np.fft.rfft(pulses - pulses.mean())) ** 2
    assert np.argmax(power[50:]) + 50 == pytest.approx(40.0 * c.frames / FPS, abs=4)


def test_a_path_colours_but_keeps_silence_before_the_sound() -> None:
    coloured = []
    for seed in range(6):
        c = Chain(np.random.default_rng(seed), RATE, np.repeat([0.0, 1.0], 20), 50.0)
        c.wave(np.eye(1, c.size, RATE + 800)[0])
        c.path(20.0, 3)
        coloured.append(np.abs(c.spectrum))
        assert not np.any(c.heard(0.2)[:RATE])
    assert np.std(np.log([gain[4000] / gain[300] for gain in coloured])) > 0.2


def test_a_stroke_that_would_lie_before_the_start_is_left_out() -> None:
    c = chain()
    early = c.strokes(np.array([-0.01, 1.0]), np.ones(2), 0.005, 0.05)
    assert np.array_equal(early, c.strokes(np.array([1.0]), np.ones(1), 0.005, 0.05))
    c.rung(np.array([-0.01, 0.5]), np.ones(2), 2, 0.5)
    assert np.isfinite(c.heard(0.1)).all()
