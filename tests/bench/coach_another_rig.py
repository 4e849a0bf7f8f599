"""The coach on another rig: noisy draws of an overflow that shares nothing with the project's water and voices.

    python -m tests.bench.coach_another_rig --draws 100 --first-seed 0 --workers 2 [--why]
                                            [--floor | --perfect | --coarse] [--looks]

Driven through the public seam only; every question stays open, unless a keeper looks (``--looks``, ``looking``). One
line a draw, and a summary. The truth at the end is what would be audible within ten minutes if nothing were touched. A
move counts as having made the emergency carry water where that carries clearly more after the move, while it is waited
for or soon after, than it would have without.
``--floor`` measures the room with the pumps off first; with ``--perfect`` the coach is told what is truly audible and
no sound is rendered, which leaves the water model alone on trial; with ``--coarse`` part of it is taken for something
else (``coarse_ears``), which tries how well the coach bears that; ``--why`` prints each listening with its step. A draw
on which the program fails is printed with its error and fails the bench. No threshold is set on these draws.
"""

from __future__ import annotations

import argparse
import signal
import sys
import traceback
from collections import Counter
from collections.abc import Callable, Collection, Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial

import numpy as np

import tuner
from tests.bench.another_rig.hydraulics import LITRES_AN_HOUR
from tests.bench.another_rig.plant import Plant
from tests.bench.another_rig.truth import AUDIBLE_S, UNDER_ROOM_DB
from tests.bench.another_rig.water import STEP_S
from tests.bench.coarse_ears import CoarseEars
from tests.bench.looking import LOOK_S, Eyes, Sight
from tests.bench.perfect_ears import perfect_reading

RATE = 48000
HEARD_S = 20.0
FLOOR_S = 30.0
AHEAD_S = 300.0  # of the truth on the way
END_S = 600.0
AFTER_S = 30.0  # beyond a step's wait
MOST_MOVES = 25
MOST_LISTENS = 100
MOST_QUESTIONS = 8
FLOWS = (1.03, 0.97)
MORE_SHARE, MORE_L_H = 1.1, 10.0  # what an emergency carries clearly more


@dataclass(frozen=True)
class Outcome:
    """How one draw went; kinds are what was truly audible, ``spills_l_h`` the emergency's flow by each such move."""

    seed: int
    fault: str
    start: str
    end: str
    plain: str
    at_flows: tuple[str, ...]
    moves: int
    said_done: bool
    spills_l_h: tuple[float, ...]
    off_middle: float
    log: tuple[str, ...]

    @property
    def silent(self) -> bool:
        return self.end == names(())

    @property
    def plainly_silent(self) -> bool:
        return self.plain == names(())

    @property
    def bears(self) -> bool:
        return self.silent and all(kinds == names(()) for kinds in self.at_flows)


@dataclass(frozen=True)
class Failure:
    seed: int
    error: str


def names(kinds: Collection[str]) -> str:
    return "+".join(sorted(kinds)) or "silent"


class Tuning:
    """One draw tuned by the coach's moves."""

    def __init__(self, seed: int, *, floor: bool, perfect: bool, coarse: bool, looks: bool, why: bool) -> None:
        self.plant = Plant(seed)
        self.told, self.why = perfect or coarse, why
        self.ears = CoarseEars(seed) if coarse else None
        self.eyes = Eyes(seed) if looks else None
        self.log: list[str] = []
        self.moves = 0
        self.said_done = False
        self.spills_l_h: list[float] = []
        self.start = names(self.plant.audible(self.plant.peek(AHEAD_S)))
        self._note(self._described)
        measured = tuner.measure_floor(self.plant.room(FLOOR_S, RATE), RATE) if floor else None
        self.coach = tuner.Coach(self.plant.rig, floor=measured)

    def tune(self) -> Outcome:
        """Follow the coach until it says done or the moves are used up, and look at what was reached."""
        for _ in range(MOST_LISTENS):
            if self.moves >= MOST_MOVES:
                break
            step = self._listen()
            if step is None:
                self.said_done = True
                break
            if isinstance(step, tuner.Question):
                break  # asked the same again and again
            self._do(step)
        plant = self.plant
        end = plant.peek(END_S)
        low, high = plant.quiet_window()
        half = (high - low) / 2
        off = abs(plant.water.capacity_share() - (low + half)) / half
        self._note(lambda: f"  end: {plant.how_much(end) or 'silent'}; {self._settings()}")
        twins = [plant.with_flow(factor) for factor in FLOWS]
        return Outcome(
            plant.seed, plant.fault, self.start, names(plant.audible(end)), names(plant.plainly_audible(end)),
            tuple(names(twin.audible(twin.peek(END_S))) for twin in twins), self.moves, self.said_done,
            tuple(self.spills_l_h), off, tuple(self.log),
        )

    def _listen(self) -> tuner.Step | tuner.Question | None:
        plant, coach, began_s = self.plant, self.coach, self.plant.water.elapsed_s
        sounding = names(plant.audible(plant.peek(HEARD_S))) if self.why else ""
        heard = coach.hear_reading(self._truly()) if self.told else coach.hear(plant.listen(HEARD_S, RATE), RATE)
        step = coach.advise()
        for _ in range(MOST_QUESTIONS):
            if not isinstance(step, tuner.Question):
                break
            coach.look(step.id, self._seen(step))
            step = coach.advise()
        self._note(lambda: f"  {began_s:6.0f} s, {self._settings()}; truly {sounding}, within {AHEAD_S:.0f} s"
                           f" {names(plant.audible(plant.peek(AHEAD_S)))}; {_told(heard)} -> {_said(step)}")
        return step

    def _seen(self, question: tuner.Question) -> str | None:
        """Return what a keeper who looks answers; None from one who does not."""
        answer = self.eyes.answer(question, sight_of(self.plant)) if self.eyes else None
        if answer is not None:
            self._note(lambda: f"    {question.id}: {answer}")
        return answer

    def _truly(self) -> tuner.Reading:
        """Return what perfect, or coarse, ears make of the next window."""
        over_db, level_dba = self.plant.sounding(HEARD_S)
        heard = {
            kind: (over > 0.0, float(10 * np.log10(np.mean(10 ** (over[over > 0.0] / 10)))))
            for kind, over in over_db.items() if (over > 0.0).sum() * STEP_S >= AUDIBLE_S
        }
        if not self.ears:
            return perfect_reading(heard, STEP_S, HEARD_S, level_dba)
        over_room = {kind: (active, over - UNDER_ROOM_DB) for kind, (active, over) in heard.items()}
        return self.ears.reading(over_room, STEP_S, HEARD_S, level_dba)

    def _do(self, step: tuner.Step) -> None:
        """Take the step, and tell whether the emergency carries water because of it."""
        plant, ahead_s = self.plant, step.wait_s + AFTER_S
        untouched_l_h = plant.peek(ahead_s).emergency_m3_s.max() * LITRES_AN_HOUR
        went = plant.move(step.control, step.amount, step.unit) if step.amount else 0.0
        self.coach.did(step)
        if step.amount:
            self.moves += 1
        if abs(went) < 0.3 * abs(step.amount):
            self._note(lambda: f"    could not be done: went {went:+.3g} {step.unit}")
        foreseen = plant.peek(ahead_s).emergency_m3_s.max()
        most_l_h = float(max(foreseen, plant.wait(step.wait_s))) * LITRES_AN_HOUR
        if step.amount and most_l_h > max(untouched_l_h * MORE_SHARE, untouched_l_h + MORE_L_H):
            self.spills_l_h.append(most_l_h)
            self._note(lambda: f"    the emergency carries {most_l_h:.0f} L/h, else {untouched_l_h:.0f} L/h")

    def _settings(self) -> str:
        low, high = self.plant.quiet_window()
        share = self.plant.water.capacity_share()
        return f"siphon {share:.3f} (quiet {low:.3f} to {high:.3f}), vent {self.plant.water.vent:.2f}"

    def _described(self) -> str:
        built, valve = self.plant.installation, self.plant.water.valve
        return (
            f"draw {self.plant.seed}: {self.plant.fault}; {built.flow_m3_s * LITRES_AN_HOUR:.0f} L/h,"
            f" {valve.kind} valve {valve.handle:.2f} of {valve.full:g}, pump"
            f" {'variable' if built.line.variable else 'fixed'}; {self._settings()} (quiet {built.vent_quiet:.2f} to"
            f" {built.vent_torn:.2f}); room {self.plant.sounds.room.level_dba:.0f} dB(A); truly {self.start}"
        )

    def _note(self, line: Callable[[], str]) -> None:
        if self.why:
            self.log.append(line())


def _told(heard: tuner.Diagnosis) -> str:
    cause = f"{heard.causes[0].name} {heard.causes[0].probability:.0%}" if heard.causes else "no cause"
    return f"heard {names({s.kind for s in heard.sounds})}, called {'silent' if heard.silent else 'noisy'}, {cause}"


def _said(step: tuner.Step | tuner.Question | None) -> str:
    if step is None:
        return "done"
    if isinstance(step, tuner.Question):
        return f"asks again: {step.text}"
    return f"{step.control} {step.amount:+.3g} {step.unit}, wait {step.wait_s:.0f} s: {step.why}"


def sight_of(plant: Plant) -> Sight:
    """Return what there is to see at the overflow, with nothing touched."""
    built, course = plant.installation, plant.peek(LOOK_S)
    box = built.box
    level_m = box.weir_m - course.weir_drop_m
    return Sight(
        level_m - box.crest_m, STEP_S, built.channel.diameter_m, box.siphon_inlet_m - box.crest_m,
        emergency=bool((course.emergency_m3_s > 0.0).any()),
        siphon_bubbles="in surges" if course.gulping.any() else "none",
        splash="box" if "splash" in plant.audible(course) else "neither",
    )


def one(seed: int, *, floor: bool, perfect: bool, coarse: bool, looks: bool, why: bool) -> Outcome | Failure:
    """Tune one draw; that the program fails on it is a result too, and the other draws go on."""
    try:
        return Tuning(seed, floor=floor, perfect=perfect, coarse=coarse, looks=looks, why=why).tune()
    except Exception:
        return Failure(seed, traceback.format_exc())


def head() -> str:
    return (
        f"{'seed':>6} {'fault':<17} {'truth at the start':<24} {'at the end':<14} moves silent {'plainly':<14}"
        f" done-audible {'at +3 %':<14} {'at -3 %':<14} spilling-moves largest-L/h"
    )


def line(r: Outcome) -> str:
    silent, wrongly = ("yes" if r.silent else "no"), ("yes" if r.said_done and not r.silent else "no")
    more, less = r.at_flows
    return (
        f"{r.seed:6d} {r.fault:<17} {r.start:<24} {r.end:<14} {r.moves:5d} {silent:<6} {r.plain:<14}"
        f" {wrongly:<12} {more:<14} {less:<14} {len(r.spills_l_h):14d} {max(r.spills_l_h, default=0.0):11.0f}"
    )


def report(results: list[Outcome]) -> None:
    """Print the figures over all draws."""
    n = len(results)
    moves = [r.moves for r in results]
    faults = Counter(r.fault for r in results)
    by_fault = (f"{f} {sum(r.silent for r in results if r.fault == f)} of {c}" for f, c in sorted(faults.items()))
    print(f"{n} draws of another rig from seed {results[0].seed}, within {MOST_MOVES} moves")
    print(f"  silent at the end: {sum(r.silent for r in results)} of {n}; {', '.join(by_fault)}")
    print(f"  nothing plainly audible: {sum(r.plainly_silent for r in results)}")
    print(f"  moves: median {np.median(moves):g}, 95th percentile {np.percentile(moves, 95):g}")
    print(f"  still silent at +-3 % of flow: {sum(r.bears for r in results)}")
    print(f"  emergency made to carry flow by a move: {sum(bool(r.spills_l_h) for r in results)}"
          f" {[r.seed for r in results if r.spills_l_h]}")
    print(f"  said done while plainly audible: {sum(r.said_done and not r.plainly_silent for r in results)}; while"
          f" audible at all: {sum(r.said_done and not r.silent for r in results)}; silent but not said done:"
          f" {sum(r.silent and not r.said_done for r in results)}")
    print(f"  distance from mid-window: median {np.median([r.off_middle for r in results]):.2f} of the half width",
          flush=True)


def follow(results: Iterable[Outcome | Failure]) -> tuple[list[Outcome], int]:
    """Print each draw as it comes, and return the outcomes and how many failed; Ctrl-C ends with those at hand."""
    done: list[Outcome] = []
    failed = 0
    try:
        for r in results:
            if isinstance(r, Failure):
                failed += 1
                print(f"{r.seed:6d} failed\n{r.error}", flush=True)
                continue
            done.append(r)
            print("\n".join((*r.log, line(r))), flush=True)
    except KeyboardInterrupt:
        print("interrupted", file=sys.stderr)
    return done, failed


def run(
    draws: int, workers: int, first_seed: int, *, floor: bool = False, perfect: bool = False, coarse: bool = False,
    looks: bool = False, why: bool = False,
) -> int:
    """Print a line a draw and the summary; return how many draws failed."""
    print(head(), flush=True)
    # an interrupt is for the parent, which reports what it has; the workers end with the draw at hand
    with ProcessPoolExecutor(workers, initializer=signal.signal, initargs=(signal.SIGINT, signal.SIG_IGN)) as pool:
        seeds = range(first_seed, first_seed + draws)
        by = partial(one, floor=floor, perfect=perfect, coarse=coarse, looks=looks, why=why)
        done, failed = follow(pool.map(by, seeds))
        if done:
            report(done)
        if failed:
            print(f"  failed: {failed}", flush=True)
        pool.shutdown(wait=False, cancel_futures=True)
    return failed


def main() -> int:
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--draws", type=int, default=100)
    ask.add_argument("--first-seed", type=int, default=0)
    ask.add_argument("--workers", type=int, default=2)
    ask.add_argument("--floor", action="store_true", help="measure the room with the pumps off first")
    ask.add_argument("--perfect", action="store_true", help="tell the coach what is truly audible")
    ask.add_argument("--coarse", action="store_true", help="the same, part of it taken for something else")
    ask.add_argument("--looks", action="store_true", help="a keeper who looks when asked")
    ask.add_argument("--why", action="store_true", help="print each listening with its step")
    told = ask.parse_args()
    if told.floor + told.perfect + told.coarse > 1:
        ask.error("--perfect and --coarse listen otherwise than by ear, and --floor measures by ear: give one of them")
    failed = run(
        told.draws, told.workers, told.first_seed, floor=told.floor, perfect=told.perfect,
        coarse=told.coarse, looks=told.looks, why=told.why
    )
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
