"""Figures of the hydraulic model: cost of a balance and of a banded window, and how honest the bands are.

Run: python -m tests.bench water. Draws use seeds from 100000 on.

For each draw a true installation is made: its fields vary about a middling one, its model parameters by their
spread. The keeper describes it: measured fields with a tape's error, the others left at their defaults. The
stated bands come from the description alone; the truth is then compared with them.
"""

from __future__ import annotations

import time
from dataclasses import fields, replace
from typing import Any

import numpy as np

from tuner.errors import ConfigError
from tuner.rig import MEASURED_SPREAD, Fact, Pump, Rig, Siphon, Valve, measures, walk
from tuner.water.balance import balance
from tuner.water.controls import window_bands
from tuner.water.laws import slurp_period_s, supply_flow_m3_s
from tuner.water.parameters import PARAMETERS, draw_parameter
from tuner.water.plumbing import LABEL_SPREAD, Plumbing, plumbing_of
from tuner.water.window import quiet_window

FIRST_SEED = 100_000
MEASURED = {  # what a careful keeper measures before the first evening
    "tank.length_m", "tank.width_m", "weir.length_m", "box.length_m", "box.width_m", "siphon.inner_diameter_m",
    "siphon.drop_m", "siphon.run_m", "siphon.elbows", "siphon.valve.turns", "channel.inner_diameter_m",
    "channel.drop_m", "channel.crest_height_m", "emergency.rim_height_m", "pump.0.flow_m3_s", "pump.0.head_m",
    "returns.static_head_m",
}


def draw_pair(rng: np.random.Generator, kind: str) -> tuple[Plumbing, Rig]:
    """Return a true plumbing and the description that its keeper gives."""
    while True:
        base = Rig(siphon=Siphon(valve=Valve(kind=kind)), pumps=(Pump(speed_step=0.01),))  # type: ignore[arg-type]
        true_parts: dict[str, Any] = {}
        told_parts: dict[str, Any] = {}
        assumed: set[str] = set()
        for name, part in walk(base):
            true_values, told_values = {}, {}
            for field, measure in measures(part).items():
                default, dotted = getattr(part, field), f"{name}.{field}"
                if default is None or measure.spread == 0.0 or field == "speed":
                    continue
                z = np.clip(rng.standard_normal(2), -2.5, 2.5)
                if dotted in MEASURED:
                    told_values[field] = default * (1 + 0.1 * z[0])
                    error = LABEL_SPREAD if name.startswith("pump") else MEASURED_SPREAD
                    true_values[field] = told_values[field] * (1 + error * z[1])
                else:
                    assumed.add(dotted)
                    true_values[field] = default * (1 + measure.spread * z[0])
            true_parts[name], told_parts[name] = true_values, told_values
        try:
            true, told = _with(base, true_parts), _with(base, told_parts)
        except ConfigError:
            continue
        parameters = {name: float(draw_parameter(name, rng, 1)[0]) for name in PARAMETERS}
        return plumbing_of(true, parameters), replace(told, assumed=frozenset(assumed))


def _with(rig: Rig, values: dict[str, dict[str, Any]]) -> Rig:
    parts = dict(walk(rig))
    valve = replace(parts["siphon.valve"], **values["siphon.valve"])
    siphon = replace(parts["siphon"], valve=valve, **values["siphon"])
    rest = {
        f.name: replace(getattr(rig, f.name), **values[f.name])
        for f in fields(rig) if f.name in values and f.name != "siphon"
    }
    return replace(rig, siphon=siphon, pumps=(replace(rig.pumps[0], **values["pump.0"]),), **rest)


def facts_of(p: Plumbing, rng: np.random.Generator) -> dict[str, Fact | None]:
    """Return what a keeper could measure on the true installation, with the error of doing so."""
    w = quiet_window(p, [1.0], [0.01])
    error = np.hypot(0.0625 if p.valve_kind == "gate" else 2.0, p.valve_backlash)
    slurp, gurgle = float(w.slurp_setting), float(w.setting_low)
    facts: dict[str, Fact | None] = dict.fromkeys(("just slurps", "just gurgles", "slurp period", "return flow"))
    full = float(p.valve_full)
    at = slurp + error * rng.standard_normal()
    if np.isfinite(at) and 0 < at < 0.95 * full:
        facts["just slurps"] = Fact(kind="just slurps", setting=at)
    at = gurgle + error * rng.standard_normal()
    if np.isfinite(at) and 0 < at < 0.95 * full:
        facts["just gurgles"] = Fact(kind="just gurgles", setting=at)
    supply = float(supply_flow_m3_s(p, [1.0]))
    facts["return flow"] = Fact(kind="return flow", flow_m3_s=supply * (1 + 0.04 * rng.standard_normal()))
    over = slurp * 1.08
    if np.isfinite(over) and over < 0.95 * full:
        period = float(slurp_period_s(p, supply, over / full)) * np.exp(0.3 * rng.standard_normal())
        if 0.5 < period < 3600:
            facts["slurp period"] = Fact(kind="slurp period", setting=over, period_s=period)
    return facts


def timings() -> None:
    rig = Rig(pumps=(Pump(speed_step=0.01),))
    p = plumbing_of(rig)
    balance(p, [1.0], 0.37, 0.7)
    for name, opening in (("in the window", 0.37), ("siphon shut, emergency wet", 0.0)):
        t = time.perf_counter()
        for _ in range(200):
            balance(p, [1.0], opening, 0.7)
        print(f"one balance, {name}: {(time.perf_counter() - t) / 200 * 1e3:.2f} ms")
    for name, r in (("no facts", rig), ("one fact", replace(rig, facts=(Fact(kind="just slurps", setting=2.3),)))):
        window_bands(r, np.random.default_rng(FIRST_SEED))
        t = time.perf_counter()
        for i in range(10):
            window_bands(r, np.random.default_rng(FIRST_SEED + i))
        print(f"one banded window, {name}: {(time.perf_counter() - t) / 10 * 1e3:.0f} ms")


def coverage(kind: str, draws: int, first_seed: int) -> None:
    inside: dict[str, list[bool]] = {}
    width: dict[str, list[float]] = {}
    before: dict[str, list[float]] = {}
    absent = strained = 0
    for i in range(draws):
        rng = np.random.default_rng(first_seed + i)
        true, told = draw_pair(rng, kind)
        mid = float(quiet_window(true, [1.0], [0.01]).setting_mid)
        if not np.isfinite(mid):
            absent += 1
            continue
        plain = window_bands(told, rng).setting_mid
        assert plain is not None
        inside.setdefault("described only", []).append(plain.low <= mid <= plain.high)
        width.setdefault("described only", []).append(plain.width)
        before.setdefault("described only", []).append(plain.width)
        for name, fact in facts_of(true, rng).items():
            if fact is None:
                continue
            w = window_bands(replace(told, facts=(fact,)), rng)
            strained += w.facts_strained
            band = w.setting_mid
            assert band is not None
            inside.setdefault(name, []).append(band.low <= mid <= band.high)
            width.setdefault(name, []).append(band.width)
            before.setdefault(name, []).append(plain.width)
    unit = "turn" if kind == "gate" else "degree"
    print(f"{kind} valve, {draws} draws; no window in truth: {absent}; strained fits: {strained}")
    for name, hits in inside.items():
        print(
            f"  {name:15s} n={len(hits):3d}  mid-window inside the 90 % band: {np.mean(hits):6.1%}"
            f"  median width {np.median(width[name]):.2f} {unit} (described only {np.median(before[name]):.2f})"
        )


def run(draws: int, workers: int, first_seed: int) -> None:
    timings()
    for kind in ("gate", "ball"):
        coverage(kind, draws, first_seed)
