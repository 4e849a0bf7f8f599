"""Do the synthetic voices sound like water to an independent tagger, as real recordings of the same kind do?

    python -m tests.bench.realism --judge DIR --recordings DIR [--seeds 50] [--first 100000] [--kinds ...]

``--judge`` holds ``judge.py`` (functions ``classes``, ``scores(file, tagger)`` and the set ``WATER``) with its model;
``--recordings`` holds ``MANIFEST.csv`` and the clips. Prints per kind the median water score of the real clips and of
the synthetic ones (10 s each, in a drawn room, 20 to 30 dB over the room's quiet, through a drawn microphone), their
ratio, and the share of seeds whose best class of all is a water class. A flush or a slurp comes and goes within its
10 s. Seeds from 100000 on are for reporting, those below for tuning.
"""

from __future__ import annotations

import argparse
import csv
import importlib.util
import io
import sys
from collections import Counter
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import soundfile as sf

from tuner.rehearsal.voices import Background, draw_microphone, draw_room, make_voice
from tuner.rehearsal.voices.loudness import a_level_db

RATE = 48_000
SECONDS = 10
REAL_KINDS: dict[str, tuple[str, ...]] = {
    "gurgle": ("gurgle", "bubbles"),
    "slurp": (),
    "trickle": ("trickle", "stream", "pour"),
    "splash": ("splash",),
    "flush": ("flush",),
    "roar": ("waterfall", "tap", "running_water"),
}


def drive_curve(kind: str, rng: np.random.Generator) -> np.ndarray:
    """Return 10 s of drive: steady kinds wander a little, a flush dumps once, a siphon gulps in one or two bouts."""
    n = SECONDS * 20
    walk = np.cumsum(rng.standard_normal(n)) * 0.01
    drive = rng.uniform(0.7, 1.5) * np.exp(walk - walk.mean())
    t = np.arange(n) / 20.0
    if kind == "flush":
        start = rng.uniform(0.3, 1.5)
        drive[(t < start) | (t > start + rng.uniform(5.0, 8.0))] = 0.0
    if kind == "slurp":
        drive[np.sin(2.0 * np.pi * (t / rng.uniform(6.0, 14.0) + rng.random())) < -0.6] = 0.0
    return drive


def clip(kind: str, seed: int) -> np.ndarray:
    """Return one synthetic recording as a person would make it."""
    rng = np.random.default_rng([seed, sum(kind.encode())])
    voice = make_voice(kind, sample_rate=RATE, rng=rng)  # type: ignore[arg-type]
    heard = draw_room(rng, RATE).place(voice.render(drive_curve(kind, rng)))
    quiet_db = float(rng.uniform(22.0, 34.0))
    above_db = float(rng.uniform(20.0, 30.0))
    heard *= 10.0 ** ((quiet_db + above_db - a_level_db(heard, sample_rate=RATE)) / 20.0)
    return draw_microphone(rng, RATE).record(heard + Background(rng, RATE, quiet_db).render(len(heard)))


def load_judge(folder: Path) -> tuple[ModuleType, Any]:
    """Return the judge's module and its tagger."""
    spec = importlib.util.spec_from_file_location("outside_judge", folder / "judge.py")
    if spec is None or spec.loader is None:
        raise SystemExit(f"--judge={folder} must hold judge.py: give the folder of the judge")
    judge = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(judge)
    tagger = judge.Interpreter(model_path=str(next(folder.glob("*.tflite"))), num_threads=1)
    tagger.allocate_tensors()
    return judge, tagger


def water(judge: ModuleType, tagger: Any, names: list[str], source: Any) -> tuple[float, str, str]:
    """Return the best water class's score, that class, and the best class of all."""
    scores = judge.scores(source, tagger)
    best = max((i for i, name in enumerate(names) if name in judge.WATER), key=lambda i: scores[i])
    return float(scores[best]), names[best], names[int(np.argmax(scores))]


def real_scores(judge: ModuleType, tagger: Any, names: list[str], folder: Path) -> dict[str, list[float]]:
    """Return the water scores of the real clips per kind of the manifest."""
    found: dict[str, list[float]] = {}
    with open(folder / "MANIFEST.csv", newline="") as f:
        for row in csv.DictReader(f):
            if row["family"] == "water":
                found.setdefault(row["kind"], []).append(water(judge, tagger, names, str(folder / row["file"]))[0])
    return found


def say(text: str) -> None:
    """Print a line at once, so that a long run shows how far it is."""
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--judge", type=Path)
    parser.add_argument("--recordings", type=Path)
    parser.add_argument("--seeds", type=int, default=50)
    parser.add_argument("--first", type=int, default=100_000)
    parser.add_argument("--kinds", nargs="+", default=list(REAL_KINDS))
    args = parser.parse_args()
    if args.judge is None or not (args.judge / "judge.py").is_file():
        say("left out: everything, because no judge was given (--judge DIR with judge.py and its model)")
        return
    judge, tagger = load_judge(args.judge)
    names = judge.classes()
    real: dict[str, list[float]] = {}
    if args.recordings is None or not (args.recordings / "MANIFEST.csv").is_file():
        say("left out: the real recordings and the ratios (--recordings DIR with MANIFEST.csv)")
    else:
        real = real_scores(judge, tagger, names, args.recordings)
    say("kind       real clips  synth   10%   90%  ratio water first  heard as")
    for kind in args.kinds:
        heard = []
        for seed in range(args.first, args.first + args.seeds):
            file = io.BytesIO()
            sf.write(file, clip(kind, seed), RATE, format="WAV", subtype="FLOAT")
            file.seek(0)
            heard.append(water(judge, tagger, names, file))
        scores = np.array([h[0] for h in heard])
        first = np.mean([h[2] in judge.WATER for h in heard])
        low, middle, high = np.quantile(scores, [0.1, 0.5, 0.9])
        clips = [s for k in REAL_KINDS.get(kind, ()) for s in real.get(k, [])]
        real_median = float(np.median(clips)) if clips else float("nan")
        tops = ", ".join(f"{name} {count}" for name, count in Counter(h[2] for h in heard).most_common(4))
        say(
            f"{kind:8} {real_median:6.2f} {len(clips):5d} {middle:6.2f} {low:5.2f} {high:5.2f} "
            f"{middle / real_median:6.2f} {first:11.0%}  {tops}"
        )


if __name__ == "__main__":
    main()
