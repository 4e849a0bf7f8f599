"""First cause on rehearsal cases with one cause each, 20 s heard, and silence on quiet ones."""

from __future__ import annotations

from tests.bench.ears_cases import report, results_of
from tuner.training.causes import HEARD_S


def run(draws: int, workers: int, first_seed: int) -> None:
    report(f"causes, {HEARD_S:g} s heard", results_of(draws, workers, first_seed, HEARD_S, None))
