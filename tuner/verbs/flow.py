"""``hushweir flow``: is each pipe big enough, how wide is the quiet window, which control is fine, what floods."""

from __future__ import annotations

import argparse
from dataclasses import asdict
from typing import Any

import numpy as np

from tuner.rig import Rig
from tuner.rigfile import load_rig
from tuner.screens.flowpage import FloodPage, FlowFindings, FlowPage
from tuner.verbs.desk import Desk
from tuner.water.capacity import capacities
from tuner.water.controls import window_bands
from tuner.water.flood import flood_check
from tuner.water.standing import standing

SCHEMA = 1
SEED = 20_000  # the same description gives the same figures each time


def run(args: argparse.Namespace, desk: Desk) -> int:
    """Carry out the verb."""
    findings = survey(load_rig(args.file), str(args.file), us=args.us)
    if args.json:
        desk.write_json(as_json(findings))
        return 0
    desk.console.print(FlowPage(findings))
    if desk.is_live and not args.all:
        desk.console.print("Enter: what floods, and why   q Enter: end  ", end="", style="dim")
        if desk.keys.readline().strip().lower() in ("q", "quit"):
            return 0
    desk.console.print(FloodPage(findings))
    return 0


def survey(rig: Rig, file: str, *, us: bool) -> FlowFindings:
    """Compute everything that the pages show."""

    def rng() -> np.random.Generator:
        return np.random.default_rng(SEED)

    return FlowFindings(
        rig=rig, file=file, parts=capacities(rig, rng(), us=us), window=window_bands(rig, rng(), us=us),
        flood=flood_check(rig, rng(), us=us), stand=standing(rig, rng()), us=us,
    )


def as_json(findings: FlowFindings) -> dict[str, Any]:
    """Return the object that ``--json`` prints; bands have "low", "middle" and "high" (90 %), figures are SI."""
    return {
        "schema": SCHEMA,
        "file": findings.file,
        "rig": findings.rig.name,
        "assumed": sorted(findings.rig.assumed),
        "parts": [asdict(part) for part in findings.parts],
        "window": asdict(findings.window),
        "water": asdict(findings.stand),
        "flood": asdict(findings.flood),
    }
