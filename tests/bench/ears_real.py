"""Real recordings of the half that fitted nothing: are drain-like waters told from the rest of a household?

The water score of a second is the highest probability of a water sound in it; seconds in which outside noise prevails
score as low as they are surely outside. A clip scores the mean of its seconds. Beside it stands what a keeper sees:
seconds in which a sound of water is named, at the thresholds that ship.
"""

from __future__ import annotations

import argparse
import csv
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

from tests.bench.scoring import auc
from tuner.signatures.listener import Listener
from tuner.signatures.water import KINDS as WATER
from tuner.terms import Moment, Sound
from tuner.training.recordings import training_half

DRAIN_LIKE = ("bubbles", "gurgle", "trickle", "pour", "splash", "flush", "tap", "waterfall", "stream", "running_water")
LONGEST_S = 60.0
SHORTEST_S = 2.0  # shorter clips are played again until there is something to judge


def load(path: Path) -> tuple[np.ndarray, int]:
    import soundfile

    data, rate = soundfile.read(path, dtype="float32", always_2d=True)
    mono = data.mean(axis=1)[: round(LONGEST_S * rate)]
    return np.resize(mono, max(mono.size, round(SHORTEST_S * rate))), rate


def water_scores(moments: tuple[Moment, ...]) -> np.ndarray:
    best = np.array([max(m.probability[k] for k in WATER) for m in moments])
    outside = np.array([m.outside for m in moments])
    return np.where(outside > best, np.minimum(best, 1.0 - outside), best)


def one(path: Path) -> tuple[np.ndarray, float, list[Sound]]:
    """Return the water scores, the seconds and the sounds of water heard in a recording."""
    samples, rate = load(path)
    if not np.any(samples):
        return np.zeros(1), SHORTEST_S, []
    listener = Listener(rate)
    listener.feed(samples)
    listener.flush()
    moments = listener.moments()
    kept = listener.reading().sounds
    return water_scores(moments), samples.size / rate, [s for s in kept if s.kind in WATER]


def clips(folder: Path) -> list[tuple[Path, str, str]]:
    """Return file, family (water, household, other) and kind of the clips of the reporting half."""
    found = []
    for name in ("MANIFEST.csv", "OTHER.csv"):
        if not (folder / name).exists():
            continue
        with open(folder / name, newline="", encoding="utf-8") as table:
            for row in csv.DictReader(table):
                family = row.get("family", "other")
                kind = row.get("kind") or row.get("label", "")
                if not training_half(row["group"]) and (family != "water" or kind in DRAIN_LIKE):
                    found.append((folder / row["file"], family, kind))
    return found


def run(args: argparse.Namespace) -> None:
    if not args.recordings:
        print("real: left out (no --recordings)")
        return
    listed = clips(args.recordings)
    with ProcessPoolExecutor(args.workers) as pool:
        heard = list(pool.map(one, [path for path, _, _ in listed], chunksize=8))
    family = np.array([f for _, f, _ in listed])
    score = np.array([s.mean() for s, _, _ in heard])
    report("hushweir", family, score, [s for s, _, _ in heard])
    each = [f"{p.stem} {s:.2f}" for (p, f, _), s in zip(listed, score, strict=True) if f == "water"]
    print("  water clips: " + ", ".join(each))
    sounds: Counter[str] = Counter()
    hours = sum(h[1] for h, f in zip(heard, family, strict=True) if f != "water") / 3600
    named = {True: 0.0, False: 0.0}
    for (_, _, sounds_of), f in zip(heard, family, strict=True):
        named[f == "water"] += covered_s(sounds_of)
        if f != "water":
            sounds.update(s.kind for s in sounds_of)
    wet = sum(h[1] for h, f in zip(heard, family, strict=True) if f == "water")
    print(f"  time in which a sound of water is named: {named[True] / wet:.1%} of water, "
          f"{named[False] / 3600 / hours:.1%} of confusers")
    print(f"  plumbing sounds in {hours:.2f} h of confusers: {sum(sounds.values())} ("
          + ", ".join(f"{k} {n}" for k, n in sounds.most_common()) + ")")
    if args.judge:
        beside(args.judge, listed, family)
    else:
        print("real: left out: the outside tagger (no --judge)")


def covered_s(sounds: list[Sound]) -> float:
    """Return for how long at least one of the sounds lasts."""
    end, total = 0.0, 0.0
    for sound in sorted(sounds, key=lambda s: s.start_s):
        total += max(0.0, sound.end_s - max(end, sound.start_s))
        end = max(end, sound.end_s)
    return total


def report(name: str, family: np.ndarray, score: np.ndarray, seconds: list[np.ndarray]) -> None:
    water = family == "water"
    print(f"real, {name}: {water.sum()} clips of drain-like water, {(family == 'household').sum()} household, "
          f"{(family == 'other').sum()} other confusers, none of them fitted")
    print(f"  AUC by clip {auc(score[water], score[~water]):.3f}; against household alone "
          f"{auc(score[water], score[family == 'household']):.3f}")
    positive = np.concatenate([s for s, w in zip(seconds, water, strict=True) if w])
    negative = np.concatenate([s for s, w in zip(seconds, water, strict=True) if not w])
    limit = np.quantile(positive, 0.2)
    clip_limit = np.quantile(score[water], 0.2)
    print(f"  AUC by look {auc(positive, negative):.3f}; confusers' time heard as water at a recall of 0.8: "
          f"{np.mean(negative >= limit):.1%} by look, {np.mean(score[~water] >= clip_limit):.1%} of clips")


def beside(judge_folder: Path, listed: list[tuple[Path, str, str]], family: np.ndarray) -> None:
    """Print the same figures for the outside tagger, on the same clips."""
    from tests.bench.realism import load_judge

    judge, tagger = load_judge(judge_folder)
    columns = [i for i, n in enumerate(judge.classes()) if n in judge.WATER]
    score = np.array([float(judge.scores(str(p), tagger)[columns].max()) for p, _, _ in listed])
    report("outside tagger", family, score, [np.array([s]) for s in score])
