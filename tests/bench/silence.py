"""Proof of silence: false "silent" on noisy draws, "silent" reached on quiet ones, chains caught, Leq, restarts."""

from __future__ import annotations

import time
import tracemalloc
from collections import Counter
from concurrent.futures import ProcessPoolExecutor

import numpy as np

from tests.chains import FAULTS, draw_chain, with_clipping, with_gain_control, with_suppressor
from tuner.rehearsal.cases import draw_case, draw_noisy
from tuner.rehearsal.drives import drives_of
from tuner.rehearsal.rehearsal import Rehearsal
from tuner.signatures.listener import Listener, measure_floor
from tuner.silence.chain import ChainCheck, ChainReport
from tuner.silence.confirmation import Confirmation
from tuner.silence.judgement import Verdict
from tuner.silence.restart import find_start
from tuner.sound.levels import measure_levels
from tuner.terms import Moment
from tuner.training.household import made_up

RATE = 16_000  # a third of the cost; the bands of drains lie below 8 kHz
NOISY_S, QUIET_S = 120.0, 900.0
ROOM_S = 60.0
CHAINS = 50
STARTS = 100
OFF_S, START_S = 60.0, 240.0
WITHIN_S = 5.0
AUDIBLE_DRIVE = 0.1  # 20 dB under a voice's typical level
TRAPPED = 0.01
HONEST = ChainReport((), True, 26.0, -70.0, -40.0, 5.4, 0.0, 0, RATE / 2)


def confirmed(rehearsal: Rehearsal, seconds: float) -> Verdict:
    """Confirm for a time; a verdict of audible ends it early, as no more listening takes it back."""
    offset = rehearsal.full_scale_offset_db
    floor = measure_floor(rehearsal.floor(ROOM_S), RATE, offset_db=offset)
    confirmation = Confirmation(RATE, floor, HONEST, rig=rehearsal.rig, offset_db=offset)
    for at in range(0, int(seconds), 30):
        confirmation.feed(rehearsal.listen(30.0))
        if at >= 30 and confirmation.verdict().outcome == "audible":
            break
    confirmation.end()
    return confirmation.verdict()


def noisy(seed: int) -> tuple[int, str, str]:
    """Confirm a noisy draw: alone, under household sound, or through a chain with a fault, one after the other."""
    rng = np.random.default_rng([seed, 7])
    if seed % 3 == 0:
        return seed, "alone", confirmed(draw_noisy(seed, sample_rate=RATE), NOISY_S).outcome
    if seed % 3 == 1:
        household = made_up(rng, RATE, 30 * RATE).astype(np.float32)
        rehearsal = draw_noisy(seed, sample_rate=RATE, household=household)
        return seed, "under household sound", confirmed(rehearsal, NOISY_S).outcome
    fault = FAULTS[seed // 3 % len(FAULTS)]
    return seed, f"with {fault}", through(draw_noisy(seed, sample_rate=RATE), fault, seed, rng)


def through(rehearsal: Rehearsal, fault: str, seed: int, rng: np.random.Generator) -> str:
    """Confirm through a chain with a fault, first with its own failed trial; a star: had it been passed."""
    heard = np.concatenate([rehearsal.floor(ROOM_S), rehearsal.listen(NOISY_S)])
    if fault == "clipping":
        heard = with_clipping(heard, rng)
    else:
        heard = (with_gain_control if fault == "gain control" else with_suppressor)(heard, RATE, rng)
    at = round(ROOM_S * RATE)
    floor = measure_floor(heard[:at], RATE)
    trial = ChainCheck(RATE)
    trial.push(draw_chain(fault, seed, RATE))
    outcomes = []
    for check in (trial.report(trial=True), HONEST):
        confirmation = Confirmation(RATE, floor, check, rig=rehearsal.rig)
        confirmation.feed(heard[at:])
        confirmation.end()
        outcomes.append(confirmation.verdict().outcome)
    return outcomes[0] + ("" if outcomes[1] != "silent" else ", but silent* had the trial been passed")


def quiet(seed: int) -> tuple[int, str, str]:
    verdict = confirmed(draw_case(None, seed, sample_rate=RATE), QUIET_S)
    return seed, verdict.outcome, "; ".join((*verdict.heard, *verdict.why))


def chain(job: tuple[str | None, int]) -> tuple[str | None, bool, bool]:
    """Return the fault, whether the chain was held for honest, and whether its fault was named."""
    check = ChainCheck(48_000)
    check.push(draw_chain(*job))
    report = check.report(trial=True)
    return job[0], report.honest, job[0] in {found.fault for found in report.faults}


def leq_error_db(seed: int) -> float:
    """Return the error of LAeq for two tones in turn, whose energy mean has a closed form."""
    rng = np.random.default_rng(seed)
    rate = int(rng.choice([16_000, 44_100, 48_000]))
    loud, soft, share = 10 ** rng.uniform(-2, -0.3), 10 ** rng.uniform(-4, -2), rng.uniform(0.2, 0.8)
    time = np.arange(20 * rate) / rate
    amplitude = np.where((time % 2.0) < 2.0 * share, loud, soft)
    samples = (amplitude * np.sin(2 * np.pi * 1000.0 * time)).astype(np.float32)
    true_db = 10 * np.log10((share * loud**2 + (1 - share) * soft**2) / 2)
    return measure_levels(samples, rate).laeq_db - float(true_db)


def restart(seed: int) -> tuple[int, float | None, float | None]:
    """Return the errors (s) of the siphon's catch and of quiet; None where a phase was not found."""
    rehearsal = draw_case(None, seed, sample_rate=RATE)
    floor = measure_floor(rehearsal.floor(30.0), RATE)
    rehearsal.pumps(False)
    rehearsal.wait(OFF_S)
    rehearsal.pumps(True)
    twin = rehearsal.plant.fork()
    trace = twin.advance(round(START_S * 20))
    drives = drives_of(rehearsal.installation, trace)
    listener = Listener(RATE, rehearsal.rig, floor)
    moments: list[Moment] = []
    for _ in range(int(START_S // 20)):
        listener.feed(rehearsal.listen(20.0))
        moments.extend(listener.moments())
    found = find_start(moments, floor, 0.0)
    trapped = np.flatnonzero(trace.trapped >= TRAPPED)
    sounding = np.any([d >= AUDIBLE_DRIVE for spot, d in drives.items() if spot != "pump hum"], axis=0)
    caught_s, quiet_s = (float(w[-1] + 1) / 20 if w.size else None for w in (trapped, np.flatnonzero(sounding)))
    return (
        seed,
        None if found.catches_s is None or caught_s is None else found.catches_s - caught_s,
        None if found.quiet_s is None or quiet_s is None else found.quiet_s - quiet_s,
    )


def overnight() -> tuple[float, float, float]:
    """Confirm one hour of room noise; return sound per CPU second, and memory (MiB) after ten minutes and at the end.

    Twelve hours go on in the same way: nothing in a confirmation knows how long it has listened but sums and cells.
    """
    noise = (1e-3 * np.random.default_rng(1).standard_normal(60 * RATE)).astype(np.float32)
    confirmation = Confirmation(RATE, None, HONEST)
    confirmation.feed(noise)
    begun = time.process_time()
    for _ in range(10):
        confirmation.feed(noise)
    spent = time.process_time() - begun
    marks = []
    tracemalloc.start()
    for minute in range(11, 61):
        confirmation.feed(noise)
        if minute in (21, 60):
            marks.append(tracemalloc.get_traced_memory()[0] / 2**20)
    tracemalloc.stop()
    return 600.0 / spent, marks[0], marks[1]


def report_restarts(pool: ProcessPoolExecutor, draws: int, first_seed: int) -> None:
    results = list(pool.map(restart, range(first_seed, first_seed + draws)))
    for name, place in (("siphon catches", 1), ("quiet", 2)):
        errors = {r[0]: r[place] for r in results}
        missed = {s: e and round(e, 1) for s, e in errors.items() if e is None or abs(e) > WITHIN_S}
        print(f"silence: restart, {name}: within {WITHIN_S:g} s in {draws - len(missed)} of {draws}; misses: {missed}")


def report_chains(pool: ProcessPoolExecutor, first_seed: int) -> None:
    for fault in (None, *FAULTS):
        results = list(pool.map(chain, [(fault, first_seed + i) for i in range(CHAINS)]))
        if fault is None:
            print(f"silence: honest chains acquitted: {sum(r[1] for r in results)} of {CHAINS}")
        else:
            print(f"silence: {fault}: caught {sum(not r[1] for r in results)} of {CHAINS}, "
                  f"named {sum(r[2] for r in results)}")


def run(draws: int, workers: int, first_seed: int) -> None:
    with ProcessPoolExecutor(workers) as pool:
        report_chains(pool, first_seed)
        errors = [leq_error_db(first_seed + i) for i in range(20)]
        print(f"silence: LAeq against closed form, 20 draws: worst {max(map(abs, errors)):.3f} dB")
        speed, early, late = overnight()
        print(f"silence: confirming at {RATE} Hz: {speed:.0f} s of sound per CPU second; memory gathered after 10 min "
              f"{early:.1f} MiB, after 50 min {late:.1f} MiB")
        results = list(pool.map(noisy, range(first_seed, first_seed + draws)))
        print(f"silence: {draws} noisy draws, {NOISY_S:g} s, called silent: "
              f"{[r[0] for r in results if r[2].split(',')[0] == 'silent']}")
        for (way, outcome), count in sorted(Counter(r[1:] for r in results).items()):
            print(f"  {way}: {outcome} {count}")
        report_restarts(pool, min(draws, STARTS), first_seed)
        results = list(pool.map(quiet, range(first_seed, first_seed + max(1, draws // 5))))
        print(f"silence: {len(results)} quiet draws, {QUIET_S:g} s: {dict(Counter(r[1] for r in results))}")
        for seed, outcome, why in results:
            if outcome != "silent":
                print(f"  {seed} {outcome}: {why}")
