"""Closed loop: noisy rehearsal draws tuned by the coach through the microphone, moves done on the simulated rig."""

from __future__ import annotations

import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

import numpy as np

import tuner
from tuner.rehearsal.cases import draw_noisy

HEARD_S = 20.0
RATE = 48000
MOST_MOVES = 25
MOST_LISTENS = 50


@dataclass(frozen=True)
class Outcome:
    seed: int
    moves: int
    quiet: bool
    said_done: bool
    move_made_emergency: bool
    think_s: float


def one(seed: int) -> Outcome:
    """Tune one draw and return how it went."""
    rehearsal = draw_noisy(seed, sample_rate=RATE)
    coach = tuner.Coach(rehearsal.rig)
    moves, done, think_s, made = 0, False, 0.0, False
    for _ in range(MOST_LISTENS):
        coach.hear(rehearsal.listen(HEARD_S), RATE)
        begun = time.process_time()
        step = coach.advise()
        while isinstance(step, tuner.Question):
            coach.look(step.id, None)
            step = coach.advise()
        think_s = max(think_s, time.process_time() - begun)
        if step is None:
            done = True
            break
        if step.amount:
            if moves >= MOST_MOVES:
                break
            before = rehearsal.truth.emergency_ever_carried
            rehearsal.move(step.control, step.amount)
            moves += 1
            rehearsal.wait(step.wait_s)
            made |= rehearsal.truth.emergency_ever_carried and not before
        else:
            rehearsal.wait(step.wait_s)
        coach.did(step)
    return Outcome(seed, moves, rehearsal.truth.is_quiet(), done, made, think_s)


def run(draws: int, workers: int, first_seed: int) -> None:
    with ProcessPoolExecutor(workers) as pool:
        results = list(pool.map(one, range(first_seed, first_seed + draws)))
    moves = [r.moves for r in results if r.quiet]
    quiet = sum(r.quiet for r in results)
    print(f"loop: silent within {MOST_MOVES} moves: {quiet} of {draws} ({quiet / draws:.1%})")
    if moves:
        print(f"loop: moves to silence: median {np.median(moves):g}, 95th percentile {np.quantile(moves, 0.95):g}")
    print(f"loop: said done while noisy: {sum(r.said_done and not r.quiet for r in results)};"
          f" silent but not said done: {sum(r.quiet and not r.said_done for r in results)}")
    print(f"loop: draws where a move made the emergency carry flow: {sum(r.move_made_emergency for r in results)}")
    print(f"loop: longest time to think of a move: median {np.median([r.think_s for r in results]):.2f} s CPU")
    print("  not silent: " + (", ".join(str(r.seed) for r in results if not r.quiet) or "none"))
