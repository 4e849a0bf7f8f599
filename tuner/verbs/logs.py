"""``hushweir log``: the sessions of the logbook, and one of them in full."""

from __future__ import annotations

import argparse
from dataclasses import asdict
from datetime import datetime
from typing import Any

from tuner.logbook.rows import Session, utc_text
from tuner.logbook.store import Logbook
from tuner.screens.logpages import LogList, SessionPage
from tuner.verbs.desk import Desk


def run(args: argparse.Namespace, desk: Desk) -> int:
    """Carry out the verb."""
    with desk.logbook(args.logbook, look_only=True) as logbook:
        if args.log_verb == "show":
            page = page_of(logbook, args.number)
            if args.json:
                desk.write_json(_plain({"schema": 1, **asdict(page), "rig_text": logbook.rig_text(args.number)}))
            else:
                desk.page(page)
            return 0
        sessions = logbook.sessions(None if args.all else args.newest)
        if args.json:
            desk.write_json({"schema": 1, "sessions": [_plain_session(s) for s in sessions]})
        else:
            desk.page(LogList(sessions, logbook.path))
    return 0


def page_of(logbook: Logbook, number: int) -> SessionPage:
    """Gather everything about a session."""
    return SessionPage(
        logbook.session(number), logbook.readings(number), logbook.diagnoses(number), logbook.moves(number),
        logbook.looks(number), logbook.sounds(number), logbook.gaps(number), logbook.notes(number),
    )


def _plain_session(session: Session) -> Any:
    return _plain(asdict(session))


def _plain(value: Any) -> Any:
    if isinstance(value, datetime):
        return utc_text(value)
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    return value
