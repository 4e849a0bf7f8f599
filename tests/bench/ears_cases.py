"""First cause and silence on rehearsal cases with one cause each, in a quiet room and under household sound.

20 s are heard; where the diagnosis says that other sound covered them, 20 s more, up to a minute, as a keeper would.
"""

from __future__ import annotations

import argparse
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

from tests.bench.household import clips_apart, in_both_rooms
from tuner.rehearsal.cases import draw_case
from tuner.terms import CAUSE_NAMES, CauseName
from tuner.training.causes import LONGEST_S, SAMPLE_RATE, case_in_evening, heard_out

CASES: tuple[CauseName, ...] = CAUSE_NAMES[:11]
Job = tuple[CauseName | None, int, float, Path | None]
"""The true cause, the seed, how long is heard at the most (s), and the folder of household sound."""


def one(job: Job) -> tuple[str, str]:
    """Return the true cause and the first cause named."""
    cause, seed, longest_s, folder = job
    if folder is None:
        rehearsal = draw_case(cause, seed, sample_rate=SAMPLE_RATE)
    else:
        rehearsal = case_in_evening(cause, seed, clips_apart(folder, SAMPLE_RATE), np.random.default_rng([seed, 5]))
    d = heard_out(rehearsal, rehearsal.rig, longest_s)
    return cause or "silent", "silent" if d.silent else d.causes[0].name


def run(args: argparse.Namespace) -> None:
    def score(name: str, folder: Path | None) -> None:
        report(f"cases, {name}", results_of(args.draws, args.workers, args.first_seed, LONGEST_S, folder))

    in_both_rooms("cases", score, args)


def results_of(
    draws: int, workers: int, first_seed: int, longest_s: float, folder: Path | None
) -> list[tuple[str, str]]:
    """Return true and named cause of the draws, and of a quarter as many silent ones."""
    jobs: list[Job] = [(CASES[i % len(CASES)], first_seed + i, longest_s, folder) for i in range(draws)]
    jobs += [(None, first_seed + draws + i, longest_s, folder) for i in range(draws // 4)]
    with ProcessPoolExecutor(workers) as pool:
        return list(pool.map(one, jobs))


def report(name: str, results: list[tuple[str, str]]) -> None:
    noisy = [r for r in results if r[0] != "silent"]
    quiet = [r for r in results if r[0] == "silent"]
    right = sum(t == n for t, n in noisy)
    print(f"{name}: first cause right on {right} of {len(noisy)} ({right / len(noisy):.1%})")
    print(f"  noisy called silent: {sum(n == 'silent' for _, n in noisy)} of {len(noisy)}")
    print(f"  silent called silent: {sum(n == 'silent' for _, n in quiet)} of {len(quiet)}; "
          f"said masked: {sum(n == 'outside noise' for _, n in quiet)}")
    confusions = Counter(results)
    for truth in (*CASES, "silent"):
        row = {n: c for (t, n), c in confusions.items() if t == truth}
        print(f"  {truth:24s} " + ", ".join(f"{n} {c}" for n, c in sorted(row.items(), key=lambda x: -x[1])))
