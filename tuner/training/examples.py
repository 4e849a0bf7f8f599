"""Examples: features of many drawn scenes with their labels, reproducible from the seeds alone."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tuner.signatures.ears import looks_of
from tuner.training.recordings import LONGEST_S, Clip, load_clips
from tuner.training.scenes import FIRST_REPORT_SEED, FIRST_REST_SEED, LABELS, draw_scene, is_elsewhere

Floats = NDArray[np.float64]
Clips = dict[int, tuple[tuple[Clip, ...], tuple[Clip, ...]]]
"""Household and water clips by sample rate."""
SCENE_S = (8.0, 8.0, 12.0, 26.0)
PLAIN_RATE_HZ = 44100
PLAIN_S = 12.0
RATES_HZ = (48000, 48000, 44100, 16000)


@dataclass(frozen=True, slots=True)
class Examples:
    """Features (n, n_features) with what is known of them, see ``Scene``, and the scene of each row (n,)."""

    features: Floats
    over_db: Floats
    any_of: NDArray[np.bool_]
    scene: NDArray[np.int64]


def scene_examples(seed: int, clips: Clips) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Return features, label levels and the sets of possible labels of the scene of one seed."""
    rng = np.random.default_rng(seed)
    sample_rate = int(rng.choice(RATES_HZ))
    first = 1 if seed < FIRST_REPORT_SEED else 2 * FIRST_REPORT_SEED
    household, water = clips.get(sample_rate, ((), ()))
    scene = draw_scene(
        rng, sample_rate=sample_rate, seconds=float(rng.choice(SCENE_S)), household=household, water=water,
        plant_seeds=(first, first + FIRST_REPORT_SEED - 1), otherwise_share=1.0 if is_elsewhere(seed) else 0.0,
        at_rest=FIRST_REST_SEED <= seed < FIRST_REPORT_SEED,
    )
    looks = looks_of(scene.samples, sample_rate)
    count = min(len(looks), len(scene.over_db))
    return np.stack([k.features for k in looks[:count]]), scene.over_db[:count], scene.any_of[:count]


def plain_examples(recordings: Sequence[Path], also: Sequence[Path], *, fitting: bool) -> Examples:
    """Return the examples of the recordings as they are: no kind of ours in household sound, some kind in real water.

    Scenes are numbered from -1 downwards. Loud seconds alone count: what is heard in the others is not known.
    """
    loaded = _loaded(recordings, also, fitting, PLAIN_RATE_HZ, PLAIN_S)
    parts = [_plain(clip, -1 - i) for i, clip in enumerate(c for pair in loaded for clips in pair for c in clips)]
    return joined(parts)


def _loaded(
    recordings: Sequence[Path], also: Sequence[Path], fitting: bool, sample_rate: int, longest_s: float
) -> list[tuple[tuple[Clip, ...], tuple[Clip, ...]]]:
    """Return household and water clips of each folder: a half of ``recordings``, the whole of ``also``."""
    halves: list[tuple[Path, bool | None]] = [*((f, fitting) for f in recordings), *((f, None) for f in also)]
    return [load_clips(f, half=half, sample_rate=sample_rate, longest_s=longest_s) for f, half in halves]


def _plain(clip: Clip, scene: int) -> Examples:
    shortest = 2 * PLAIN_RATE_HZ
    looks = looks_of(np.resize(clip.samples, max(shortest, clip.samples.size)), PLAIN_RATE_HZ)
    level = np.array([k.level for k in looks])
    loud = level > 0.02 * np.quantile(level, 0.9)
    over = np.full((len(looks), len(LABELS)), -99.0)
    any_of = np.zeros(over.shape, dtype=bool)
    columns = [LABELS.index(kind) for kind in clip.may_be]
    over[:, columns] = np.nan
    if clip.may_be:
        any_of[np.ix_(loud, columns)] = True
    else:
        over[:, LABELS.index("outside")] = np.where(loud, 99.0, np.nan)
    return Examples(np.stack([k.features for k in looks]), over, any_of, np.full(len(looks), scene))


def joined(parts: Sequence[Examples]) -> Examples:
    """Return the examples of all parts, in their order."""
    # rounded to what a small file of them holds, so that a fit from kept examples is the same fit
    return Examples(
        features=np.concatenate([p.features.astype(np.float32) for p in parts]).astype(np.float64),
        over_db=np.concatenate([p.over_db.astype(np.float32) for p in parts]).astype(np.float64),
        any_of=np.concatenate([p.any_of for p in parts]), scene=np.concatenate([p.scene for p in parts]),
    )


_CLIPS: Clips = {}


def _prepare(folders: tuple[Path, ...], also: tuple[Path, ...], fitting: bool) -> None:
    for rate in set(RATES_HZ) if folders or also else ():
        loaded = _loaded([*folders, *also], (), fitting, rate, LONGEST_S)
        _CLIPS[rate] = (tuple(c for h, _ in loaded for c in h), tuple(c for _, w in loaded for c in w))


def _one(seed: int) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    return scene_examples(seed, _CLIPS)


def make_examples(
    seeds: Sequence[int], *, recordings: Sequence[Path] = (), also: Sequence[Path] = (), fitting: bool,
    workers: int = 1,
) -> Examples:
    """Render the scenes of ``seeds`` and return their examples, in the order of the seeds.

    Of the folders one half of the recordings is mixed into scenes to fit on, the other into scenes to score on;
    ``plain_examples`` has the whole of ``also``. From ``FIRST_ELSEWHERE_SEED`` on, up to the scenes to score on, all
    sounds and rooms are made otherwise than by the rehearsal rig; from ``FIRST_REST_SEED`` on the rooms are at rest.
    """
    with ProcessPoolExecutor(
        workers, initializer=_prepare, initargs=(tuple(recordings), tuple(also), fitting)
    ) as pool:
        parts = list(pool.map(_one, seeds, chunksize=8))
    return joined([Examples(*p, np.full(len(p[0]), s)) for s, p in zip(seeds, parts, strict=True)])
