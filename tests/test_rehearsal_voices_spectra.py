"""What each kind of voice sounds like: where its energy lies and how it moves."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from tuner.rehearsal.voices import make_hum, make_rattle, make_voice
from tuner.terms import SoundKind

RATE = 48_000
Floats = NDArray[np.float64]


def sound(kind: SoundKind, seed: int, drive: Floats) -> Floats:
    return make_voice(kind, sample_rate=RATE, rng=np.random.default_rng(seed)).render(drive).astype(np.float64)


def share(samples: Floats, low_hz: float, high_hz: float) -> float:
    """Return the part of the power between two frequencies."""
    power = np.abs(np.fft.rfft(samples)) ** 2
    hz = np.fft.rfftfreq(len(samples), 1.0 / RATE)
    return float(power[(hz >= low_hz) & (hz < high_hz)].sum() / power.sum())


def median_share(kind: SoundKind, low_hz: float, high_hz: float) -> float:
    return float(np.median([share(sound(kind, seed, np.ones(60)), low_hz, high_hz) for seed in range(20, 23)]))


def envelope(samples: Floats, window_s: float) -> Floats:
    n = round(window_s * RATE)
    out: Floats = np.sqrt(np.mean(samples[: len(samples) // n * n].reshape(-1, n) ** 2, axis=1))
    return out


def test_a_gurgle_lies_low_and_comes_in_bursts() -> None:
    # Large bubbles in pipes: 3 to 15 mm sound at 200 to 1100 Hz (Minnaert 1933); the cloud reaches 2 kHz and more.
    assert median_share("gurgle", 150.0, 2500.0) > 0.75
    bursty = [np.std(e) / np.mean(e) for e in (envelope(sound("gurgle", s, np.ones(60)), 0.02) for s in range(20, 23))]
    assert np.median(bursty) > 0.35


def test_a_trickle_lies_between_one_and_eight_kilohertz() -> None:
    # Bubbles of 0.4 to 3 mm sound at 1 to 8 kHz (Minnaert 1933).
    assert median_share("trickle", 900.0, 8500.0) > 0.7
    assert median_share("trickle", 20.0, 300.0) < 0.05


@pytest.mark.parametrize("seed", range(30, 33))
def test_a_hiss_lies_above_two_kilohertz_and_hardly_flutters(seed: int) -> None:
    samples = sound("hiss", seed, np.ones(100))[RATE:]
    assert share(samples, 2000.0, 24_000.0) > 0.85
    strength = envelope(samples, 0.1)
    assert np.std(strength) / np.mean(strength) < 0.10


def test_a_roar_is_broad_and_even() -> None:
    assert median_share("roar", 100.0, 6000.0) > 0.8
    assert median_share("roar", 100.0, 1000.0) > 0.1
    even = [
        np.std(e) / np.mean(e) for e in (envelope(sound("roar", s, np.ones(60))[RATE:], 0.1) for s in range(20, 23))
    ]
    assert np.median(even) < 0.35


def test_a_flush_swells_fades_and_gasps_only_after_the_drive() -> None:
    drive = np.concatenate((np.ones(100), np.zeros(100)))
    strength = envelope(sound("flush", 21, drive), 0.25)
    body = float(np.median(strength[10:20]))
    assert strength[0] < 0.5 * body
    assert strength[-1] < 0.02 * body
    assert np.argmax(strength) > 3


def test_a_slurp_swells_with_its_gulps() -> None:
    deeper = []
    for seed in range(20, 23):
        strength = envelope(sound("slurp", seed, np.ones(240)), 0.01)
        swing = np.abs(np.fft.rfft((strength / strength.mean() - 1.0) * np.hanning(len(strength)))) ** 2
        hz = np.fft.rfftfreq(len(strength), 0.01)
        deeper.append(swing[(hz >= 1.0) & (hz < 4.0)].mean() / swing[(hz >= 12.0) & (hz < 40.0)].mean())
    # Two or three gulps a second: the slow swing per hertz is far over the fast one.
    assert np.median(deeper) > 5.0


def test_a_slurp_finishes_its_gulp_and_answers_it_after_the_drive() -> None:
    drive = np.concatenate((np.ones(20), np.zeros(60)))
    samples = sound("slurp", 22, drive)
    assert np.abs(samples[RATE : RATE + RATE // 4]).max() > 0.02 * np.abs(samples).max()
    assert np.abs(samples[-RATE // 2 :]).max() < 0.01 * np.abs(samples).max()


def test_a_splash_is_broad() -> None:
    assert median_share("splash", 400.0, 10_000.0) > 0.7


@pytest.mark.parametrize("mains_hz", [50.0, 60.0])
@pytest.mark.parametrize("seed", [40, 41, 42])
def test_a_hum_stands_on_twice_the_mains(mains_hz: float, seed: int) -> None:
    voice = make_hum(sample_rate=RATE, rng=np.random.default_rng(seed), mains_hz=mains_hz, shaft_hz=37.0)
    samples = voice.render(np.ones(160)).astype(np.float64)
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples))))
    hz = np.fft.rfftfreq(len(samples), 1.0 / RATE)
    # Magnetic noise of motors lies at twice the line frequency and its multiples (common practice).
    near = (hz > 2.0 * mains_hz - 8.0) & (hz < 2.0 * mains_hz + 8.0)
    assert hz[near][np.argmax(spectrum[near])] == pytest.approx(2.0 * mains_hz, abs=0.5)
    assert spectrum[near].max() > 30.0 * np.median(spectrum[(hz > 40.0) & (hz < 400.0)])


def test_a_hum_holds_the_shaft_line() -> None:
    voice = make_hum(sample_rate=RATE, rng=np.random.default_rng(43), mains_hz=50.0, shaft_hz=41.0)
    samples = voice.render(np.ones(160)).astype(np.float64)
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples))))
    hz = np.fft.rfftfreq(len(samples), 1.0 / RATE)
    near = (hz > 36.0) & (hz < 46.0)
    assert hz[near][np.argmax(spectrum[near])] == pytest.approx(41.0, abs=0.5)


@pytest.mark.parametrize("seed", [50, 51, 52])
def test_a_rattle_is_locked_to_the_rotor(seed: int) -> None:
    shaft_hz = 23.0
    voice = make_rattle(sample_rate=RATE, rng=np.random.default_rng(seed), mains_hz=50.0, shaft_hz=shaft_hz)
    strength = envelope(voice.render(np.ones(240)).astype(np.float64), 0.002) ** 2
    spectrum = np.abs(np.fft.rfft((strength - strength.mean()) * np.hanning(len(strength))))
    hz = np.fft.rfftfreq(len(strength), 0.002)
    band = (hz > 8.0) & (hz < 60.0)
    turns = hz[band][np.argmax(spectrum[band])] / shaft_hz
    assert min(abs(turns - 1.0), abs(turns - 2.0)) < 0.02


@pytest.mark.parametrize("kind", ["gurgle", "trickle", "flush", "roar", "splash", "slurp"])
def test_no_voice_is_cut_off_with_a_click(kind: SoundKind) -> None:
    """A stop of the drive leaves no step: the largest jump between samples is no larger than while it sounds."""
    drive = np.concatenate((np.ones(40), np.zeros(60)))
    samples = sound(kind, 60, drive)
    jumps = np.abs(np.diff(samples))
    assert jumps[40 * 2400 + 2400 :].max() <= jumps[: 40 * 2400].max()
