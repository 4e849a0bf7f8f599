"""``hushweir rig check FILE``: what is missing, what is implausible, and what each assumed figure costs."""

from __future__ import annotations

import argparse
from dataclasses import asdict, fields
from typing import Any

import numpy as np

from tuner.rig import Rig, walk
from tuner.rigfile import key_of, load_rig
from tuner.screens.checkpage import CheckFindings, CheckPage
from tuner.verbs.desk import Desk
from tuner.verbs.flow import SEED, survey
from tuner.water.flood import FloodCheck
from tuner.water.plausible import remarks
from tuner.water.worth import worth_of_facts, worth_of_measures

SCHEMA = 1
_NO_FIGURE = ("valve", "name", "on_backup")


def run(args: argparse.Namespace, desk: Desk) -> int:
    """Carry out the verb."""
    findings = check(load_rig(args.file), str(args.file), us=args.us)
    if args.json:
        desk.write_json(as_json(findings))
    else:
        desk.console.print(CheckPage(findings))
    return 0


def check(rig: Rig, file: str, *, us: bool) -> CheckFindings:
    """Compute everything that the page shows."""
    found = survey(rig, file, us=us)
    window, worth = worth_of_measures(rig, np.random.default_rng(SEED))
    given = [
        f.name
        for name, part in walk(rig)
        for f in fields(part)
        if f.name not in _NO_FIGURE
        and getattr(part, f.name) not in (None, ())
        and f"{name}.{f.name}" not in rig.assumed
    ]
    return CheckFindings(
        rig=rig, file=file, given=len(given),
        remarks=remarks(rig, found.parts, found.window, found.flood, found.stand, us=us), window=window,
        measures=worth, facts=worth_of_facts(rig, np.random.default_rng(SEED)), flood=found.flood,
        flood_needs=flood_needs(rig, found.flood), us=us,
    )


def flood_needs(rig: Rig, flood: FloodCheck) -> dict[str, tuple[int, ...]]:
    """Return, by assumed field, the numbers of the failures whose verdict waits for it."""
    by_key: dict[str, list[int]] = {}
    for number, case in enumerate(flood.cases, 1):
        for words in case.measure if case.verdict == "cannot tell" else ():
            by_key.setdefault(words.partition(":")[0], []).append(number)
    names = {_key(name): name for name in rig.assumed}
    return {names[key]: tuple(numbers) for key, numbers in by_key.items() if key in names}


def _key(dotted: str) -> str:
    head, _, tail = dotted.rpartition(".")
    return f"{head}.{key_of(tail)}"


def as_json(findings: CheckFindings) -> dict[str, Any]:
    """Return the object that ``--json`` prints; the measures stand in the order in which they are worth most."""
    return {
        "schema": SCHEMA,
        "file": findings.file,
        "rig": findings.rig.name,
        "given": findings.given,
        "assumed": sorted(findings.rig.assumed),
        "remarks": [
            {**asdict(remark), "rests_on_assumed": remark.rests_on(findings.rig.assumed)}
            for remark in findings.remarks
        ],
        "window": asdict(findings.window),
        "measures": [
            {**asdict(worth), "flood_cases": findings.flood_needs.get(worth.name, ())} for worth in findings.measures
        ],
        "facts": [asdict(worth) for worth in findings.facts],
    }
