"""The layered sounds: what tells the kinds apart."""

from __future__ import annotations

import numpy as np

from tuner.terms import SoundKind
from tuner.training.makes import layered

RATE = 16_000


def share_above(kind: SoundKind, seed: int, edge_hz: float) -> float:
    sound = layered.sound(kind, np.random.default_rng(seed), RATE, np.ones(60), 50.0)
    power = np.abs(np.fft.rfft(sound)) ** 2
    return float(power[np.fft.rfftfreq(sound.size, 1 / RATE) > edge_hz].sum() / power.sum())


def test_a_hiss_is_brighter_than_a_roar() -> None:
    for seed in range(12):
        assert share_above("hiss", seed, 1200.0) > 0.7
        assert share_above("roar", seed, 1200.0) < 0.5


def test_a_trickle_is_brighter_than_a_gurgle() -> None:
    trickle, gurgle = (np.median([share_above(k, s, 1500.0) for s in range(9)]) for k in ("trickle", "gurgle"))
    assert trickle > gurgle + 0.3


def test_a_flush_gasps_after_its_end_and_a_slurp_does_not() -> None:
    drive = np.concatenate([np.ones(60), np.zeros(60)])
    after = {
        kind: max(
            float(np.abs(layered.sound(kind, np.random.default_rng(s), RATE, drive, 50.0)[61 * RATE // 20:]).max())
            for s in range(8)
        )
        for kind in ("flush", "slurp")
    }
    assert after["flush"] > 0.0 == after["slurp"]
