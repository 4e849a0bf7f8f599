"""Named features: finite, gain-free, and each saying what its name says."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tuner.signatures.ears import FEATURE_NAMES, looks_of
from tuner.signatures.features import NAMES, measure
from tuner.signatures.memory import Memory

RATE = 48000
GAIN_TOLERANCE_DB = 0.02  # float32 spectra


def features(samples: np.ndarray, sample_rate: int = RATE) -> dict[str, float]:
    last = looks_of(samples.astype(np.float32), sample_rate)[-1].features
    return dict(zip(FEATURE_NAMES, last, strict=True))


def noise(seconds: float, seed: int = 0) -> np.ndarray:
    return np.random.default_rng(seed).normal(0, 0.05, round(seconds * RATE))


def test_names_are_unique_and_match_the_vector() -> None:
    assert len(set(FEATURE_NAMES)) == len(FEATURE_NAMES)
    assert FEATURE_NAMES[: len(NAMES)] == NAMES
    assert looks_of(noise(1.6).astype(np.float32), RATE)[0].features.shape == (len(FEATURE_NAMES),)


def test_less_than_a_second_is_refused() -> None:
    with pytest.raises(ValueError, match="listen for a second"):
        measure(Memory())


@settings(max_examples=8, deadline=None)
@given(gain_db=st.floats(-60.0, 20.0))
def test_gain_does_not_matter(gain_db: float) -> None:
    samples = noise(3.0, 7) * (1 + 0.5 * np.sin(2 * np.pi * 3 * np.arange(3 * RATE) / RATE)) * 0.05
    one, other = features(samples), features(samples * 10 ** (gain_db / 20))
    assert all(other[n] == pytest.approx(one[n], abs=GAIN_TOLERANCE_DB) for n in FEATURE_NAMES)


@pytest.mark.parametrize("samples", [
    np.zeros(2 * RATE), np.full(2 * RATE, 0.5), np.sign(np.sin(np.arange(2 * RATE) / 5.0)),
    np.eye(1, 2 * RATE, RATE)[0],
], ids=["silence", "constant", "square", "one click"])
def test_odd_signals_give_finite_features(samples: np.ndarray) -> None:
    assert all(np.isfinite(v) for v in features(samples).values())


def test_rhythm_names_the_modulation_frequency() -> None:
    time_s = np.arange(6 * RATE) / RATE
    for rate_hz, name in ((3.0, "2-4"), (12.0, "8-16"), (0.7, "0.4-1")):
        got = features(noise(6.0) * (1 + 0.8 * np.sin(2 * np.pi * rate_hz * time_s)))
        bands = {n: v for n, v in got.items() if n.startswith("rhythm mid ")}
        assert max(bands, key=lambda n: bands[n]) == f"rhythm mid {name}"


def test_drops_are_rougher_than_hiss() -> None:
    """A train of decaying clicks has sudden starts that Gaussian noise has not."""
    rng = np.random.default_rng(11)
    drops = noise(3.0) * 0.05
    for start in rng.integers(0, 3 * RATE - 500, 900):
        local = np.arange(480)
        drops[start : start + 480] += 0.2 * np.exp(-local / 60) * np.sin(local * rng.uniform(0.3, 0.8))
    got, smooth = features(drops), features(noise(3.0))
    assert got["clicks high"] > 5 + smooth["clicks high"]
    assert got["attack 4k"] > smooth["attack 4k"] + 0.2
    assert got["spread 4k"] > smooth["spread 4k"]


def test_mains_lines_and_their_family() -> None:
    time_s = np.arange(6 * RATE) / RATE
    hum = sum(0.01 / k * np.sin(2 * np.pi * 120.0 * k * time_s) for k in (1, 2, 3))
    got, quiet = features(hum + 0.02 * noise(6.0)), features(noise(6.0))
    assert got["line twice mains"] > 20 > 10 > quiet["line twice mains"]
    assert got["line count"] >= 3
    assert got["line share"] > quiet["line share"] + 10


def test_a_tune_is_fleeting_and_not_a_line() -> None:
    time_s = np.arange(6 * RATE) / RATE
    pitch_hz = np.array([392.0, 440.0, 494.0, 523.0, 587.0, 659.0])[(time_s / 1.0).astype(int)]
    phase = 2 * np.pi * np.cumsum(pitch_hz) / RATE
    got = features(0.05 * np.sin(phase) + 0.02 * noise(6.0))
    assert got["line strongest"] < 10 < got["line fleeting"]


def test_rotor_beat_is_found_in_the_envelope() -> None:
    time_s = np.arange(4 * RATE) / RATE
    beating = noise(4.0) * (1 + 0.9 * np.cos(2 * np.pi * 48.0 * time_s))
    assert features(beating)["rotor 2k"] > features(noise(4.0))["rotor 2k"] + 6


def test_gulps_return() -> None:
    time_s = np.arange(8 * RATE) / RATE
    gulps = noise(8.0) * (0.05 + ((time_s % 0.5) < 0.25))
    assert features(gulps)["gulp return"] > 0.7 > features(noise(8.0))["gulp return"]
