"""Household sound for the benches: a row of recordings with pauses, from the half of a folder that fitted nothing."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np

from tuner.terms import Samples
from tuner.training.recordings import Clip, load_clips
from tuner.training.scenes import at_level

LEVELS_DB = (32.0, 52.0)


def in_both_rooms(part: str, score: Callable[[str, Path | None], None], args: argparse.Namespace) -> None:
    """Score a part in a quiet room, and under the household sound of a folder where there is one."""
    score("quiet room", None)
    if args.recordings:
        score(f"household sound, {LEVELS_DB[0]:g}-{LEVELS_DB[1]:g} dB(A)", args.recordings)
    else:
        print(f"{part}: left out: under household sound (no --recordings)")


@cache
def clips_apart(folder: Path, sample_rate: int) -> tuple[Clip, ...]:
    """Return the household clips of the reporting half; each process reads a folder once."""
    return load_clips(folder, half=False, sample_rate=sample_rate)[0]


def evening(rng: np.random.Generator, clips: tuple[Clip, ...], sample_rate: int, seconds: float) -> Samples:
    """Return clips in a row, each up to 10 s, at levels within 6 dB, with pauses of up to 8 s."""
    parts: list[np.ndarray] = []
    left = round(seconds * sample_rate)
    while left > 0:
        clip = clips[int(rng.integers(len(clips)))].samples[: round(rng.uniform(2.0, 10.0) * sample_rate)]
        loud = at_level(clip.astype(np.float64), float(rng.uniform(-6.0, 0.0)))
        parts += [loud, np.zeros(round(rng.uniform(0.0, 8.0) * sample_rate))]
        left -= parts[-1].size + parts[-2].size
    whole: Samples = np.concatenate(parts)[: round(seconds * sample_rate)].astype(np.float32)
    return whole
