"""Evenings: household sound of recordings in a row, with pauses, to lie over a rehearsal."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from tuner.terms import Samples
from tuner.training.recordings import Clip
from tuner.training.scenes import at_level

LEVELS_DB = (32.0, 52.0)
"""A-weighted levels between which an evening lies: from a quiet to a lively room, common practice, no source."""


def evening(rng: np.random.Generator, clips: Sequence[Clip], sample_rate: int, seconds: float) -> Samples:
    """Return clips in a row, shape (n,), each up to 10 s, at levels within 6 dB, with pauses of up to 8 s."""
    parts: list[Samples] = []
    left = round(seconds * sample_rate)
    while left > 0:
        clip = clips[int(rng.integers(len(clips)))].samples[: round(rng.uniform(2.0, 10.0) * sample_rate)]
        loud = at_level(clip.astype(np.float64), float(rng.uniform(-6.0, 0.0))).astype(np.float32)
        parts += [loud, np.zeros(round(rng.uniform(0.0, 8.0) * sample_rate), dtype=np.float32)]
        left -= parts[-1].size + parts[-2].size
    whole: Samples = np.concatenate(parts)[: round(seconds * sample_rate)]
    return whole
