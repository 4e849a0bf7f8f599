"""``hushweir log``: the sessions of the logbook, and one of them in full."""

from __future__ import annotations

import argparse
from dataclasses import asdict
from datetime import date, datetime, time, timedelta
from typing import Any

from tuner.errors import ConfigError
from tuner.logbook.rows import Session, Wanted, utc_text
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
        wanted = Wanted(_day(args.since, "since"), _after(args.until), args.tag, args.rig)
        sessions = logbook.sessions(None if args.all else args.newest, wanted)
        if args.json:
            desk.write_json({"schema": 1, "sessions": [_plain_session(s) for s in sessions]})
        else:
            desk.page(LogList(sessions, logbook.path))
    return 0


def _day(text: str | None, field: str) -> datetime | None:
    """Return the beginning of a day as the keeper's clock has it."""
    if text is None:
        return None
    try:
        return datetime.combine(date.fromisoformat(text), time()).astimezone()
    except (ValueError, OverflowError) as error:
        raise ConfigError(f"{field}={text!r} must be a day such as 2026-03-01") from error


def _after(text: str | None) -> datetime | None:
    """Return the end of a day, so that the day itself is in."""
    day = _day(text, "until")
    return None if day is None else (day.replace(tzinfo=None) + timedelta(days=1)).astimezone()


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
