"""The microphone: drawn chains caught or acquitted, LAeq against closed forms.

Last, in real time, the check with a loudspeaker through a private sound server, with a chain in between.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
from concurrent.futures import ProcessPoolExecutor
from itertools import pairwise
from pathlib import Path

import numpy as np

from tests.chains import FAULTS, draw_chain
from tests.live_chain import CHAINS, RATE, between
from tuner.silence.chain import ChainCheck
from tuner.sound.levels import measure_levels

DRAWN = 50
CLOSED_FORMS = 20
ROOM_S = 70.0
ROOM_RMS = 1e-4


def chain(job: tuple[str | None, int]) -> tuple[bool, bool]:
    """Return whether a drawn chain was held for honest, and whether its fault was named."""
    check = ChainCheck(RATE)
    check.push(draw_chain(*job))
    report = check.report(trial=True)
    return report.honest, job[0] in {found.fault for found in report.faults}


def leq_error_db(seed: int) -> float:
    """Return the error of LAeq for two tones in turn, whose energy mean has a closed form."""
    rng = np.random.default_rng(seed)
    rate = int(rng.choice([16_000, 44_100, 48_000]))
    loud, soft, share = 10 ** rng.uniform(-2, -0.3), 10 ** rng.uniform(-4, -2), rng.uniform(0.2, 0.8)
    at = np.arange(20 * rate) / rate
    amplitude = np.where((at % 2.0) < 2.0 * share, loud, soft)
    samples = (amplitude * np.sin(2 * np.pi * 1000.0 * at)).astype(np.float32)
    true_db = 10 * np.log10((share * loud**2 + (1 - share) * soft**2) / 2)
    return measure_levels(samples, rate).laeq_db - float(true_db)


def checked(name: str, folder: Path) -> None:
    # The tests load it as a plugin, which must find it not imported yet.
    from tests.virtual_microphone import VirtualMicrophone

    server = VirtualMicrophone(folder)
    server.start()
    try:
        with between(server, CHAINS[name]()) as environment:
            room = np.random.default_rng(1).normal(0.0, ROOM_RMS, round(ROOM_S * RATE))
            server.play(room.astype(np.float32), "speaker")
            command = [sys.executable, "-m", "tuner", "mic", "check", "--device", "pulse", "--speaker", "--json"]
            done = subprocess.run(
                [*command, "--logbook", str(folder / "book.sqlite")], env={**os.environ, **environment},
                capture_output=True, text=True, check=False,
            )
            if not done.stdout:
                print(f"microphone: {name}: no verdict: {done.stderr.strip()}")
                return
            body = json.loads(done.stdout)
            steps = body["steps_db"] or []
            read = ", ".join(f"{b - a:+.1f}" for a, b in pairwise(steps))
            faults = ", ".join(fault["fault"] for fault in body["chain"]["faults"]) or "none"
            print(
                f"microphone: {name}: honest {body['honest']}, faults {faults}; steps of 10 dB read {read};"
                f" {body['measured_rate_hz']:.0f} samples a second, {body['dropped_samples']} lost"
            )
    finally:
        server.stop()


def run(draws: int, workers: int, first_seed: int) -> None:
    with ProcessPoolExecutor(workers) as pool:
        for fault in (None, *FAULTS):
            results = list(pool.map(chain, [(fault, first_seed + i) for i in range(DRAWN)]))
            if fault is None:
                print(f"microphone: honest chains acquitted: {sum(r[0] for r in results)} of {DRAWN}", flush=True)
            else:
                caught, named = sum(not r[0] for r in results), sum(r[1] for r in results)
                print(f"microphone: {fault}: caught {caught} of {DRAWN}, named {named}", flush=True)
    errors = [leq_error_db(first_seed + i) for i in range(CLOSED_FORMS)]
    print(f"microphone: LAeq against closed form, {CLOSED_FORMS} draws: worst {max(map(abs, errors)):.3f} dB")
    if shutil.which("pulseaudio") is None:
        print("microphone: the check in real time needs a sound server: apt-get install pulseaudio pulseaudio-utils")
        return
    for name in CHAINS:
        with tempfile.TemporaryDirectory() as folder:
            checked(name, Path(folder))
