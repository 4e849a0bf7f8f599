"""Restarts after a power cut: phases from sound alone against the simulated water; starts that do not prime."""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor

import numpy as np

from tuner.rehearsal.cases import draw_case
from tuner.rehearsal.drives import drives_of
from tuner.rehearsal.rehearsal import Rehearsal
from tuner.signatures.listener import Listener, measure_floor
from tuner.silence.restart import Start, find_start
from tuner.terms import CauseName, Moment

RATE = 16_000
MOST_STARTS = 100
CLOGGED_SHARE = 5
OFF_S, START_S = 60.0, 180.0
WITHIN_S = 5.0
AUDIBLE_DRIVE = 0.1  # 20 dB under a voice's typical level
TRAPPED = 0.01
PURGING = 0.95  # of the air that was trapped at the beginning


def start_of(rehearsal: Rehearsal) -> Start:
    floor = measure_floor(rehearsal.floor(30.0), RATE)
    listener = Listener(RATE, rehearsal.rig, floor)
    moments: list[Moment] = []
    for _ in range(int(START_S // 20)):
        listener.feed(rehearsal.listen(20.0))
        moments.extend(listener.moments())
    return find_start(moments, floor, 0.0)


def stopped(cause: CauseName | None, seed: int) -> Rehearsal:
    rehearsal = draw_case(cause, seed, sample_rate=RATE)
    rehearsal.pumps(False)
    rehearsal.wait(OFF_S)
    rehearsal.pumps(True)
    return rehearsal


def restart(seed: int) -> tuple[int, dict[str, float | None]]:
    """Return the errors (s) of the phases; None where a phase was not found."""
    rehearsal = stopped(None, seed)
    trace = rehearsal.plant.fork().advance(round(START_S * 20))
    drives = drives_of(rehearsal.installation, trace)
    found = start_of(rehearsal)
    purging = np.flatnonzero(trace.trapped < PURGING * trace.trapped[0])
    trapped = np.flatnonzero(trace.trapped >= TRAPPED)
    sounding = np.flatnonzero(
        np.any([d >= AUDIBLE_DRIVE for spot, d in drives.items() if spot != "pump hum"], axis=0)
    )
    true_s = {
        "air is driven out": purging[:1], "siphon catches": trapped[-1:] + 1, "quiet": sounding[-1:] + 1,
    }
    seen_s = {"air is driven out": found.air_s, "siphon catches": found.catches_s, "quiet": found.quiet_s}
    errors: dict[str, float | None] = {}
    for name, at in true_s.items():
        seen = seen_s[name]
        errors[name] = None if seen is None or not at.size else round(seen - float(at[0]) / 20.0, 1)
    return seed, errors


def clogged(seed: int) -> bool:
    return start_of(stopped("siphon not purged", seed)).primed


def run(draws: int, workers: int, first_seed: int) -> None:
    starts = min(draws, MOST_STARTS)
    with ProcessPoolExecutor(workers) as pool:
        results = list(pool.map(restart, range(first_seed, first_seed + starts)))
        for name in results[0][1]:
            missed = {s: e[name] for s, e in results if e[name] is None or abs(e[name] or 0.0) > WITHIN_S}
            print(f"restarts: {name}: within {WITHIN_S:g} s in {starts - len(missed)} of {starts}; misses: {missed}",
                  flush=True)
        primed = list(pool.map(clogged, range(first_seed, first_seed + starts // CLOGGED_SHARE)))
        print(f"restarts: clogged bleed holes taken for a start by itself: {sum(primed)} of {len(primed)}")
