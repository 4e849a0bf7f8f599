"""The coach through the microphone: noisy rehearsal draws tuned by its moves, under easy and under hard terms.

    python -m tests.bench.coach --draws 500 --recordings DIR

Terms: as described; with the room measured before (the others have no floor); under household sound (needs
``--recordings``, a labelled folder as the training takes it, of which only the half that fitted nothing is played);
with a description whose every measure is off by up to 20 %; with none; by a hand whose moves are off by up to 15 %
beside its usual error, on a valve with its free play; and with a keeper who agrees, once it is silent, that the edges
of the quiet be looked for (the others leave every question open, but with ``--looks`` the keeper of all terms looks
when asked, ``looking``). At last the causes that no valve mends: was the right instruction the first one, with nothing
turned before, and is anything turned after it where the keeper cannot follow it? Ctrl-C reports on the draws that are
done. Thresholds are set on seeds below 100000. With perfect hearing: ``python -m tests.bench.coach_oracle``.
On an overflow that shares nothing with the rehearsal: ``python -m tests.bench.coach_another_rig``.
"""

from __future__ import annotations

import argparse
import signal
import sys
import time
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np

import tuner
from tests.bench.coach_oracle import bears, off_centre, off_middle, wrong
from tests.bench.household import clips_apart
from tests.bench.looking import looking, next_step
from tuner.coach.instructions import INSTRUCTIONS
from tuner.coach.outlook import Settings, outlook
from tuner.rehearsal.cases import draw_case, draw_noisy
from tuner.rehearsal.rehearsal import Rehearsal
from tuner.signatures.listener import measure_floor
from tuner.terms import CauseName, Step
from tuner.training.evening import LEVELS_DB, evening

HEARD_S = 20.0
FLOOR_S = 60.0
RATE = 48000
MOST_MOVES = 25
MOST_LISTENS = 100
LEFT_UNDONE = 8
UNSTEADY = 0.15
HOUSEHOLD_S = 420.0  # then it begins again
BAND = (0.05, 0.95)
UNMENDABLE: tuple[CauseName, ...] = tuple(INSTRUCTIONS)


@dataclass(frozen=True)
class Terms:
    """Under which terms a draw is tuned: ``rig`` is "given", "wrong" or "none".

    ``agrees`` tells of a keeper who lets the edges of the quiet be looked for, ``looks`` of one who looks when asked.
    """

    name: str
    rig: str = "given"
    unsteady: bool = False
    floor: bool = False
    agrees: bool = False
    looks: bool = False
    recordings: Path | None = None


HOUSEHOLD = f"household sound at {LEVELS_DB[0]:g}-{LEVELS_DB[1]:g} dB(A)"
TERMS = (
    Terms("plain"), Terms("measured room", floor=True), Terms(HOUSEHOLD), Terms("wrong description", rig="wrong"),
    Terms("no description", rig="none"), Terms("unsteady hand", unsteady=True), Terms("agreeing keeper", agrees=True),
)


@dataclass(frozen=True)
class Outcome:
    """How one draw went; ``to_silence`` counts the moves after which it was first quiet, None if it never was.

    ``off_centre`` is the distance from midway between the flows at which it is heard, ``off_middle`` that from the
    rehearsal's own tuned setting. ``band_first`` and ``band_last`` tell whether the true mismatch lay in the belief's
    90 % band.
    """

    seed: int
    moves: int
    to_silence: int | None
    quiet: bool
    said_done: bool
    made_emergency: bool
    think_s: float
    off_middle: float
    off_centre: float
    bears: bool
    band_first: bool
    band_last: bool
    cpu_s: float


def noisy(seed: int, terms: Terms) -> Rehearsal:
    """Draw the installation of a seed, with household sound where the terms have it."""
    if terms.recordings is None:
        return draw_noisy(seed, sample_rate=RATE)
    rng = np.random.default_rng([seed, 77])
    sound = evening(rng, clips_apart(terms.recordings, RATE), RATE, HOUSEHOLD_S)
    return draw_noisy(seed, sample_rate=RATE, household=sound, household_db=float(rng.uniform(*LEVELS_DB)))


def by_hand(rehearsal: Rehearsal, coach: tuner.Coach, step: Step) -> float:
    """Return what a keeper turns: of a ball valve that nobody described, turns are taken as a share of its travel."""
    kind = rehearsal.installation.plumbing.valve_kind
    if step.control != "siphon valve" or kind == "gate" or step.unit == "degree":
        return step.amount
    return step.amount / coach.rig.siphon.valve.full * float(rehearsal.installation.plumbing.valve_full)


def in_band(coach: tuner.Coach, rehearsal: Rehearsal) -> bool:
    """Tell whether the true mismatch, by the water model on the true plumbing, lies in the belief's 90 % band."""
    s = rehearsal.truth.settings
    true = outlook(
        rehearsal.installation.plumbing, Settings(np.array(s.valve), np.array(s.vent), tuple(map(np.array, s.speeds)))
    )
    believed, weights = coach._belief.outlook(), coach._belief.weights
    mismatch = believed.supply - believed.siphon
    order = np.argsort(mismatch)
    low, high = mismatch[order][np.searchsorted(np.cumsum(weights[order]), BAND)]
    return bool(low <= float(true.supply - true.siphon) <= high)


def one(seed: int, terms: Terms) -> Outcome:
    """Tune one draw and return how it went."""
    begun = time.process_time()
    rehearsal = noisy(seed, terms)
    rng = np.random.default_rng([seed, 78])
    floor = measure_floor(rehearsal.floor(FLOOR_S), RATE) if terms.floor else None
    look = looking(seed, rehearsal) if terms.looks else None
    coach = tuner.Coach({"given": rehearsal.rig, "wrong": wrong(rehearsal.rig), "none": None}[terms.rig], floor)
    moves, done, think_s, made, to_silence = 0, False, 0.0, False, None
    band_first: bool | None = None
    for _ in range(MOST_LISTENS):
        coach.hear(rehearsal.listen(HEARD_S), RATE)
        thinking = time.process_time()
        step = next_step(coach, look, agrees=terms.agrees)
        think_s = max(think_s, time.process_time() - thinking)
        band_first = in_band(coach, rehearsal) if band_first is None else band_first
        if step is None:
            done = True
            break
        if step.amount:
            if moves >= MOST_MOVES:
                break
            before = rehearsal.truth.emergency_ever_carried
            off = 1.0 + float(rng.uniform(-UNSTEADY, UNSTEADY)) if terms.unsteady else 1.0
            rehearsal.move(step.control, by_hand(rehearsal, coach, step) * off)
            moves += 1
            rehearsal.wait(step.wait_s)
            made |= rehearsal.truth.emergency_ever_carried and not before
            if to_silence is None and rehearsal.truth.is_quiet():
                to_silence = moves
        else:
            rehearsal.wait(step.wait_s)
        coach.did(step)
    return Outcome(
        seed, moves, to_silence, rehearsal.truth.is_quiet(), done, made, think_s, off_middle(rehearsal),
        off_centre(rehearsal), bears(rehearsal), bool(band_first), in_band(coach, rehearsal),
        time.process_time() - begun,
    )


@dataclass(frozen=True)
class Unmended:
    """How a case of a cause that no valve mends went.

    ``first`` tells that the right instruction came first with nothing turned, ``came`` that it came at all, ``said``
    what came first; ``turned`` counts the moves in ``LEFT_UNDONE`` listenings after it by a keeper who cannot follow
    it.
    """

    cause: CauseName
    first: bool
    came: bool
    said: str
    turned: int


def told(case: tuple[CauseName, int], *, looks: bool) -> Unmended:
    """Listen until the instruction comes, at most six times, and then on, with nothing done about it."""
    cause, seed = case
    rehearsal = draw_case(cause, seed, sample_rate=RATE)
    coach, look = tuner.Coach(rehearsal.rig), looking(seed, rehearsal) if looks else None
    right, first, came, turned, left = INSTRUCTIONS[cause][1], "", False, 0, 6
    while left:
        coach.hear(rehearsal.listen(HEARD_S), RATE)
        step = next_step(coach, look)
        left -= 1
        if step is None:
            break
        if step.amount:
            first = first or f"{step.control} {step.amount:+g}"
            rehearsal.move(step.control, step.amount)
            turned += came
        elif step.wait_s or step.why in {text for _, text in INSTRUCTIONS.values()}:
            first = first or step.why
            left = LEFT_UNDONE if step.why == right and not came else left
            came |= step.why == right
        rehearsal.wait(step.wait_s)
        coach.did(step)
    return Unmended(cause, first == right, came, first, turned)


def done_of(results: Iterable[Outcome], draws: int) -> tuple[list[Outcome], bool]:
    """Return the outcomes as far as they came, and whether all came; shows how far it is."""
    done: list[Outcome] = []
    try:
        for result in results:
            done.append(result)
            print(f"\r{len(done)} of {draws} draws, {sum(r.quiet for r in done)} silent ", end="", file=sys.stderr)
    except KeyboardInterrupt:
        return done, False
    finally:
        print(file=sys.stderr)
    return done, True


def report(terms: Terms, results: list[Outcome]) -> None:
    """Print the figures of one set of terms."""
    n = len(results)
    quiet = np.array([r.quiet for r in results])
    moves = np.array([r.moves for r in results])
    reached = [r.to_silence for r in results if r.to_silence is not None]
    print(f"{terms.name}, {n} draws from seed {results[0].seed}")
    print(f"  silent at the end, within {MOST_MOVES} moves: {quiet.sum()} of {n} ({quiet.mean():.1%})")
    print(f"  moves in all: median {np.median(moves):g}, 95th percentile {np.percentile(moves, 95):g}; to the first"
          + (f" silence: {np.median(reached):g}, {np.percentile(reached, 95):g}" if reached else " silence: none"))
    print(f"  still silent at +-3 % of flow: {np.mean([r.bears for r in results]):.1%};"
          + (f" distance from mid-window {np.median([r.off_centre for r in results if r.quiet]):.2f} of the half"
             f" width (from the rehearsal's own setting {np.median([r.off_middle for r in results if r.quiet]):.2f})"
             if quiet.any() else ""))
    print(f"  emergency made to carry flow by a move: {sum(r.made_emergency for r in results)}"
          f" {[r.seed for r in results if r.made_emergency]}")
    print(f"  said done while noisy: {sum(r.said_done and not r.quiet for r in results)}; silent but not said done:"
          f" {sum(r.quiet and not r.said_done for r in results)}")
    print(f"  true mismatch in the belief's 90 % band: {np.mean([r.band_first for r in results]):.1%} after the first"
          f" listening, {np.mean([r.band_last for r in results]):.1%} at the end")
    print(f"  slowest thought: {max(r.think_s for r in results):.2f} s CPU; median of draws"
          f" {np.median([r.think_s for r in results]):.2f} s; {np.mean([r.cpu_s for r in results]):.1f} s CPU a draw")
    print(f"  not silent: {[r.seed for r in results if not r.quiet]}", flush=True)


def run(
    draws: int, workers: int, first_seed: int, recordings: Path | None = None, names: tuple[str, ...] = (),
    *, looks: bool = False,
) -> None:
    """Print the figures under all terms, or under those of ``names``."""
    every = [replace(terms, recordings=recordings if terms.name == HOUSEHOLD else None, looks=looks) for terms in TERMS]
    if looks:
        print("coach: the keeper looks when asked")
    if recordings is None:
        print("coach: left out: under household sound (no --recordings)")
        every = [terms for terms in every if terms.name != HOUSEHOLD]
    wanted = [terms for terms in every if not names or terms.name.split()[0] in names]
    # an interrupt is for the parent, which reports what it has; the workers end with the draw at hand
    with ProcessPoolExecutor(workers, initializer=signal.signal, initargs=(signal.SIGINT, signal.SIG_IGN)) as pool:
        for terms in wanted:
            results, whole = done_of(pool.map(partial(one, terms=terms), range(first_seed, first_seed + draws)), draws)
            if results:
                report(terms, results)
            if not whole:
                pool.shutdown(wait=False, cancel_futures=True)
                return
        if names and "unmendable" not in names:
            return
        each = max(1, draws // len(UNMENDABLE))
        cases = [(cause, seed) for cause in UNMENDABLE for seed in range(first_seed, first_seed + each)]
        results = list(pool.map(partial(told, looks=looks), cases))
    turned = [r.turned for r in results if r.came]
    print(f"causes that no valve mends, {each} draws of each from seed {first_seed}: the right instruction first"
          f" {np.mean([r.first for r in results]):.1%}, within six listenings {np.mean([r.came for r in results]):.1%};"
          f" moves in {LEFT_UNDONE} listenings after it, nothing done about it: mean {np.mean(turned or [0]):.1f}, most"
          f" {max(turned, default=0)}")
    for cause in UNMENDABLE:
        own = [r for r in results if r.cause == cause]
        print(f"  {cause}: first {sum(r.first for r in own)}, in all {sum(r.came for r in own)} of {len(own)};"
              f" then moves {[r.turned for r in own if r.came]};"
              f" else first said: {sorted({r.said[:60] for r in own if not r.first})[:4]}")


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--draws", type=int, default=500)
    ask.add_argument("--workers", type=int, default=2)
    ask.add_argument("--first-seed", type=int, default=100_000)
    ask.add_argument("--recordings", type=Path)
    ask.add_argument("--terms", nargs="*", default=(), metavar="WORD",
                     choices=[*(t.name.split()[0] for t in TERMS), "unmendable", ()],
                     help="first words of the terms wanted (default: all)")
    ask.add_argument("--looks", action="store_true", help="a keeper who looks when asked")
    told_args = ask.parse_args()
    run(
        told_args.draws, told_args.workers, told_args.first_seed, told_args.recordings, tuple(told_args.terms),
        looks=told_args.looks,
    )


if __name__ == "__main__":
    main()
