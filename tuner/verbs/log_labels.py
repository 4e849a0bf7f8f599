"""``hushweir log note``, ``tag``, ``untag`` and ``tags``: what a keeper adds to sessions."""

from __future__ import annotations

import argparse

from tuner.screens.words import count_text
from tuner.verbs.desk import Desk


def run(args: argparse.Namespace, desk: Desk) -> int:
    """Carry out the verb."""
    with desk.logbook(args.logbook, must_exist=True, look_only=args.log_verb == "tags") as logbook:
        if args.log_verb == "tags":
            found = logbook.tags()
            if args.json:
                desk.write_json({"schema": 1, "tags": [{"tag": tag, "sessions": n} for tag, n in found]})
                return 0
            for tag, number in found:
                desk.tell(f"{tag:<24} {count_text(number, 'session')}")
            if not found:
                desk.tell("no tags yet: 'hushweir log tag N TAG' puts one")
        elif args.log_verb == "note":
            logbook.note(args.number, args.text)
            desk.tell(f"noted    session {args.number}: {args.text}")
        else:
            change = logbook.tag if args.log_verb == "tag" else logbook.untag
            changed = change(args.number, args.tags)
            tags = ", ".join(logbook.session(args.number).tags) or "no tags"
            word = "tagged" if args.log_verb == "tag" else "untagged"
            desk.tell(f"{word:<8} session {args.number} by {count_text(len(changed), 'tag')}; it has: {tags}")
    return 0
