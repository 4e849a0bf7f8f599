"""Closed loop of the coach with perfect hearing: what the tuning costs when the ears make no mistake.

    python -m tests.bench.coach_oracle --first-seed 100000 --draws 200

Draws noisy installations and lets the coach tune them; readings are made from the plant's state, no sound is
rendered. With ``--coarse`` part of it is taken for something else (``coarse_ears``), with ``--looks`` questions are
answered (``looking``). With ``--cause`` every draw has that one cause instead, and the instruction that ends it is
shown.
Thresholds are set on seeds below 100000; figures are reported on seeds from 100000 on.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import dataclass, replace

import numpy as np

from tests.bench.coarse_ears import CoarseEars
from tests.bench.looking import looking, next_step
from tests.bench.perfect_ears import perfect_reading
from tuner.coach import Coach
from tuner.rehearsal.cases import draw_case, draw_noisy
from tuner.rehearsal.drives import SPOTS, drives_of
from tuner.rehearsal.rehearsal import Rehearsal
from tuner.rig import Rig
from tuner.terms import Question, Reading, SoundKind

WINDOW_S = 25.0
MOST_MOVES = 25
AUDIBLE = 0.12  # drive from which perfect ears hear a voice
HEALTHY_HUM = 0.2
STEP_S = 0.05
FLOW_CHANGE = 0.03
MOST_MARGIN, MARGIN_STEP = 0.16, 0.0025
SAMPLE_RATE = 16000


@dataclass
class Outcome:
    """How one draw went."""

    seed: int
    moves: int
    steps: int
    silent: bool
    audible: bool
    roared: bool
    off_middle: float
    off_centre: float
    bears: bool
    slowest_s: float
    first_cause: str
    true_causes: frozenset[str]
    last_text: str


def reading_of(rehearsal: Rehearsal, seconds: float, coarse: CoarseEars | None = None) -> Reading:
    """Listen with perfect ears, or coarse ones: which voices sound, for which share of the time, how often."""
    drives = drives_of(rehearsal.installation, rehearsal.plant.advance(round(seconds / STEP_S)))
    by_kind: dict[SoundKind, np.ndarray] = {}
    for spot, drive in drives.items():
        kind = SPOTS[spot]
        by_kind[kind] = np.maximum(by_kind.get(kind, 0.0), drive)
    heard = {}
    for kind, drive in by_kind.items():
        active = drive > (HEALTHY_HUM if kind == "hum" else AUDIBLE)
        if active.any():
            heard[kind] = active, 25.0 + 20 * float(np.log10(drive[active].mean()))
    power = 1.0 + sum(float(active.mean()) * 10 ** (over_db / 10) for active, over_db in heard.values())
    level_db = -70.0 + 10 * float(np.log10(power))
    if coarse:
        return coarse.reading(heard, STEP_S, seconds, level_db)
    crackle = 0.9 if any(drives[s].max() > 0 for s in ("pump air crackle", "return air crackle")) else 0.05
    return perfect_reading(heard, STEP_S, seconds, level_db, {"crackle": crackle})


def off_middle(rehearsal: Rehearsal) -> float:
    """Return the distance from the rehearsal's own tuned setting, as a share of the way to the edge on that side.

    Gurgle and slurp bound that window: where a tap stands too wide or too narrow, the quiet one is smaller.
    """
    w, valve = rehearsal.truth.window, rehearsal.plant.settings.valve
    half = w.middle - w.gurgle_edge if valve < w.middle else w.slurp_edge - w.middle
    return abs(valve - w.middle) / max(half, 1e-9)


def audible(rehearsal: Rehearsal) -> bool:
    """Tell whether perfect ears would hear anything of the drains within the next three minutes."""
    drives = drives_of(rehearsal.installation, rehearsal.plant.fork().advance(round(180.0 / STEP_S)))
    return any(d.max() > AUDIBLE for spot, d in drives.items() if spot not in ("pump hum", "pump rattle"))


def stays_quiet(rehearsal: Rehearsal, change: float) -> bool:
    """Tell whether it stays quiet when the flow changes by this share."""
    plant = rehearsal.plant.fork()
    plant._target_m3_s *= 1 + change
    plant.advance(round(240.0 / STEP_S))
    drives = drives_of(rehearsal.installation, plant.advance(round(120.0 / STEP_S)))
    return not any(d.max() > AUDIBLE for spot, d in drives.items() if spot != "pump hum")


def bears(rehearsal: Rehearsal) -> bool:
    """Tell whether it stays quiet with 3 % more and with 3 % less flow."""
    return stays_quiet(rehearsal, -FLOW_CHANGE) and stays_quiet(rehearsal, FLOW_CHANGE)


def margin(rehearsal: Rehearsal, way: int) -> float:
    """Return by which share the flow may change one way (-1 or 1) until it is heard, to 0.25 %, at most 0.16."""
    low, high = 0.0, 0.02
    while high < MOST_MARGIN and stays_quiet(rehearsal, way * high):
        low, high = high, 2 * high
    while high - low > MARGIN_STEP:
        middle = (low + high) / 2
        low, high = (middle, high) if stays_quiet(rehearsal, way * middle) else (low, middle)
    return (low + high) / 2


def off_centre(rehearsal: Rehearsal) -> float:
    """Return how far it stands from midway between the flows at which it is heard, as a share of half the way."""
    less, more = margin(rehearsal, -1), margin(rehearsal, 1)
    return abs(more - less) / (more + less)


def wrong(rig: Rig) -> Rig:
    """Return the description with every measure off by up to 20 %."""
    rng = np.random.default_rng(7)

    def off(part, names):
        return replace(part, **{n: getattr(part, n) * (1 + rng.uniform(-0.2, 0.2)) for n in names})

    return replace(
        rig, box=off(rig.box, ("length_m", "width_m")),
        siphon=off(rig.siphon, ("inner_diameter_m", "drop_m", "run_m", "inlet_diameter_m")),
        channel=off(rig.channel, ("inner_diameter_m", "drop_m", "run_m", "vent_hole_m")),
        pumps=tuple(off(p, ("flow_m3_s", "head_m")) for p in rig.pumps),
        returns=off(rig.returns, ("static_head_m", "line_diameter_m", "line_run_m")),
    )


def tune(seed: int, *, cause: str | None, rig: str, coarse: bool, looks: bool, talk: bool) -> Outcome:
    """Let the coach tune one draw."""
    bench = draw_case(cause, seed, sample_rate=SAMPLE_RATE) if cause else draw_noisy(seed, sample_rate=SAMPLE_RATE)
    coach = Coach({"given": bench.rig, "none": None, "wrong": wrong(bench.rig)}[rig])
    true_causes, ears = bench.truth.causes, CoarseEars(seed) if coarse else None
    keeper = looking(seed, bench) if looks else None

    def look(question: Question) -> str | None:
        answer = keeper(question) if keeper else None
        if talk:
            print(f"   {question.id}? {answer}")
        return answer

    bench.plant.ever_emergency = False
    moves, steps, slowest, roared, first, text = 0, 0, 0.0, False, "", ""
    while True:
        reading = reading_of(bench, WINDOW_S, ears)
        began = time.perf_counter()
        diagnosis = coach.hear_reading(reading)
        coach.advise()
        slowest = max(slowest, time.perf_counter() - began)
        first = first or (diagnosis.causes[0].name if diagnosis.causes else "silent")
        step = next_step(coach, look)
        if talk:
            heard = {h.kind: (round(h.share, 2), round(h.excess_db), h.period_s and round(h.period_s, 1))
                     for h in reading.heard}
            s, w = bench.plant.settings, bench.truth.window
            b = coach.summary()
            print(f"   valve {s.valve:.3f} [{w.gurgle_edge:.3f} {w.middle:.3f} {w.film_edge:.3f} {w.slurp_edge:.3f}] "
                  f"vent {s.vent:.3f} {heard} "
                  f"{[(c.name, round(c.probability, 2)) for c in diagnosis.causes[:2]]}\n      "
                  f"{coach.outcome} margins {b.less_flow} {b.more_flow} -> "
                  f"{'end' if step is None else (step.control, step.amount, step.wait_s, step.why, step.expect)}")
        if step is None or moves >= MOST_MOVES or steps > 4 * MOST_MOVES:
            break
        text = step.why
        wet = bench.plant.ever_emergency
        if step.amount:
            bench.move(step.control, step.amount)
        coach.did(step)
        moves, steps = moves + (step.amount != 0), steps + 1
        bench.plant.ever_emergency = False
        bench.wait(step.wait_s)
        roared = roared or (bench.plant.ever_emergency and not wet and step.amount != 0)
    bench.wait(60.0)
    out = Outcome(
        seed, moves, steps, bench.truth.is_quiet(), audible(bench), roared, off_middle(bench),
        off_centre(bench), bears(bench), slowest, first, true_causes, text,
    )
    if talk:
        print(f"--- seed {seed} {sorted(true_causes)} silent={out.silent} moves={moves} steps={steps} roared={roared} "
              f"off={out.off_middle:.2f} bears={out.bears} {bench.installation.plumbing.valve_kind} | "
              f"{coach.summary().text}\n")
    return out


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--first-seed", type=int, dest="first", default=100000)
    ask.add_argument("--draws", type=int, default=200)
    ask.add_argument("--cause", default=None)
    ask.add_argument("--rig", choices=("given", "none", "wrong"), default="given")
    ask.add_argument("--coarse", action="store_true", help="ears to which these sounds are new")
    ask.add_argument("--looks", action="store_true", help="a keeper who looks when asked")
    ask.add_argument("--talk", action="store_true")
    told = ask.parse_args()
    began = time.perf_counter()
    outcomes = [
        tune(seed, cause=told.cause, rig=told.rig, coarse=told.coarse, looks=told.looks, talk=told.talk)
        for seed in range(told.first, told.first + told.draws)
    ]
    moves = np.array([o.moves for o in outcomes])
    silent = np.array([o.silent for o in outcomes])
    hearing = "coarse" if told.coarse else "perfect"
    print(f"{len(outcomes)} draws from seed {told.first}, {told.cause or 'noisy'}, rig {told.rig}, {hearing} hearing")
    print(f"silent within {MOST_MOVES} moves: {silent.mean():.1%}; moves median {np.median(moves):g}, 95th percentile "
          f"{np.percentile(moves, 95):g}; with listening again {np.mean([o.steps for o in outcomes]):.1f} steps")
    print(f"nothing that perfect ears would hear: {np.mean([not o.audible for o in outcomes]):.1%}; heard in "
          f"{[o.seed for o in outcomes if o.audible]}")
    print(f"emergency made to carry flow by a move: {[o.seed for o in outcomes if o.roared]}")
    off = np.array([o.off_middle for o in outcomes])[silent]
    centre = np.array([o.off_centre for o in outcomes])[silent]
    middle = f"{np.median(centre):.2f}; from the rehearsal's setting {np.median(off):.2f}" if off.size else "not known"
    print(f"distance from mid-window (share of half width) median {middle}; quiet at +-3 % of flow "
          f"{np.mean([o.bears for o in outcomes]):.1%}; slowest thought {max(o.slowest_s for o in outcomes):.2f} s; "
          f"{time.perf_counter() - began:.0f} s in all")
    print(f"first cause among the true ones: {np.mean([o.first_cause in o.true_causes for o in outcomes]):.1%}")
    print(f"failed: {[o.seed for o in outcomes if not o.silent]}")
    print(f"over 7 moves: {[o.seed for o in outcomes if o.moves > 7]}")
    if told.cause:
        for o in outcomes[:6]:
            print(f"  {o.seed}: first {o.first_cause}; last said: {o.last_text}")


if __name__ == "__main__":
    main()
