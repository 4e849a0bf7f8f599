"""Labelled recordings for the training: household sound as confusers, real water as teachers of what kinds it may be.

A folder holds MANIFEST.csv (columns file, family, kind, group) and, where there, OTHER.csv (file, group; all without
water). What a recording of water teaches is told by its kind: it is one of the sounds that such water makes, and none
of the others; the fit finds out which (see ``fit``). Rain and waves are left out: they are water, but no drain's.
"""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import sha256
from math import gcd
from pathlib import Path

import numpy as np

from tuner.errors import ConfigError
from tuner.terms import Samples, SoundKind

LONGEST_S = 30.0
MAY_BE: dict[str, tuple[SoundKind, ...]] = {
    "bubbles": ("gurgle", "trickle"),
    "gurgle": ("gurgle",),
    "drain": ("gurgle", "slurp", "flush"),
    "slurp": ("slurp",),
    "trickle": ("trickle",),
    "drip": ("trickle", "splash"),
    "pour": ("gurgle", "trickle", "splash"),
    "splash": ("splash", "gurgle"),
    "flush": ("flush", "roar", "gurgle"),
    "tap": ("roar", "splash", "trickle"),
    "shower": ("roar", "splash", "trickle"),
    "fountain": ("roar", "splash", "trickle"),
    "running_water": ("roar", "trickle", "splash"),
    "waterfall": ("roar", "splash"),
    "stream": ("trickle", "roar", "splash", "gurgle"),
    "boiling": ("gurgle", "trickle"),
    "underwater": ("gurgle", "trickle"),
    "aquarium": ("gurgle", "trickle", "splash"),
}
"""Which of our kinds a recording of water may hold, by its kind in the manifest: common practice, no source."""


@dataclass(frozen=True, slots=True)
class Clip:
    """One recording: mono samples, and the kinds of plumbing sound that it may hold (none: household)."""

    samples: Samples
    may_be: tuple[SoundKind, ...]


def training_half(group: str) -> bool:
    """Return whether a group of recordings is for fitting: a fixed half, by the hash of its name."""
    return sha256(group.encode()).digest()[0] % 2 == 0


def load_clips(
    folder: Path, *, half: bool | None, sample_rate: int, longest_s: float = LONGEST_S
) -> tuple[tuple[Clip, ...], tuple[Clip, ...]]:
    """Read a folder: household and water clips of the fitting half (``half`` True), the other (False) or all (None).

    Raises
    ------
    ConfigError
        When the folder holds no manifest.
    """
    if not (folder / "MANIFEST.csv").exists():
        raise ConfigError(f"recordings={folder} must hold MANIFEST.csv: name, family, kind and group of each file")
    household: list[Clip] = []
    water: list[Clip] = []
    for row in _rows(folder):
        family, kind = row.get("family", "household"), row.get("kind", "")
        if (half is not None and training_half(row["group"]) is not half) or (family == "water" and kind not in MAY_BE):
            continue
        samples = _read(folder / row["file"], sample_rate, longest_s)
        if samples is not None and family == "water":
            water.append(Clip(samples, MAY_BE[kind]))
        elif samples is not None:
            household.append(Clip(samples, ()))
    return tuple(household), tuple(water)


def _rows(folder: Path) -> Sequence[dict[str, str]]:
    rows: list[dict[str, str]] = []
    for name in ("MANIFEST.csv", "OTHER.csv"):
        if (folder / name).exists():
            with open(folder / name, newline="", encoding="utf-8") as table:
                rows.extend(csv.DictReader(table))
    return rows


def _read(path: Path, sample_rate: int, longest_s: float) -> Samples | None:
    """Return mono samples at the rate, or None where there is next to nothing in the file."""
    import soundfile
    from scipy.signal import resample_poly

    data, rate = soundfile.read(path, dtype="float32", always_2d=True)
    mono = data.mean(axis=1)[: int(longest_s * rate)]
    if mono.size < rate // 4 or float(np.abs(mono).max()) < 1e-4:
        return None
    factor = gcd(rate, sample_rate)
    resampled: Samples = resample_poly(mono, sample_rate // factor, rate // factor).astype(np.float32)
    return resampled
