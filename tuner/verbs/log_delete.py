"""``hushweir log delete``: sessions with everything that belongs to them, after a question."""

from __future__ import annotations

import argparse

from tuner.errors import ConfigError
from tuner.screens.words import count_text, duration_text
from tuner.verbs.desk import Desk


def run(args: argparse.Namespace, desk: Desk) -> int:
    """Carry out the verb; the exit code is 1 when the keeper thought better of it."""
    with desk.logbook(args.logbook, must_exist=True) as logbook:
        sessions = [logbook.session(number) for number in dict.fromkeys(args.numbers)]
        for s in sessions:
            about = f"{s.verb} on {s.started.astimezone():%Y-%m-%d %H:%M}, {duration_text(s.seconds)}"
            notes = count_text(len(logbook.notes(s.id)), "note")
            desk.tell(f"session  {s.id}: {about}, {notes}, {count_text(s.clips, 'clip')}")
        if not agreed(f"delete {count_text(len(sessions), 'session')} for good?", desk, yes=args.yes):
            return 1
        for s in sessions:
            logbook.delete(s.id)
        desk.tell(f"deleted  {count_text(len(sessions), 'session')}; the file keeps its size and fills the room anew")
    return 0


def agreed(question: str, desk: Desk, *, yes: bool) -> bool:
    """Ask; raises ConfigError where nobody can answer and ``yes`` does not say it beforehand."""
    if yes:
        return True
    if not desk.keys.isatty():
        raise ConfigError(f"{question} Nobody can answer here: add --yes to say so, nothing was deleted")
    desk.console.print(f"{question} [y/N] ", end="")
    answer = desk.keys.readline().strip().lower()
    if answer not in ("y", "yes"):
        desk.tell("nothing was deleted")
        return False
    return True
