"""Verdicts: false "silent" on noisy draws, alone, under household sound and through chains; "silent" on quiet ones.

Every noisy draw is heard one way, turn by turn. With ``--recordings`` the household sound is that of the folder's
half that fitted nothing, without it is made up.
"""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

from tests import chains
from tests.bench.household import clips_apart
from tests.chains import FAULTS, draw_chain
from tuner.rehearsal.cases import draw_case, draw_noisy
from tuner.rehearsal.rehearsal import Rehearsal
from tuner.signatures.listener import measure_floor
from tuner.silence.chain import ChainCheck, ChainReport
from tuner.silence.confirmation import Confirmation
from tuner.silence.judgement import Verdict
from tuner.terms import Samples
from tuner.training.household import made_up

RATE = 16_000  # a third of the cost; the bands of drains lie below 8 kHz
CHUNK_S, QUICK_S, STANDARD_S = 30.0, 120.0, 900.0
ROOM_S = 60.0
QUIET_SHARE = 5  # one quiet draw for so many noisy ones
HONEST = ChainReport((), True, 26.0, -70.0, -40.0, 5.4, 0.0, 0, RATE / 2)
Job = tuple[int, Path | None]


def confirming(rehearsal: Rehearsal) -> Confirmation:
    offset = rehearsal.full_scale_offset_db
    floor = measure_floor(rehearsal.floor(ROOM_S), RATE, offset_db=offset)
    return Confirmation(RATE, floor, HONEST, rig=rehearsal.rig, offset_db=offset)


def heard_for(rehearsal: Rehearsal, confirmation: Confirmation, seconds: float) -> Verdict:
    """Confirm for a time; a verdict of audible ends it early, as no more listening takes it back."""
    for _ in range(round(seconds / CHUNK_S)):
        confirmation.feed(rehearsal.listen(CHUNK_S))
        verdict = confirmation.verdict()
        if verdict.outcome == "audible":
            break
    return verdict


def household(folder: Path | None, rng: np.random.Generator) -> Samples:
    if folder is None:
        return made_up(rng, RATE, round(CHUNK_S * RATE)).astype(np.float32)
    clips = clips_apart(folder, RATE)
    picked = [clips[int(rng.integers(len(clips)))].samples for _ in range(8)]
    return np.concatenate(picked).astype(np.float32)


def noisy(job: Job) -> tuple[int, str, str]:
    """Confirm a noisy draw: alone, under household sound, or through a chain with a fault, one after the other."""
    seed, folder = job
    rng = np.random.default_rng([seed, 7])
    if seed % 3 == 0:
        rehearsal = draw_noisy(seed, sample_rate=RATE)
        return seed, "alone", heard_for(rehearsal, confirming(rehearsal), QUICK_S).outcome
    if seed % 3 == 1:
        rehearsal = draw_noisy(seed, sample_rate=RATE, household=household(folder, rng))
        return seed, "under household sound", heard_for(rehearsal, confirming(rehearsal), QUICK_S).outcome
    fault = FAULTS[seed // 3 % len(FAULTS)]
    return seed, f"with {fault}", through(draw_noisy(seed, sample_rate=RATE), fault, seed, rng)


def through(rehearsal: Rehearsal, fault: str, seed: int, rng: np.random.Generator) -> str:
    """Confirm through a chain with a fault, with its own failed trial; says what it were, had the trial been passed."""
    heard = np.concatenate([rehearsal.floor(ROOM_S), rehearsal.listen(QUICK_S)])
    heard = chains.through(heard, fault, RATE, rng)
    at = round(ROOM_S * RATE)
    floor = measure_floor(heard[:at], RATE)
    trial = ChainCheck(RATE)
    trial.push(draw_chain(fault, seed, RATE))
    confirmation = Confirmation(RATE, floor, HONEST, rig=rehearsal.rig)
    confirmation.feed(heard[at:])
    passed = confirmation.verdict()
    if trial.report(trial=True).honest:
        return passed.outcome
    # A failed trial is a reason why nothing is shown; what is heard is heard all the same.
    failed = "audible" if passed.outcome == "audible" else "not shown"
    return failed + (", silent had the trial been passed" if passed.outcome == "silent" else "")


def quiet(seed: int) -> tuple[int, float | None, str]:
    """Return after how many seconds a quiet draw was called silent: at the quick end or at the standard end."""
    rehearsal = draw_case(None, seed, sample_rate=RATE)
    confirmation = confirming(rehearsal)
    verdict = heard_for(rehearsal, confirmation, QUICK_S)
    if verdict.outcome == "silent":
        return seed, QUICK_S, ""
    if verdict.outcome == "not shown":
        verdict = heard_for(rehearsal, confirmation, STANDARD_S - QUICK_S)
    return seed, STANDARD_S if verdict.outcome == "silent" else None, "; ".join((*verdict.heard, *verdict.why))


def told(results: Iterable[tuple[int, str, str]], every: int) -> list[tuple[int, str, str]]:
    """Gather results and say now and then how far it is."""
    gathered: list[tuple[int, str, str]] = []
    for result in results:
        gathered.append(result)
        if len(gathered) % every == 0:
            silent = sum(r[2].split(",")[0] == "silent" for r in gathered)
            print(f"  ... {len(gathered)} noisy draws, {silent} called silent ({time.strftime('%H:%M')})", flush=True)
    return gathered


def run(draws: int, workers: int, first_seed: int, recordings: Path | None = None) -> None:
    with ProcessPoolExecutor(workers) as pool:
        jobs = [(seed, recordings) for seed in range(first_seed, first_seed + draws)]
        results = told(pool.map(noisy, jobs), 30)
        false = [r[0] for r in results if r[2].split(",")[0] == "silent"]
        print(f"silence: {draws} noisy draws, {QUICK_S:g} s, called silent: {len(false)} {false}", flush=True)
        for (way, outcome), count in sorted(Counter(r[1:] for r in results).items()):
            print(f"  {way}: {outcome} {count}")
        still = list(pool.map(quiet, range(first_seed, first_seed + max(1, draws // QUIET_SHARE))))
        for within_s in (QUICK_S, STANDARD_S):
            reached = sum(r[1] is not None and r[1] <= within_s for r in still)
            print(f"silence: quiet draws called silent within {within_s / 60:g} min: {reached} of {len(still)}")
        for seed, after_s, why in still:
            if after_s is None:
                print(f"  {seed}: {why}")
