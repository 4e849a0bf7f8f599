"""Examples: features of many drawn scenes with their labels, reproducible from the seeds alone."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tuner.signatures.ears import looks_of
from tuner.terms import Samples
from tuner.training.scenes import FIRST_REPORT_SEED, draw_scene

SCENE_S = (8.0, 8.0, 12.0, 26.0)
RATES_HZ = (48000, 48000, 44100, 16000)


@dataclass(frozen=True, slots=True)
class Examples:
    """Features (n, n_features), how far each label stands over the rest (n, n_labels) in dB, scene of each row (n,)."""

    features: NDArray[np.float64]
    over_db: NDArray[np.float64]
    scene: NDArray[np.int64]


def training_half(group: str) -> bool:
    """Return whether a group of recordings is for fitting: a fixed half, by the hash of its name."""
    return sha256(group.encode()).digest()[0] % 2 == 0


def load_household(folder: Path, *, fitting: bool, sample_rate: int, longest_s: float = 30.0) -> list[Samples]:
    """Read the recordings without water of a labelled folder, the fitting or the reporting half.

    The folder holds MANIFEST.csv (columns file, family, group) and, where there, OTHER.csv (file, group).
    """
    from math import gcd

    import soundfile
    from scipy.signal import resample_poly

    clips: list[Samples] = []
    for name in ("MANIFEST.csv", "OTHER.csv"):
        if not (folder / name).exists():
            continue
        with open(folder / name, newline="", encoding="utf-8") as table:
            rows = [r for r in csv.DictReader(table) if r.get("family", "household") == "household"]
        for row in rows:
            if training_half(row["group"]) is not fitting:
                continue
            data, rate = soundfile.read(folder / row["file"], dtype="float32", always_2d=True)
            mono = data.mean(axis=1)[: int(longest_s * rate)]
            if mono.size < rate // 4 or float(np.abs(mono).max()) < 1e-4:
                continue
            factor = gcd(rate, sample_rate)
            resampled = resample_poly(mono, sample_rate // factor, rate // factor)
            clips.append(resampled.astype(np.float32))
    return clips


def scene_examples(seed: int, household: dict[int, list[Samples]]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return features and label levels of the scene of one seed."""
    rng = np.random.default_rng(seed)
    sample_rate = int(rng.choice(RATES_HZ))
    first = 1 if seed < FIRST_REPORT_SEED else 2 * FIRST_REPORT_SEED
    scene = draw_scene(
        rng, sample_rate=sample_rate, seconds=float(rng.choice(SCENE_S)), household=household.get(sample_rate, ()),
        plant_seeds=(first, first + FIRST_REPORT_SEED - 1),
    )
    looks = looks_of(scene.samples, sample_rate)
    count = min(len(looks), len(scene.over_db))
    return np.stack([k.features for k in looks[:count]]), scene.over_db[:count]


_HOUSEHOLD: dict[int, list[Samples]] = {}


def _prepare(folder: str | None, fitting: bool) -> None:
    if folder:
        for rate in set(RATES_HZ):
            _HOUSEHOLD[rate] = load_household(Path(folder), fitting=fitting, sample_rate=rate)


def _one(seed: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    return scene_examples(seed, _HOUSEHOLD)


def make_examples(seeds: Sequence[int], *, recordings: Path | None, fitting: bool, workers: int = 1) -> Examples:
    """Render the scenes of ``seeds`` and return their examples, in the order of the seeds."""
    folder = str(recordings) if recordings else None
    with ProcessPoolExecutor(workers, initializer=_prepare, initargs=(folder, fitting)) as pool:
        parts = list(pool.map(_one, seeds, chunksize=8))
    scene = np.concatenate([np.full(len(f), s) for s, (f, _) in zip(seeds, parts, strict=True)])
    return Examples(np.concatenate([f for f, _ in parts]), np.concatenate([o for _, o in parts]), scene)
