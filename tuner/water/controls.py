"""How wide the quiet window is in each control, as bands, and which control is fine enough to park in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from tuner.rig import Rig
from tuner.terms import Control, Unit
from tuner.units import flow_text, turns_text
from tuner.water.band import Band, band_of, share_of
from tuner.water.facts import fit, speeds_of
from tuner.water.plumbing import sample_plumbing
from tuner.water.window import QuietWindow, quiet_window, step_of

DRAWS, DRAWS_WITH_FACTS = 2000, 16000
FINEST_STEP = {"gate": 0.0625, "ball": 2.0}  # what a hand can set: a sixteenth turn, 2 degrees; common practice
STEPS_WANTED = 3.0  # a middle step with a quiet neighbour on either side
SURE = 0.8
Fineness = Literal["fine enough", "too coarse", "perhaps"]


@dataclass(frozen=True, slots=True)
class ControlFineness:
    """One control: its finest practical step, the flow it moves, how many such steps the window holds."""

    control: Control
    step: float
    unit: Unit
    flow_m3_s: Band
    steps_in_window: Band
    fineness: Fineness


@dataclass(frozen=True, slots=True)
class WindowBands:
    """The quiet window as 90 % bands; None where no draw can tell.

    Settings and vent in turns (gate valve, tap) or degrees (ball valve) from closed; speeds as multiples of the
    present ones, with the valve mid-window; ``exists_share`` is the share of draws that have a window at all.
    """

    unit: Unit
    exists_share: float
    supply_m3_s: Band
    width_m3_s: Band | None
    setting_low: Band | None
    setting_high: Band | None
    setting_mid: Band | None
    setting_width: Band | None
    slurp_setting: Band | None
    step: float
    step_m3_s: Band | None
    speed_low: Band | None
    speed_high: Band | None
    speed_width_percent: Band | None
    vent_low_turns: Band | None
    vent_high_turns: Band | None
    vent_mid_turns: Band | None
    controls: tuple[ControlFineness, ...]
    advice: str
    facts_used: int
    facts_strained: bool


def window_bands(
    rig: Rig, rng: Generator, speeds: Sequence[float] | None = None, draws: int | None = None, *, us: bool = False
) -> WindowBands:
    """Return the quiet window of a rig with its uncertainty, narrowed by the rig's facts.

    ``speeds`` (one per pump) stand in for the present ones; ``us`` writes flows in gallons.
    """
    n = draws or (DRAWS_WITH_FACTS if rig.facts else DRAWS)
    p = sample_plumbing(rig, rng, n)
    fitted = fit(p, rig.facts, speeds_of(rig))
    kept = fitted.weights if rig.facts else None
    vent = None if rig.channel.vent_setting is None else rig.channel.vent_setting / rig.channel.vent_tap_turns
    now = tuple(speeds) if speeds is not None else speeds_of(rig)
    w = quiet_window(p, now, [pump.speed_step for pump in rig.pumps], vent)
    exists = share_of(w.exists, kept)
    controls = _controls(rig, w, kept)
    supply = band_of(np.broadcast_to(w.supply_m3_s, (n,)), kept)
    if supply is None:
        raise AssertionError("a supply is always finite")

    def band(values: Any) -> Band | None:
        return band_of(np.broadcast_to(values, (n,)), kept)

    return WindowBands(
        unit="turn" if rig.siphon.valve.kind == "gate" else "degree", exists_share=exists, supply_m3_s=supply,
        width_m3_s=band(w.width_m3_s), setting_low=band(w.setting_low), setting_high=band(w.setting_high),
        setting_mid=band(w.setting_mid), setting_width=band(w.setting_width), slurp_setting=band(w.slurp_setting),
        step=step_of(rig.siphon.valve.kind), step_m3_s=band(w.step_m3_s),
        speed_low=band(w.speed_low), speed_high=band(w.speed_high),
        speed_width_percent=band(100 * (w.speed_high - w.speed_low)),
        vent_low_turns=band(w.vent_low_turns), vent_high_turns=band(w.vent_high_turns),
        vent_mid_turns=band(w.vent_mid_turns),
        controls=controls, advice=_advice(rig, exists, controls, us),
        facts_used=len(rig.facts), facts_strained=fitted.strained,
    )


def _controls(rig: Rig, w: QuietWindow, weights: NDArray[np.float64] | None) -> tuple[ControlFineness, ...]:
    """Judge the siphon valve, and every pump whose speed can be set."""
    kind = rig.siphon.valve.kind
    finest = FINEST_STEP[kind]
    found = [
        _fineness("siphon valve", finest, "turn" if kind == "gate" else "degree",
                  w.step_m3_s * finest / step_of(kind), w, weights)
    ]
    for pump, moved in zip(rig.pumps, w.speed_step_m3_s, strict=True):
        if pump.speed_step > 0:
            found.append(_fineness("return pump", 100 * pump.speed_step, "percent", moved, w, weights))
    return tuple(f for f in found if f is not None)


def _fineness(
    control: Control, step: float, unit: Unit, moved: Any, w: QuietWindow, weights: NDArray[np.float64] | None
) -> ControlFineness | None:
    width = np.where(w.exists, w.width_m3_s, 0.0)
    moves = np.where(np.isfinite(moved) & (np.asarray(moved) > 0), moved, np.nan)
    steps = width / moves
    flow, held = band_of(moves, weights), band_of(steps, weights)
    if flow is None or held is None:
        return None
    share = share_of(np.nan_to_num(steps, nan=0.0) >= STEPS_WANTED, weights)
    fineness: Fineness = "fine enough" if share >= SURE else "too coarse" if share <= 1 - SURE else "perhaps"
    return ControlFineness(control, step, unit, flow, held, fineness)


def _step_text(c: ControlFineness) -> str:
    if c.unit == "turn":
        return turns_text(c.step)
    return f"{c.step:g} degrees" if c.unit == "degree" else f"{c.step:g} % of speed"


def _advice(rig: Rig, exists: float, controls: tuple[ControlFineness, ...], us: bool) -> str:
    """Return one sentence: which control to park with."""
    if exists <= 1 - SURE or not controls:
        return (
            "There is hardly a quiet window: even fully open the siphon leaves the open channel more than it can"
            " take quietly, or the pump swings more than the window is wide. Slow the pump, or widen the pipes."
        )
    valve, pumps = controls[0], controls[1:]
    best_pump = min(pumps, key=lambda c: c.flow_m3_s.middle, default=None)
    told = f"{_step_text(valve)} of the siphon valve moves {flow_text(valve.flow_m3_s.middle, us=us)}"
    if valve.fineness == "fine enough":
        held = f"the window holds {valve.steps_in_window.middle:.0f} such steps"
        return f"The siphon valve is fine enough: {told}, and {held}."
    if best_pump is not None and best_pump.flow_m3_s.middle < valve.flow_m3_s.middle:
        return (
            f"Set the siphon valve roughly and park with the pump: {told}, {_step_text(best_pump)} only"
            f" {flow_text(best_pump.flow_m3_s.middle, us=us)}."
        )
    other = "a gate valve" if rig.siphon.valve.kind == "ball" else "a valve with more turns"
    return f"The siphon valve is {valve.fineness}: {told}. A pump with fine speed steps, or {other}, would park it."
