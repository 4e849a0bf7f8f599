"""The same cases through worse chains: a phone at 16 kHz, an MP3 at about 64 kbit/s, clipping, 40 dB less."""

from __future__ import annotations

import argparse
import io
from collections import Counter
from concurrent.futures import ProcessPoolExecutor

import numpy as np

import tuner
from tests.bench.ears_cases import CASES
from tuner.rehearsal.cases import draw_case
from tuner.terms import CauseName
from tuner.training.causes import HEARD_S, SAMPLE_RATE

CHAINS = ("as it is", "16 kHz", "MP3 64 kbit/s", "clipped", "40 dB less")


def through(chain: str, samples: np.ndarray) -> tuple[np.ndarray, int]:
    """Return the samples after the chain, and their rate; 16-bit files are written as such."""
    if chain == "16 kHz":
        from scipy.signal import resample_poly

        return resample_poly(samples, 1, 3).astype(np.float32), SAMPLE_RATE // 3
    if chain == "MP3 64 kbit/s":
        import soundfile

        file = io.BytesIO()
        soundfile.write(file, samples, SAMPLE_RATE, format="MP3", bitrate_mode="CONSTANT", compression_level=0.87)
        file.seek(0)
        return soundfile.read(file, dtype="float32")
    if chain == "clipped":  # recorded 12 dB too loud for its loudest 1 %
        gain = 0.25**-1 / max(float(np.quantile(np.abs(samples), 0.99)) * 4, 1e-6)
        return np.clip(samples * gain, -1, 1), SAMPLE_RATE
    if chain == "40 dB less":
        return np.round(samples * 0.01 * 32768).astype(np.float32) / 32768, SAMPLE_RATE
    return samples, SAMPLE_RATE


def one(job: tuple[CauseName | None, int]) -> list[tuple[str, bool, str]]:
    """Return for each chain whether the first cause is right, and what was named."""
    cause, seed = job
    rehearsal = draw_case(cause, seed, sample_rate=SAMPLE_RATE)
    heard = rehearsal.listen(HEARD_S)
    found = []
    for chain in CHAINS:
        samples, rate = through(chain, heard)
        try:
            d = tuner.diagnose(samples, rate, rig=rehearsal.rig)
            named = "silent" if d.silent else d.causes[0].name
        except tuner.HushweirError as error:
            named = f"refused: {str(error)[:30]}"
        found.append((chain, named == (cause or "silent"), named))
    return found


def run(args: argparse.Namespace) -> None:
    jobs: list[tuple[CauseName | None, int]] = [
        (CASES[i % len(CASES)], args.first_seed + 1000 + i) for i in range(args.draws // 2)
    ]
    jobs += [(None, args.first_seed + 1500 + i) for i in range(args.draws // 8)]
    with ProcessPoolExecutor(args.workers) as pool:
        results = list(pool.map(one, jobs))
    for k, chain in enumerate(CHAINS):
        rows = [r[k] for r in results]
        noisy = [r for r, (cause, _) in zip(rows, jobs, strict=True) if cause]
        quiet = [r for r, (cause, _) in zip(rows, jobs, strict=True) if not cause]
        wrong = Counter(named for _, ok, named in noisy if not ok)
        print(f"wear, {chain}: first cause right {sum(ok for _, ok, _ in noisy)} of {len(noisy)}, silent called silent "
              f"{sum(ok for _, ok, _ in quiet)} of {len(quiet)}; wrong: {dict(wrong.most_common(4))}")
