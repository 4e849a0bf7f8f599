"""Cost of listening: seconds of sound per CPU second in live-sized blocks on one core, and peak memory."""

from __future__ import annotations

import os
import subprocess
import sys

_CHILD = """
import resource, sys, time
import numpy as np
from tuner.signatures.listener import Listener
rate, seconds = 48000, 120
rng = np.random.default_rng(0)
sound = (0.02 * rng.standard_normal(rate * 10)).astype(np.float32)
listener = Listener(rate)
listener.feed(sound[:rate * 2]); listener.moments()
begun = time.process_time()
for i in range(seconds * 10):
    at = (i % 100) * rate // 10
    listener.feed(sound[at:at + rate // 10]); listener.moments()
spent = time.process_time() - begun
listener.reading()
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
print(f"cost: {seconds / spent:.0f} seconds of sound per CPU second (48 kHz, 100 ms blocks, one core)")
print(f"cost: peak memory {peak:.0f} MiB")
"""


def run(draws: int, workers: int, first_seed: int) -> None:
    env = {**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    subprocess.run([sys.executable, "-c", _CHILD], check=True, env=env)
