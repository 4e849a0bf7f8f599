"""First cause on rehearsal cases with one cause each, 20 s heard, and silence on quiet ones."""

from __future__ import annotations

from collections import Counter
from concurrent.futures import ProcessPoolExecutor

import tuner
from tuner.rehearsal.cases import draw_case
from tuner.terms import CAUSE_NAMES, CauseName

HEARD_S = 20.0
RATE = 48000
CASES: tuple[CauseName, ...] = CAUSE_NAMES[:11]


def one(job: tuple[CauseName | None, int]) -> tuple[str, str, float]:
    """Return the true cause, the first cause named and its probability."""
    cause, seed = job
    rehearsal = draw_case(cause, seed, sample_rate=RATE)
    d = tuner.diagnose(rehearsal.listen(HEARD_S), RATE, rig=rehearsal.rig)
    named = "silent" if d.silent else d.causes[0].name
    return cause or "silent", named, 1.0 if d.silent else d.causes[0].probability


def run(draws: int, workers: int, first_seed: int) -> None:
    jobs: list[tuple[CauseName | None, int]] = [(CASES[i % len(CASES)], first_seed + i) for i in range(draws)]
    jobs += [(None, first_seed + draws + i) for i in range(draws // 4)]
    with ProcessPoolExecutor(workers) as pool:
        results = list(pool.map(one, jobs))
    noisy = [r for r in results if r[0] != "silent"]
    quiet = [r for r in results if r[0] == "silent"]
    right = sum(t == n for t, n, _ in noisy)
    print(f"causes: first cause right on {right} of {len(noisy)} draws ({right / len(noisy):.1%}), {HEARD_S:g} s heard")
    print(f"causes: noisy draws called silent: {sum(n == 'silent' for _, n, _ in noisy)}")
    print(f"causes: quiet draws called silent: {sum(n == 'silent' for _, n, _ in quiet)} of {len(quiet)}")
    confusions = Counter((t, n) for t, n, _ in results)
    for truth in (*CASES, "silent"):
        row = {n: c for (t, n), c in confusions.items() if t == truth}
        print(f"  {truth:24s} " + ", ".join(f"{n} {c}" for n, c in sorted(row.items(), key=lambda x: -x[1])))
