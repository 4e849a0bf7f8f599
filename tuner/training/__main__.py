"""Command line of the training: render scenes, fit, score on scenes held apart, write the model with its card."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

from tuner.signatures.model import model_table
from tuner.training.examples import make_examples
from tuner.training.fit import STRENGTH, fit, scores
from tuner.training.scenes import ABSENT_DB, AUDIBLE_DB, FIRST_REPORT_SEED, LABELS

FIRST_TRAINING_SEED = 1000


def main(argv: list[str] | None = None) -> int:
    """Fit the model; ``--date`` goes into the card so that the file depends on nothing but its arguments."""
    parser = argparse.ArgumentParser(prog="python -m tuner.training", description=__doc__)
    parser.add_argument("--out", type=Path, required=True, help="model file to write")
    parser.add_argument("--scenes", type=int, default=2800, help="scenes to fit on")
    parser.add_argument("--report-scenes", type=int, default=300, help="other scenes to score on")
    parser.add_argument("--recordings", type=Path, help="folder of labelled recordings without water, as confusers")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--date", default="2026-11-24", help="date for the card")
    args = parser.parse_args(argv)
    seeds = range(FIRST_TRAINING_SEED, FIRST_TRAINING_SEED + args.scenes)
    sys.stderr.write(f"rendering {args.scenes} scenes to fit on ...\n")
    model = fit(make_examples(seeds, recordings=args.recordings, fitting=True, workers=args.workers))
    sys.stderr.write(f"rendering {args.report_scenes} scenes to score on ...\n")
    apart = range(FIRST_REPORT_SEED, FIRST_REPORT_SEED + args.report_scenes)
    result = scores(
        model, make_examples(apart, recordings=args.recordings, fitting=False, workers=args.workers), LABELS
    )
    about = {
        "date": args.date,
        "data": f"rehearsal scenes, seeds {seeds.start} to {seeds.stop - 1}",
        "household sound": "the fitting half of a folder of open recordings" if args.recordings else "synthetic only",
        "audible from dB over the rest in the best octave": AUDIBLE_DB,
        "absent below dB": ABSENT_DB,
        "inverse ridge strength": STRENGTH,
        "scores on scenes held apart, one-second segments": {
            label: {k: round(v, 3) for k, v in values.items()} for label, values in result.items()
        },
        "hum": (
            "a hum is labelled where its lines stand over the rest in their octave, but counts only where they carry a"
            " third of the sound below 1.6 kHz: its recall is low by intent"
        ),
        "limits": "the teachers were rehearsal voices, not real drains; of a siphon's slurp there is no recording",
    }
    text = json.dumps(model_table(model, about), indent=1)
    args.out.write_text(text + "\n", encoding="utf-8")
    for label, values in result.items():
        sys.stdout.write(f"{label:12s} " + "  ".join(f"{k} {v:.3f}" for k, v in values.items()) + "\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
