"""The flood check: seven failures, their verdicts, and the cautions that go with them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.random import Generator

from tuner.rig import Rig
from tuner.water import failures, spills
from tuner.water.facts import fit, speeds_of
from tuner.water.laws import supply_flow_m3_s
from tuner.water.plumbing import sample_plumbing
from tuner.water.scene import Setup
from tuner.water.verdict import FloodCase, Verdict, worst_of
from tuner.water.window import quiet_window

DRAWS, DRAWS_WITH_FACTS = 1500, 8000
TYPICAL_VENT_OPENING = 0.75
CAUTIONS: tuple[str, ...] = (
    "A computed margin is no test: do the power-cut test and the blocked-siphon test once, attended, with a hand at"
    " the pump's switch, towels and a wet vacuum ready, and again after every change.",
    "The emergency pipe stays dry, open, without a valve, and has its own way to the sump. Never restrict it.",
    "Never close the siphon valve fully while the pumps run unattended.",
    "An anti-siphon hole or a check valve clogs: the sump must hold the water without it.",
    "Every circuit at the tank behind a residual-current device (30 mA, or a ground-fault interrupter of 4-6 mA), a"
    " drip loop in every cord, plugs pulled before hands go in. A tripped device stops the pumps: it is a power cut.",
    "Drains to the building, backflow protection, automatic top-up and fixed wiring are matters of local plumbing and"
    " electrical codes and of licensed trades; this check replaces neither.",
)


@dataclass(frozen=True, slots=True)
class FloodCheck:
    """The seven cases, the worst of their verdicts, and cautions."""

    cases: tuple[FloodCase, ...]
    verdict: Verdict
    cautions: tuple[str, ...]


def flood_check(rig: Rig, rng: Generator, draws: int | None = None, *, us: bool = False) -> FloodCheck:
    """Return the flood check of a rig, over sampled plumbings narrowed by the rig's facts.

    The siphon valve and the tap count at their described settings, or mid-window where none is given; ``us``
    writes sentences in inches and gallons.
    """
    n = draws or (DRAWS_WITH_FACTS if rig.facts else DRAWS)
    p = sample_plumbing(rig, rng, n)
    speeds = speeds_of(rig)
    weights = fit(p, rig.facts, speeds).weights if rig.facts else None
    window = quiet_window(p, speeds, [0.0] * len(speeds))
    valve, channel = rig.siphon.valve, rig.channel
    mid = np.where(np.isfinite(window.opening_mid), window.opening_mid, 1.0)
    setup = Setup(
        rig=rig, plumbing=p, weights=weights, supply_m3_s=window.supply_m3_s,
        full_supply_m3_s=supply_flow_m3_s(p, [1.0] * len(speeds)),
        opening=mid if valve.setting is None else np.minimum(valve.setting / p.valve_full, 1.0),
        vent_opening=TYPICAL_VENT_OPENING if channel.vent_setting is None
        else np.minimum(channel.vent_setting / p.vent_tap_turns, 1.0),
        us=us,
    )
    cases = (
        spills.back_siphon(setup),
        spills.sump_into_tank(setup),
        failures.siphon_blocked(setup),
        failures.channel_blocked_too(setup),
        failures.all_pumps(setup),
        failures.backup_alone(setup),
        failures.power_returns(setup),
    )
    return FloodCheck(cases, worst_of([c.verdict for c in cases]), CAUTIONS)
