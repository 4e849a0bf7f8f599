"""The other synthesiser of the ears' bench: every kind renders, within full scale, and from its seed alone."""

from __future__ import annotations

import numpy as np
import pytest

from tests.bench.another_hand import KINDS, render
from tuner.terms import SOUND_KINDS
from tuner.training.elsewhere import MEANS

RATE = 16000
SECONDS = 1.5
SEEDS = range(4, 10)  # among them every way in which a kind is built


@pytest.mark.parametrize("kind", [*KINDS, None])
def test_every_kind_renders(kind: str | None) -> None:
    for seed in SEEDS:
        samples = render(kind, SECONDS, RATE, seed)
        assert samples.dtype == np.float32
        assert samples.shape == (round(SECONDS * RATE),)
        assert np.isfinite(samples).all()
        assert 0.0 < np.abs(samples).max() < 1.0


@pytest.mark.parametrize("kind", [*KINDS, None])
def test_the_seed_is_the_sound(kind: str | None) -> None:
    first = render(kind, SECONDS, RATE, 0)
    assert np.array_equal(first, render(kind, SECONDS, RATE, 0))
    assert not np.array_equal(first, render(kind, SECONDS, RATE, 1))


def test_the_kinds_are_those_the_program_hears() -> None:
    assert set(KINDS) == set(SOUND_KINDS) == set(MEANS)
