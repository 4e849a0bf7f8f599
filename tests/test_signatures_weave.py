"""Weave: narrow bands that sound one by one are told from those that sound together."""

from __future__ import annotations

import numpy as np
import pytest

from tuner.signatures.ears import FEATURE_NAMES, looks_of
from tuner.signatures.weave import WEAVE_NAMES

RATE = 48000


def weave_of(samples: np.ndarray, rate: int = RATE) -> dict[str, float]:
    last = dict(zip(FEATURE_NAMES, looks_of(samples.astype(np.float32), rate)[-1].features, strict=True))
    return {name: float(last[name]) for name in WEAVE_NAMES}


def bursts(rng: np.random.Generator, *, narrow: bool, seconds: float = 3.0) -> np.ndarray:
    """Thirty bursts a second over faint noise: each of one drawn pitch with a soft start, or each of all pitches."""
    n = round(seconds * RATE)
    out = 1e-4 * rng.standard_normal(n)
    t = np.arange(1200) / RATE
    for start in rng.integers(0, n - t.size, round(30 * seconds)):
        pitch_hz = np.exp(rng.uniform(np.log(300.0), np.log(9000.0)))
        body = np.sin(2 * np.pi * pitch_hz * t) if narrow else rng.standard_normal(t.size)
        out[start : start + t.size] += 0.1 * body * np.minimum(t / 0.002, 1) * np.exp(-t / 0.004)
    return out


def test_lone_notes_start_alone_and_clicks_start_everywhere() -> None:
    rng = np.random.default_rng(0)
    notes, clicks = weave_of(bursts(rng, narrow=True)), weave_of(bursts(rng, narrow=False))
    assert notes["onset alone"] > clicks["onset alone"]
    assert notes["onset width"] + 1.0 < clicks["onset width"]


@pytest.mark.parametrize("name", ["detail 4 low", "detail 6 high", "weave 4 high"])
def test_clicks_make_far_bands_alike_and_notes_do_not(name: str) -> None:
    rng = np.random.default_rng(1)
    assert weave_of(bursts(rng, narrow=False))[name] > 0.6
    assert weave_of(bursts(rng, narrow=True))[name] < 0.45


def test_bands_of_noise_are_strangers() -> None:
    """Gaussian noise in bands that do not touch is independent: the correlation of 400 values is within 0.2 of 0."""
    got = weave_of(0.05 * np.random.default_rng(2).standard_normal(3 * RATE))
    assert all(abs(got[f"{what} {apart} {half}"]) < 0.2
               for what in ("weave", "detail") for apart in (2, 4, 6) for half in ("low", "high"))


def test_a_phone_without_high_bands_is_judged_by_the_others() -> None:
    got = weave_of(0.05 * np.random.default_rng(3).standard_normal(3 * 16000), 16000)
    assert all(np.isfinite(v) for v in got.values())
    assert abs(got["detail 2 high"]) < 0.2
