"""Physical parts: times at their rate, resonances where they belong, bubbles at Minnaert's pitch."""

from __future__ import annotations

import numpy as np
import pytest

from tuner.training.makes.physical_parts import Bench

RATE = 16_000


def bench(seed: int = 0, steps: int = 200) -> Bench:
    return Bench(np.random.default_rng(seed), RATE, np.ones(steps), 50.0, RATE // 20)


def test_events_fall_at_their_rate_while_driven() -> None:
    times = bench().times(30.0, 1.0)
    assert times.min() >= 0.0
    assert times.max() <= 10.0
    assert times.size == pytest.approx(300, rel=0.25)
    still = Bench(np.random.default_rng(0), RATE, np.zeros(200), 50.0, RATE // 20)
    assert still.times(30.0, 1.0).size == 0


def test_bubbles_sound_at_the_pitch_that_they_are_given() -> None:
    made = bench().bubbles(np.linspace(0.5, 9.5, 60), np.full(60, 1000.0), np.ones(60))
    power = np.abs(np.fft.rfft(made)) ** 2
    peak_hz = np.fft.rfftfreq(made.size, 1 / RATE)[int(np.argmax(power))]
    assert peak_hz == pytest.approx(1000.0, rel=0.1), "a grid of a twelfth of an octave, rising a little"


def test_what_goes_through_unit_gains_comes_out_as_it_was() -> None:
    parts = bench()
    noise = np.random.default_rng(1).standard_normal(parts.n)
    out = parts.through(noise, np.ones(parts.bins.size))
    inner = slice(RATE, parts.n - RATE)
    assert np.allclose(out[inner], noise[inner], atol=1e-6)
