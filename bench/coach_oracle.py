"""Closed loop of the coach with perfect hearing: what the tuning costs when the ears make no mistake.

    python bench/coach_oracle.py --first 100000 --draws 200

Draws installations, displaces valve, vent or pump, and lets the coach tune. Readings are made from the plant's
state. Thresholds are set on seeds below 100000; figures are reported on seeds from 100000 on.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import dataclass, replace

import numpy as np

from tuner.coach import Coach
from tuner.rehearsal.draw import draw_installation, window_of
from tuner.rehearsal.drives import SPOTS, drives_of
from tuner.rehearsal.installation import Installation
from tuner.rehearsal.installation import Settings as Turned
from tuner.rehearsal.plant import Plant
from tuner.rigfile import typical_rig
from tuner.terms import Heard, Levels, Question, Reading, Sound, SoundKind, Step
from tuner.water import laws

WINDOW_S = 25.0
SETTLE_S = 120.0
MOST_MOVES = 25
AUDIBLE = 0.12  # drive from which perfect ears hear a voice
STEP_S = 0.05


@dataclass
class Outcome:
    """How one draw went."""

    seed: int
    fault: str
    moves: int
    silent: bool
    roared: bool
    off_middle: float
    bears: bool
    slowest_s: float
    steps: list[str]


def bursts(active: np.ndarray) -> np.ndarray:
    """Return the start indices of runs of True, gaps under half a second closed."""
    starts = np.flatnonzero(np.diff(np.concatenate([[0], active.astype(int)])) == 1)
    keep = [s for i, s in enumerate(starts) if i == 0 or s - starts[i - 1] > 0.5 / STEP_S]
    return np.array(keep, dtype=int)


def reading_of(truth: Installation, plant: Plant, seconds: float) -> Reading:
    """Listen with perfect ears: which voices sound, for which share of the time, how often."""
    drives = drives_of(truth, plant.advance(round(seconds / STEP_S)))
    by_kind: dict[SoundKind, np.ndarray] = {}
    for spot, drive in drives.items():
        kind = SPOTS[spot]
        by_kind[kind] = np.maximum(by_kind.get(kind, 0.0), drive)
    heard, sounds, loudest = [], [], -60.0
    for kind, drive in by_kind.items():
        active = drive > (0.2 if kind in ("hum", "rattle") else AUDIBLE)
        if not active.any():
            continue
        starts = bursts(active)
        gaps = np.diff(starts) * STEP_S
        regular = len(gaps) >= 2 and gaps.std() < 0.3 * gaps.mean() and active.mean() < 0.8
        level = 20 * np.log10(drive[active].mean())
        loudest = max(loudest, level)
        heard.append(Heard(kind, float(active.mean()), float(active.mean()), 25.0 + level,
                           float(gaps.mean()) if regular else None, len(starts)))
        sounds.extend(Sound(kind, s * STEP_S, s * STEP_S + 1, 25.0 + level, 1.0) for s in starts)
    level = -50.0 + max(loudest, -10.0) if heard else -70.0
    levels = Levels(level, level + 2, level - 1, level - 2, level + 4, (1000.0,), (level,))
    crackle = 0.9 if any(drives[s].max() > 0 for s in ("pump air crackle", "return air crackle")) else 0.05
    return Reading(seconds, seconds, levels, tuple(sounds), tuple(heard), 20.0 if heard else 0.0, 0.0,
                   features={"crackle": crackle})


def displaced(truth: Installation, rng: np.random.Generator) -> tuple[Turned, str]:
    """Move one or two controls away from quiet, as an installation is found."""
    s, p = truth.settings, truth.plumbing
    w = window_of(p, s)
    fault = str(rng.choice(["over-open", "over-closed", "vent closed", "vent wide", "both", "emergency"],
                           p=[0.28, 0.28, 0.14, 0.12, 0.12, 0.06]))
    valve, vent = s.valve, s.vent
    if fault in ("over-open", "both"):
        valve = min(1.0, w.slurp_edge * (1 + rng.uniform(0.01, 0.6)))
    if fault == "over-closed":
        valve = w.gurgle_edge * (1 - rng.uniform(0.01, 0.35))
    if fault == "emergency":
        valve = w.gurgle_edge * rng.uniform(0.35, 0.6)
    if fault in ("vent closed",) or (fault == "both" and rng.random() < 0.5):
        vent = s.vent * rng.uniform(0.15, 0.7)
    if fault == "vent wide" or (fault == "both" and vent == s.vent):
        vent = min(1.0, s.vent * rng.uniform(1.8, 5.0))
    return Turned(valve=valve, vent=vent, speeds=s.speeds), fault


class Bench:
    """One draw: a plant, its truth, and hands."""

    def __init__(self, seed: int, hand_spread: float) -> None:
        rng = np.random.default_rng(seed)
        truth = draw_installation(rng)
        settings, self.fault = displaced(truth, rng)
        self.truth = replace(truth, settings=settings)
        self.plant = Plant(self.truth, rng)
        self.rng = rng
        self.hand_spread = hand_spread
        self.at = settings.valve  # where the handle stands; the valve lags by the backlash
        self.plant.advance(round(SETTLE_S / STEP_S))

    def move(self, step: Step, amount: float) -> None:
        """Turn a control, with the hand's error and the valve's free play."""
        p, s = self.truth.plumbing, self.plant.settings
        amount *= 1 + self.hand_spread * self.rng.standard_normal()
        if step.control == "siphon valve":
            full, play = float(p.valve_full), float(p.valve_backlash) / float(p.valve_full)
            self.at = float(np.clip(self.at + amount / full, 0, 1))
            valve = min(max(s.valve, self.at - play / 2), self.at + play / 2)
            self.plant.set(replace(s, valve=float(np.clip(valve, 0, 1))))
        elif step.control == "vent tap":
            self.plant.set(replace(s, vent=float(np.clip(s.vent + amount / float(p.vent_tap_turns), 0, 1))))
        else:
            speeds = tuple(float(np.clip(v + amount / 100, 0.05, 1)) for v in s.speeds)
            self.plant.set(replace(s, speeds=speeds))

    def silent(self, seconds: float = 60.0) -> bool:
        """Tell whether nothing but the pump's hum sounds for a while."""
        drives = drives_of(self.truth, self.plant.advance(round(seconds / STEP_S)))
        return all(d.max() <= AUDIBLE for spot, d in drives.items() if spot not in ("pump hum", "pump rattle"))

    def margins(self) -> tuple[float, bool]:
        """Return the distance from mid-window (share of the half width) and whether +-3 % of flow stays quiet."""
        p, s = self.truth.plumbing, self.plant.settings
        supply = float(laws.supply_flow_m3_s(p, s.speeds))
        siphon = float(laws.siphon_flow_m3_s(p, p.crest_height_m + 0.008, s.valve))
        gulp = float(laws.siphon_flow_m3_s(p, laws.gulp_level_m(p, supply), s.valve))
        gurgle = float(laws.gurgle_flow_m3_s(p))
        hiss = float(laws.channel_flow_at_suction_m3_s(p, s.vent, laws.hiss_suction_m(p)))
        high = min(gurgle, hiss)
        low = gulp - siphon
        off = abs((supply - siphon) - (high + low) / 2) / max((high - low) / 2, 1e-9)
        bears = (supply * 1.03 - siphon) < high and supply * 0.97 > gulp
        return off, bears


def tune(seed: int, *, rig: str, hand_spread: float, talk: bool) -> Outcome:
    """Let the coach tune one draw."""
    bench = Bench(seed, hand_spread)
    coach = Coach({"given": bench.truth.rig, "none": None, "wrong": wrong(bench)}[rig])
    moves, slowest, roared, said = 0, 0.0, False, []
    for _ in range(MOST_MOVES * 2):
        reading = reading_of(bench.truth, bench.plant, WINDOW_S)
        began = time.perf_counter()
        diagnosis = coach.hear_reading(reading)
        step = coach.advise()
        slowest = max(slowest, time.perf_counter() - began)
        if isinstance(step, Question):
            coach.look(step.id, None)
            step = coach.advise()
        if step is None or isinstance(step, Question) or moves >= MOST_MOVES:
            break
        heard = {h.kind: (round(h.share, 2), h.period_s and round(h.period_s, 1)) for h in reading.heard}
        said.append(f"{heard} -> {diagnosis.causes[0].name if diagnosis.causes else 'silent'} -> {step.control} "
                    f"{step.amount:+g} wait {step.wait_s:.0f}  valve {bench.plant.settings.valve:.3f} "
                    f"vent {bench.plant.settings.vent:.3f} | {step.why} {step.expect}")
        wet = bench.plant.level_m > float(bench.truth.plumbing.emergency_rim_height_m)
        bench.move(step, step.amount)
        coach.did(step)
        moves += step.amount != 0
        bench.plant.ever_emergency = False
        bench.plant.advance(round(step.wait_s / STEP_S))
        roared = roared or (bench.plant.ever_emergency and not wet and step.amount != 0)
    bench.plant.advance(round(SETTLE_S / STEP_S))
    off, bears = bench.margins()
    out = Outcome(seed, bench.fault, moves, bench.silent(120.0), roared, off, bears, slowest, said)
    if talk:
        s, w = bench.plant.settings, window_of(bench.truth.plumbing, bench.plant.settings)
        print(f"--- seed {seed} {out.fault} silent={out.silent} moves={moves} roared={roared} off={off:.2f} bears={bears} "
              f"valve {s.valve:.3f} window {w.gurgle_edge:.3f} {w.middle:.3f} {w.film_edge:.3f} {w.slurp_edge:.3f} "
              f"turns {float(bench.truth.plumbing.valve_full):g} {bench.truth.plumbing.valve_kind}")
        print("   ", "\n    ".join(said))
        print("   ", coach.summary().text)
    return out


def wrong(bench: Bench):
    """Return the description with every measure off by up to 20 %."""
    rig, rng = bench.truth.rig, np.random.default_rng(7)

    def off(part, names):
        return replace(part, **{n: getattr(part, n) * (1 + rng.uniform(-0.2, 0.2)) for n in names})

    return replace(
        rig, box=off(rig.box, ("length_m", "width_m")),
        siphon=off(rig.siphon, ("inner_diameter_m", "drop_m", "run_m", "inlet_diameter_m")),
        channel=off(rig.channel, ("inner_diameter_m", "drop_m", "run_m", "vent_hole_m")),
        pumps=tuple(off(p, ("flow_m3_s", "head_m")) for p in rig.pumps),
        returns=off(rig.returns, ("static_head_m", "line_diameter_m", "line_run_m")),
    )


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--first", type=int, default=100000)
    ask.add_argument("--draws", type=int, default=200)
    ask.add_argument("--rig", choices=("given", "none", "wrong"), default="given")
    ask.add_argument("--hand", type=float, default=0.03, help="relative error of a move by hand")
    ask.add_argument("--talk", action="store_true")
    told = ask.parse_args()
    began = time.perf_counter()
    outcomes = [
        tune(seed, rig=told.rig, hand_spread=told.hand, talk=told.talk)
        for seed in range(told.first, told.first + told.draws)
    ]
    moves = np.array([o.moves for o in outcomes])
    silent = np.array([o.silent for o in outcomes])
    print(f"{len(outcomes)} draws from seed {told.first}, rig {told.rig}, hand {told.hand:g}, perfect hearing")
    print(f"silent within {MOST_MOVES} moves: {silent.mean():.1%}; moves median {np.median(moves):g}, "
          f"95th percentile {np.percentile(moves, 95):g}")
    print(f"emergency made to carry flow by a move: {sum(o.roared for o in outcomes)} draws")
    off = np.array([o.off_middle for o in outcomes])[silent]
    middle = f"{np.median(off):.2f}" if off.size else "not known"
    print(f"distance from mid-window (share of half width) median {middle}; quiet at +-3 % of flow "
          f"{np.mean([o.bears for o in outcomes]):.1%}; slowest thought {max(o.slowest_s for o in outcomes):.2f} s; "
          f"{time.perf_counter() - began:.0f} s in all")
    for fault in sorted({o.fault for o in outcomes}):
        own = [o for o in outcomes if o.fault == fault]
        print(f"  {fault}: {len(own)} draws, silent {np.mean([o.silent for o in own]):.0%}, "
              f"moves median {np.median([o.moves for o in own]):g}, failed {[o.seed for o in own if not o.silent][:8]}")


if __name__ == "__main__":
    main()
