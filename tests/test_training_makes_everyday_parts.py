"""Parts of sounds likened to everyday things: times at their rate, notes at their pitch, painted colour, gates."""

from __future__ import annotations

import numpy as np
import pytest

from tuner.training.makes.everyday_parts import Scene, bubbles, gate, gulps, level, note, paint, rasp, slope, times_of

RATE = 16_000


def driven(seconds: float = 10.0, drive: float = 1.0, seed: int = 0) -> Scene:
    return Scene(np.random.default_rng(seed), RATE, np.full(round(20 * seconds), drive), 50.0)


def peak_hz(x: np.ndarray) -> float:
    power = np.abs(np.fft.rfft(x, 4 * RATE)) ** 2
    return float(np.fft.rfftfreq(4 * RATE, 1 / RATE)[int(np.argmax(power))])


def test_events_fall_at_their_rate_and_only_while_driven() -> None:
    times = times_of(driven(), 30.0, 1.0)
    assert times.size == pytest.approx(300, rel=0.25)
    assert np.all(np.diff(times) >= 0)
    assert times.max() <= 10.0
    assert times_of(driven(drive=0.0), 30.0, 1.0).size == 0


def test_regular_events_keep_their_distance() -> None:
    even, uneven = (np.diff(times_of(driven(), 20.0, regularity)) for regularity in (500.0, 1.0))
    assert np.std(even) < 0.3 * np.std(uneven)


def test_a_note_sounds_at_its_pitch_and_a_glide_lifts_it() -> None:
    assert peak_hz(note(RATE, 800.0, 0.05)) == pytest.approx(800.0, rel=0.02)
    assert peak_hz(note(RATE, 800.0, 0.05, glide=0.5)) > 850.0


def test_bubbles_sound_between_their_two_pitches() -> None:
    s = driven()
    made = bubbles(s, 400.0, 1600.0, times_of(s, 20.0, 1.0))
    power = np.abs(np.fft.rfft(made)) ** 2
    hz = np.fft.rfftfreq(made.size, 1 / RATE)
    assert power[(hz > 300.0) & (hz < 2300.0)].sum() > 0.9 * power.sum()


def test_painted_noise_has_the_slope_that_was_painted() -> None:
    power = np.abs(np.fft.rfft(paint(driven(), lambda _t, f: slope(f, 1000.0, 0.0, -6.0)))) ** 2
    hz = np.fft.rfftfreq(10 * RATE, 1 / RATE)
    octaves = [10 * np.log10(power[(hz > at / 1.1) & (hz < at * 1.1)].mean()) for at in (500.0, 2000.0, 4000.0)]
    assert octaves[1] - octaves[2] == pytest.approx(6.0, abs=1.0)
    assert octaves[0] - octaves[1] == pytest.approx(6.0, abs=1.5), "flat below the corner, 6 dB an octave above it"


def test_level_is_one_over_what_sounds() -> None:
    x = np.concatenate([np.zeros(500), np.random.default_rng(1).standard_normal(500)])
    assert np.sqrt(np.mean(level(x)[500:] ** 2)) == pytest.approx(1.0)
    assert not level(np.zeros(10)).any()


def test_a_gate_is_open_while_driven_and_fades_after_it() -> None:
    s = Scene(np.random.default_rng(0), RATE, np.concatenate([np.zeros(10), np.ones(10), np.zeros(20)]), 50.0)
    opened = gate(s, 0.25)
    step = RATE // 20
    assert not opened[: 10 * step].any()
    assert np.all(opened[10 * step : 20 * step] == 1.0)
    tail = opened[20 * step :]
    assert np.all(np.diff(tail) <= 0.0)
    assert tail[RATE // 4 + 2 :].max() == 0.0


def test_gulps_stay_within_their_bouts() -> None:
    s = Scene(np.random.default_rng(3), RATE, np.concatenate([np.zeros(20), np.ones(80), np.zeros(20)]), 50.0)
    at = np.arange(600) / 100.0
    made = gulps(s, at, 2.5, gap=0.3, lean=0.4, unbroken=False)
    inside = (at >= 1.0) & (at < 5.0)
    assert not made.loud[~inside].any()
    assert made.loud[inside].max() > 0.0
    assert np.mean(made.loud[inside] == 0.0) == pytest.approx(0.3, abs=0.1), "the silent share of each gulp"


def test_a_rasp_pulses_at_its_rate_as_deep_as_it_is_told() -> None:
    s = driven()
    assert np.all(rasp(s, 20.0, 0.0, 0.0) == 1.0)
    pulsing = rasp(s, 20.0, 0.8, 0.0)
    assert pulsing.min() >= 0.2 - 1e-9
    assert peak_hz(pulsing[: 4 * RATE] - pulsing[: 4 * RATE].mean()) == pytest.approx(20.0, abs=0.5)
