"""``hushweir compare``: before and after, in a sentence and in figures."""

from __future__ import annotations

import argparse
from dataclasses import asdict

import numpy as np

from tuner.logbook.choosing import choose
from tuner.logbook.comparison import Comparison, compare
from tuner.logbook.plainly import sentence
from tuner.logbook.store import Logbook
from tuner.screens.comparepage import ComparePage
from tuner.verbs.desk import Desk
from tuner.verbs.sides import SEED, selected

SCHEMA = 1


def run(args: argparse.Namespace, desk: Desk) -> int:
    """Carry out the verb."""
    before, after = selected(args)
    with desk.logbook(args.logbook, look_only=True) as logbook:
        found = compared(logbook, before, after, same_setup=args.same_setup)
    if args.json:
        desk.write_json({"schema": SCHEMA, "sentence": sentence(found), **asdict(found)})
    else:
        desk.page(ComparePage(found, sentence(found)))
    return 0


def compared(logbook: Logbook, before: str | None, after: str | None, *, same_setup: bool = False) -> Comparison:
    """Choose the two sides in a logbook and compare them."""
    chosen = choose(logbook, before, after)
    return compare(
        chosen.before, chosen.after, moves=chosen.moves, notes=chosen.notes, restarts=chosen.restarts,
        same_setup=same_setup, rng=np.random.default_rng(SEED),
    )
