"""Household sound for the benches: a row of recordings with pauses, from the half of a folder that fitted nothing."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from functools import cache
from pathlib import Path

from tuner.training.evening import LEVELS_DB
from tuner.training.recordings import Clip, load_clips


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
