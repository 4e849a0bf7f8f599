"""``hushweir log import``: the sessions of another logbook, each once."""

from __future__ import annotations

import argparse
from collections import Counter

from tuner.screens.words import count_text
from tuner.verbs.desk import INTERRUPTED, Desk


def run(args: argparse.Namespace, desk: Desk) -> int:
    """Carry out the verb; the exit code is 1 when a session was not taken as it is there."""
    fates: Counter[str] = Counter()
    with desk.logbook(args.logbook) as logbook:
        code = 0
        try:
            for taken in logbook.take_over(args.file):
                fates[taken.fate] += 1
                if taken.fate == "differs":
                    desk.say(
                        f"session {taken.there} there and {taken.here} here are the same one but differ"
                        f" ({taken.why}): the one here is kept; delete it and import again to have the other"
                    )
                elif taken.fate == "unreadable":
                    desk.say(f"session {taken.there} there was left out: {taken.why}")
                if fates.total() % 50 == 0:
                    desk.tell(f"         {count_text(fates.total(), 'session')} looked at")
        except KeyboardInterrupt:
            code = INTERRUPTED
        desk.tell(
            f"imported {count_text(fates['new'], 'session')} into {logbook.path};"
            f" {fates['known'] + fates['enriched'] + fates['differs']} were here already,"
            f" {fates['enriched']} of them with new notes or tags"
        )
        if code:
            desk.tell("stopped  the rest is not taken yet: import again to go on")
    return code or (1 if fates["differs"] or fates["unreadable"] else 0)
