"""First cause and silence on rehearsal cases with one cause each, in a quiet room and under household sound.

20 s are heard; where the diagnosis says that other sound covered them, 20 s more, up to a minute, as a keeper would.
"""

from __future__ import annotations

import argparse
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

import tuner
from tests.bench.household import LEVELS_DB, clips_apart, evening
from tuner.rehearsal.cases import draw_case
from tuner.terms import CAUSE_NAMES, CauseName

HEARD_S = 20.0
LONGEST_S = 60.0
RATE = 48000
CASES: tuple[CauseName, ...] = CAUSE_NAMES[:11]
_CLIPS: list[tuple] = []


def prepare(folder: Path | None) -> None:
    _CLIPS.append(clips_apart(folder, RATE))


def one(job: tuple[CauseName | None, int, bool]) -> tuple[str, str]:
    """Return the true cause and the first cause named."""
    cause, seed, loud = job
    rng = np.random.default_rng([seed, 5])
    household = evening(rng, _CLIPS[0], RATE, LONGEST_S) if loud else None
    level_db = float(rng.uniform(*LEVELS_DB))
    rehearsal = draw_case(cause, seed, sample_rate=RATE, household=household, household_db=level_db)
    heard = rehearsal.listen(HEARD_S)
    while True:
        d = tuner.diagnose(heard, RATE, rig=rehearsal.rig)
        masked = not d.silent and d.causes[0].name == "outside noise"
        if not masked or len(heard) >= LONGEST_S * RATE:
            break
        heard = np.concatenate([heard, rehearsal.listen(HEARD_S)])
    return cause or "silent", "silent" if d.silent else d.causes[0].name


def run(args: argparse.Namespace) -> None:
    score("quiet room", args, loud=False)
    if args.recordings:
        score(f"household sound, {LEVELS_DB[0]:g}-{LEVELS_DB[1]:g} dB(A)", args, loud=True)
    else:
        print("cases: left out: under household sound (no --recordings)")


def score(name: str, args: argparse.Namespace, *, loud: bool) -> None:
    jobs: list[tuple[CauseName | None, int, bool]] = [
        (CASES[i % len(CASES)], args.first_seed + i, loud) for i in range(args.draws)
    ]
    jobs += [(None, args.first_seed + args.draws + i, loud) for i in range(args.draws // 4)]
    with ProcessPoolExecutor(args.workers, initializer=prepare, initargs=(args.recordings,)) as pool:
        results = list(pool.map(one, jobs))
    noisy = [r for r in results if r[0] != "silent"]
    quiet = [r for r in results if r[0] == "silent"]
    right = sum(t == n for t, n in noisy)
    print(f"cases, {name}: first cause right on {right} of {len(noisy)} ({right / len(noisy):.1%})")
    print(f"  noisy called silent: {sum(n == 'silent' for _, n in noisy)} of {len(noisy)}")
    print(f"  silent called silent: {sum(n == 'silent' for _, n in quiet)} of {len(quiet)}; "
          f"said masked: {sum(n == 'outside noise' for _, n in quiet)}")
    confusions = Counter(results)
    for truth in (*CASES, "silent"):
        row = {n: c for (t, n), c in confusions.items() if t == truth}
        print(f"  {truth:24s} " + ", ".join(f"{n} {c}" for n, c in sorted(row.items(), key=lambda x: -x[1])))
