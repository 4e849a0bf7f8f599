"""``hushweir log trend``: the same system over months: changes, drifts, and when they will be noticed."""

from __future__ import annotations

import argparse
from dataclasses import asdict
from datetime import datetime, timedelta

import numpy as np

from tuner.causes.rules import load_causes
from tuner.errors import ConfigError
from tuner.logbook.history import Trend, trend_of
from tuner.logbook.rows import Wanted
from tuner.logbook.store import Logbook
from tuner.screens.trendpage import TrendPage, trend_sentence
from tuner.verbs.desk import Desk

SCHEMA = 1
_SEED = 1  # the same logbook gives the same intervals


def run(args: argparse.Namespace, desk: Desk) -> int:
    """Carry out the verb."""
    since = None if args.months is None else desk.clock() - timedelta(days=30.44 * args.months)
    with desk.logbook(args.logbook, look_only=True) as logbook:
        found = trend(logbook, rig_name=args.rig, tag=args.tag, since=since)
    if args.json:
        desk.write_json({"schema": SCHEMA, "sentence": trend_sentence(found), **asdict(found)})
    else:
        desk.page(TrendPage(found))
    return 0


def trend(
    logbook: Logbook, *, rig_name: str | None = None, tag: str | None = None, since: datetime | None = None
) -> Trend:
    """Return the trend of a system, or of the sessions with a tag; by default the system of the latest session."""
    if rig_name is not None and not logbook.sessions(1, Wanted(rig_name=rig_name)):
        names = sorted({s.rig_name for s in logbook.sessions() if s.rig_name})
        raise ConfigError(
            f"rig={rig_name!r} must be that of a session in {logbook.path}: there are {', '.join(names[:12]) or 'none'}"
        )
    return trend_of(
        logbook, Wanted(since=since, tag=tag, rig_name=rig_name), audible_db=load_causes().silence.excess_db,
        rng=np.random.default_rng(_SEED),
    )
