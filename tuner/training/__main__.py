"""Command line of the training: render scenes, fit, score on scenes held apart, write the model with its card."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Any

from tuner.errors import ConfigError, HushweirError
from tuner.signatures.model import model_table, model_text
from tuner.training.examples import joined, make_examples, plain_examples
from tuner.training.fit import ELSEWHERE_WEIGHT, PLAIN_WEIGHT, SECOND_STRENGTH, SECOND_TREES, STRENGTH, TREES, fit
from tuner.training.scenes import ABSENT_DB, AUDIBLE_DB, FIRST_ELSEWHERE_SEED, FIRST_REPORT_SEED, FIRST_REST_SEED
from tuner.training.scores import calibration_error, scores

FIRST_TRAINING_SEED = 3000


def main(argv: list[str] | None = None) -> int:
    """Fit the model; ``--date`` goes into the card so that the file depends on nothing but its arguments."""
    parser = argparse.ArgumentParser(prog="python -m tuner.training", description=__doc__)
    parser.add_argument("--out", type=Path, required=True, help="model file to write")
    parser.add_argument("--scenes", type=int, default=4800, help="scenes to fit on")
    parser.add_argument("--report-scenes", type=int, default=120, help="other scenes to score on")
    parser.add_argument(
        "--recordings", type=Path, action="append", default=[],
        help="folder of labelled recordings: one half is fitted, the other half scored; may be given again",
    )
    parser.add_argument(
        "--also", type=Path, action="append", default=[], help="folder of labelled recordings that are all fitted"
    )
    parser.add_argument("--first-seed", type=int, default=FIRST_TRAINING_SEED, help="of the scenes to fit on")
    parser.add_argument("--trees", type=int, default=TREES, help="trees of each label about features; 0: curves alone")
    parser.add_argument("--second-trees", type=int, default=SECOND_TREES, help="the same about opinions")
    parser.add_argument(
        "--elsewhere", type=int, default=1600, help="more scenes to fit on, made otherwise than by the rig's voices"
    )
    parser.add_argument("--rests", type=int, default=750, help="of rooms at rest, made otherwise too")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--date", default="2026-12-01", help="date for the card")
    args = parser.parse_args(argv)
    try:
        _train(args)
    except HushweirError as error:
        sys.stderr.write(f"{error}\n")
        return 2
    return 0


def _train(args: argparse.Namespace) -> None:
    seeds = _seeds("--scenes", args.first_seed, args.scenes, FIRST_ELSEWHERE_SEED)
    elsewhere = _seeds("--elsewhere", FIRST_ELSEWHERE_SEED, args.elsewhere, FIRST_REST_SEED)
    rests = _seeds("--rests", FIRST_REST_SEED, args.rests, FIRST_REPORT_SEED)
    every = [*seeds, *elsewhere, *rests]
    sys.stderr.write(f"rendering {len(every)} scenes to fit on ...\n")
    examples = make_examples(
        every, recordings=args.recordings, also=args.also, fitting=True, workers=args.workers,
    )
    if args.recordings or args.also:
        examples = joined([examples, plain_examples(args.recordings, args.also, fitting=True)])
    sys.stderr.write("fitting ...\n")
    model = fit(examples, args.trees, args.second_trees)
    sys.stderr.write(f"rendering {args.report_scenes} scenes to score on ...\n")
    apart = range(FIRST_REPORT_SEED, FIRST_REPORT_SEED + args.report_scenes)
    others = make_examples(apart, recordings=args.recordings, fitting=False, workers=args.workers)
    result = scores(model, others)
    about: dict[str, Any] = {
        "date": args.date,
        "data": {
            "scenes of the rehearsal rig, first seed and how many": [seeds.start, len(seeds)],
            "of sounds and rooms made otherwise": [elsewhere.start, len(elsewhere)],
            "of rooms at rest, made otherwise": [rests.start, len(rests)],
        },
        "recordings": (
            "the fitting half of a folder of open recordings: household sound as confusers, and real water of which the"
            " kind is known only roughly" if args.recordings or args.also else "none"
        ),
        "audible from dB over the rest in the best octave": AUDIBLE_DB,
        "absent below dB": ABSENT_DB,
        "inverse ridge strengths": [STRENGTH, SECOND_STRENGTH],
        "trees of each label, about features and about opinions": [args.trees, args.second_trees],
        "weight of a look at a plain recording; at a scene made otherwise": [PLAIN_WEIGHT, ELSEWHERE_WEIGHT],
        "scores on scenes held apart, one-second looks": {
            label: {k: round(v, 3) for k, v in values.items()} for label, values in result.items()
        },
        "expected calibration error": round(calibration_error(model, others), 4),
        "hum": (
            "counts where its lines carry a part of the A-weighted sound below 1.6 kHz; fainter lines than that, of a"
            " far fridge or a healthy pump, are in any quiet room"
        ),
        "limits": (
            "most teachers were rehearsal voices, not real drains; of a siphon's slurp there is no recording; steady"
            " water that sounds like noise (a tap, a river) is hardly told from a fan or a hiss"
        ),
    }
    args.out.write_text(model_text(model_table(model, about)), encoding="utf-8")
    for label, values in result.items():
        sys.stdout.write(f"{label:12s} " + "  ".join(f"{k} {v:.3f}" for k, v in values.items()) + "\n")


def _seeds(option: str, first: int, count: int, end: int) -> range:
    """Return the seeds of so many scenes; from ``end`` on a seed draws another sort of scene."""
    if first < 1 or count < 0 or first + count > end:
        raise ConfigError(
            f"{option} {count} from seed {first} must stay between seeds 1 and {end - 1}: later seeds draw other scenes"
        )
    return range(first, first + count)


if __name__ == "__main__":
    raise SystemExit(main())
