"""Confirming overnight: twelve hours of simulated sound through one confirmation, its speed and its memory."""

from __future__ import annotations

import resource
import sys
import time

import numpy as np

from tests.bench.silence import CHUNK_S, HONEST, RATE, ROOM_S
from tuner.rehearsal.cases import draw_case
from tuner.signatures.listener import measure_floor
from tuner.silence.confirmation import Confirmation

HOURS = 12
LIVE_RATE = 48_000
_KIB = 1024 if sys.platform != "darwin" else 1


def memory_mib() -> float:
    """Return the most memory that this process ever had (MiB)."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * _KIB / 2**20


def run(draws: int, workers: int, first_seed: int) -> None:
    rehearsal = draw_case(None, first_seed, sample_rate=RATE)
    floor = measure_floor(rehearsal.floor(ROOM_S), RATE)
    # Ten minutes of the quiet rig over and over: what is asked is what it costs, not what it hears.
    night = [rehearsal.listen(CHUNK_S) for _ in range(20)]
    confirmation = Confirmation(RATE, floor, HONEST, rig=rehearsal.rig)
    marks: dict[int, float] = {}
    spent = 0.0
    for hour in range(1, HOURS + 1):
        begun = time.process_time()
        for number in range(round(3600 / CHUNK_S)):
            confirmation.feed(night[number % len(night)])
        confirmation.verdict()
        spent += time.process_time() - begun
        marks[hour] = memory_mib()
    verdict = confirmation.verdict()
    listed = ", ".join(f"{marks[hour]:.0f} after {hour} h" for hour in (1, 2, 6, HOURS))
    share = 100 * spent / (3600 * HOURS)
    print(f"overnight: {HOURS} h at {RATE} Hz: CPU share {share:.2f} %; most memory (MiB): {listed}", flush=True)
    print(f"overnight: {verdict.outcome}; per hour at most {verdict.per_hour:.2f}; {len(verdict.heard)} heard")
    begun = time.process_time()
    live = Confirmation(LIVE_RATE, None, HONEST)
    noise = (1e-3 * np.random.default_rng(1).standard_normal(60 * LIVE_RATE)).astype(np.float32)
    live.feed(noise)
    print(f"overnight: CPU share at {LIVE_RATE} Hz: {100 * (time.process_time() - begun) / 60:.2f} %")
