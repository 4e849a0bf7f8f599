"""The rehearsal's settled state against the balance, and how long a restarted system takes to be silent again."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tuner.rehearsal.draw import draw_installation
from tuner.rehearsal.drives import drives_of
from tuner.rehearsal.figures import STEP_S
from tuner.rehearsal.plant import Plant
from tuner.water.balance import balance

SETTLE_S = 600.0
HEARD_DRIVE = 0.1


def one(seed: int) -> tuple[float, float]:
    """Return the largest difference of a flow (share of the supply) and the seconds to silence after a restart."""
    rng = np.random.default_rng(seed)
    truth = draw_installation(rng)
    steady = replace(truth, plumbing=replace(truth.plumbing, pump_swing=0.0))
    plant = Plant(steady, rng)
    plant.advance(round(SETTLE_S / STEP_S))
    trace = plant.advance(round(60.0 / STEP_S))
    s = steady.settings
    wanted = balance(steady.plumbing, s.speeds, s.valve, s.vent)
    flows = ((trace.siphon.mean(), wanted.siphon_m3_s), (trace.channel.mean(), wanted.channel_m3_s))
    off = max(abs(float(got - want)) for got, want in flows) / float(wanted.supply_m3_s)
    plant.power(False)
    plant.advance(round(300.0 / STEP_S))
    plant.power(True)
    drives = drives_of(steady, plant.advance(round(300.0 / STEP_S)))
    loud = np.flatnonzero(np.any([d > HEARD_DRIVE for spot, d in drives.items() if spot != "pump hum"], axis=0))
    return off, STEP_S * (1 + int(loud[-1])) if loud.size else 0.0


def run(draws: int, workers: int, first_seed: int) -> None:
    results = [one(seed) for seed in range(first_seed, first_seed + draws)]
    off = np.array([r[0] for r in results])
    print(
        f"settled: {np.mean(off <= 0.02):.1%} of {draws} draws within 2 % of flow of the balance;"
        f" median {np.median(off):.2e}, largest {off.max():.2e}"
    )
    quiet = np.array([r[1] for r in results])
    shown = np.round(np.quantile(quiet, [0.1, 0.5, 0.9]))
    print(f"settled: silent after a restart in s, quantiles 10/50/90 %: {shown}")
