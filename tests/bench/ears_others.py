"""First cause and silence on sounds made by another synthesiser, which no part of the program learned from.

One sound at a time in a quiet room (``another_hand``), heard once and without a description of the installation: what
is right here does not rest on the habits of the project's own voices. A kind has more than one right cause where only
the place of the sound tells them apart.
"""

from __future__ import annotations

import argparse
from collections import Counter
from concurrent.futures import ProcessPoolExecutor

import numpy as np

from tests.bench.another_hand import KINDS, render
from tuner.causes.diagnosis import diagnose_reading
from tuner.causes.facts import presence
from tuner.signatures.listener import read_window
from tuner.terms import SOUND_KINDS
from tuner.training.elsewhere import MEANS

RATE = 48000
HEARD_S = 24.0
SHOWN_PRESENCE = 0.03  # kinds fainter than this on average are not listed

Result = tuple[str, list[float]]
"""The first cause named, or ``silent``, and the presence of each kind."""


def one(job: tuple[str | None, int]) -> Result:
    kind, seed = job
    reading = read_window(render(kind, HEARD_S, RATE, seed), RATE)
    d = diagnose_reading(reading)
    return "silent" if d.silent else d.causes[0].name, [presence(reading, k) for k in SOUND_KINDS]


def run(args: argparse.Namespace) -> None:
    seeds = range(args.first_seed, args.first_seed + args.draws)
    print(f"others: {args.draws} draws of {HEARD_S:g} s of each kind by another synthesiser, and of its quiet room")
    right = silent = 0
    with ProcessPoolExecutor(args.workers) as pool:
        for kind in KINDS:
            results = list(pool.map(one, [(kind, seed) for seed in seeds]))
            hits = sum(named in MEANS[kind] for named, _ in results)
            print(f"  {kind:8s} first cause right {hits:3d} of {len(results)}: {summary(results)}", flush=True)
            right += hits
            silent += sum(named == "silent" for named, _ in results)
        quiet = list(pool.map(one, [(None, seed) for seed in seeds]))
    print(f"  quiet: {summary(quiet)}")
    noisy = args.draws * len(KINDS)
    print(f"others: first cause right on {right} of {noisy} ({right / noisy:.1%})")
    print(f"  noisy called silent: {silent} of {noisy}")
    print(f"  silent called silent: {sum(named == 'silent' for named, _ in quiet)} of {len(quiet)}")


def summary(results: list[Result]) -> str:
    """Return the causes named, most often first, and the mean presence of the kinds heard."""
    named = ", ".join(f"{cause} {n}" for cause, n in Counter(cause for cause, _ in results).most_common())
    mean = dict(zip(SOUND_KINDS, np.mean([heard for _, heard in results], axis=0), strict=True))
    heard = ", ".join(
        f"{k} {p:.2f}" for k, p in sorted(mean.items(), key=lambda x: -x[1]) if p >= SHOWN_PRESENCE
    )
    return f"{named}; heard {heard or 'nothing'}"
