"""Tones: prominence ratio and tone-to-noise ratio against MOSQITO, a second program for ECMA-418-1, on drawn spectra.

It wants ``pip install mosqito==1.2.1``, which brings matplotlib and more; the tests hold the values that it gave.
"""

from __future__ import annotations

import numpy as np

from tuner.sound.tones import find_tones, prominence_limit_db, tnr_limit_db

SPECTRA = 20
TONES = 4
REFERENCE_DB = 120.0  # MOSQITO leaves out what lies below the threshold of hearing
BINS_HZ = np.arange(24_001, dtype=np.float64)


def drawn(seed: int) -> tuple[np.ndarray, list[int]]:
    """Return a power spectrum of flat noise with a ripple and some tones far apart, and where they are (Hz)."""
    rng = np.random.default_rng(seed)
    places = [round(hz * rng.uniform(0.9, 1.1)) for hz in (250.0, 700.0, 2000.0, 5500.0)[:TONES]]
    power = 1e-9 * (1.0 + 0.3 * np.sin(1.7 * BINS_HZ))
    for place in places:
        mean_square = 10 ** rng.uniform(-6.0, -4.5)
        power[place] += mean_square * 2.0 / 3.0
        power[[place - 1, place + 1]] += mean_square / 6.0
    return power, places


def run(draws: int, workers: int, first_seed: int) -> None:
    try:
        from mosqito.sq_metrics import pr_ecma_freq, tnr_ecma_freq
    except ImportError:
        print("tones: a second program is needed: pip install mosqito==1.2.1")
        return
    worst = {"pr": 0.0, "tnr": 0.0}
    compared = agreed = 0
    for seed in range(first_seed, first_seed + SPECTRA):
        power, _ = drawn(seed)
        pressure_pa = 2e-5 * np.sqrt(power * 10.0 ** (REFERENCE_DB / 10.0))
        theirs = {
            "pr": _by_hz(pr_ecma_freq(pressure_pa, BINS_HZ, prominence=False)),
            "tnr": _by_hz(tnr_ecma_freq(pressure_pa, BINS_HZ, prominence=False)),
        }
        for tone in find_tones(power, BINS_HZ):
            for kind, ours_db, limit_db in (
                ("pr", tone.prominence_db, prominence_limit_db(tone.frequency_hz)),
                ("tnr", tone.tnr_db, tnr_limit_db(tone.frequency_hz)),
            ):
                other_db = theirs[kind].get(round(tone.frequency_hz))
                if ours_db is None or other_db is None:
                    continue
                compared += 1
                agreed += (ours_db >= limit_db) == (other_db >= limit_db)
                worst[kind] = max(worst[kind], abs(ours_db - other_db))
    print(
        f"tones: {compared} ratios of {SPECTRA} spectra against MOSQITO: worst difference PR {worst['pr']:.2f} dB, TNR"
        f" {worst['tnr']:.2f} dB; the same side of the limit in {agreed} of {compared}"
    )


def _by_hz(found: tuple) -> dict[int, float]:
    """Return MOSQITO's ratios by the whole frequency of their tones."""
    _, ratios, _, frequencies = found[:4]
    return {round(float(hz)): float(ratio) for hz, ratio in zip(np.ravel(frequencies), np.ravel(ratios), strict=True)}
