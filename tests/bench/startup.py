"""Start-up of ``hushweir --help``: the best and the median of ten runs, and what it imports."""

from __future__ import annotations

import subprocess
import sys
import time

import numpy as np

_HEAVY = ("scipy.signal", "librosa", "soundfile", "sounddevice")


def run(draws: int, workers: int, first_seed: int) -> None:
    command = [sys.executable, "-m", "tuner", "--help"]
    times = []
    for _ in range(10):
        begun = time.perf_counter()
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        times.append(time.perf_counter() - begun)
    print(f"startup: hushweir --help takes {min(times):.2f} s at best, {np.median(times):.2f} s in the median of 10")
    code = "import sys, runpy\ntry:\n sys.argv=['hushweir','--help']; runpy.run_module('tuner', run_name='__main__')\n"
    code += f"except SystemExit: pass\nprint([m for m in {_HEAVY!r} if m in sys.modules], file=sys.stderr)"
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    print(f"startup: heavy modules imported for it: {done.stderr.strip()}")
