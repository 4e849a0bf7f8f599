"""The options of ``hushweir log``."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from tuner.clinumbers import count

_CLIPS = (
    "Clips are kept only when 'listen', 'tune' or 'confirm' is given --keep-clips: a few seconds around plumbing"
    " sounds, never while outside sound is heard. They lie in a folder beside the logbook and are yours alone."
)
_PRIVACY = (
    "What is kept holds no audio unless --keep-clips asked for it: of each second one level, some thirty third-octave"
    " levels and the probability of each sound. Speech lives in changes within tenths of a second and in fine lines of"
    " the spectrum; both are averaged away before anything is written, and no phase is kept, so that words cannot be"
    " rebuilt."
)


def add_log(log: argparse.ArgumentParser) -> None:
    """Add the options and the parts of the verb to its parser."""
    log.epilog = _PRIVACY
    log.set_defaults(log_verb="list")
    log.add_argument("--logbook", type=Path, metavar="PATH", help="the logbook's file (default: in your data folder)")
    log.add_argument("--newest", type=count, default=20, metavar="N", help="list the newest N sessions (default: 20)")
    log.add_argument("--all", action="store_true", help="list all sessions")
    log.add_argument("--tag", metavar="TAG", help="list those with this tag")
    log.add_argument("--since", metavar="DATE", help="list those from this day on (2026-03-01)")
    log.add_argument("--until", metavar="DATE", help="list those up to this day")
    log.add_argument("--rig", metavar="NAME", help="list those of the installation of this name")
    log.add_argument("--json", action="store_true", help="print one JSON object")
    parts = log.add_subparsers(title="what to do", metavar="WHAT", dest="log_verb")
    show = _part(parts, "show", "logs", "show one session in full")
    _number(show)
    _json(show)
    _json(_part(parts, "kept", "log_kept", "show the installations, microphones, rooms and proofs that are kept"))
    note = _part(parts, "note", "log_labels", "add words to a session")
    _number(note)
    note.add_argument("text", metavar="TEXT", help="the words")
    for name, words in (("tag", "put tags on a session"), ("untag", "take tags off a session")):
        part = _part(parts, name, "log_labels", words)
        _number(part)
        part.add_argument("tags", nargs="+", metavar="TAG", help="one or more tags, each a word or two")
    _json(_part(parts, "tags", "log_labels", "list the tags"))
    export = _part(
        parts, "export", "log_export", "write sessions to files that other programs read",
        "CSV and Parquet: a folder with one file a table; JSON: one file. Text that a spreadsheet would take for a"
        " formula gets an apostrophe in front in CSV.",
    )
    export.add_argument("numbers", nargs="*", type=count, metavar="N", help="these sessions only (default: all)")
    export.add_argument("--format", choices=("csv", "json", "parquet"), default="csv", help="default: csv")
    export.add_argument("--out", type=Path, required=True, metavar="PATH", help="the folder or file to write, new")
    export.add_argument("--no-seconds", action="store_true", help="leave out the readings of each second")
    trend = _part(
        parts, "trend", "trend", "follow a system over months: what changed, what drifts, and when it will be heard",
        "Level, open-channel load, periods of slurp and flush, restart time and pump tone, with change points beside"
        " the moves and notes of that time, and drifts that are beyond doubt. Two times are compared by 'hushweir"
        " compare'.",
    )
    trend.add_argument("--rig", metavar="NAME", default=argparse.SUPPRESS,
                       help="the installation of this name (default: that of the latest session)")
    trend.add_argument("--tag", metavar="TAG", default=argparse.SUPPRESS, help="only sessions with this tag")
    trend.add_argument("--months", type=count, metavar="N", help="only the last N months")
    _json(trend)
    take = _part(
        parts, "import", "log_import", "take over the sessions of another logbook",
        "The other logbook is not changed. A session that is here already is not taken twice.",
    )
    take.add_argument("file", type=Path, metavar="FILE", help="the other logbook")
    delete = _part(parts, "delete", "log_delete", "delete sessions with everything that belongs to them, clips too")
    delete.add_argument("numbers", nargs="+", type=count, metavar="N", help="the sessions' numbers")
    _yes(delete)
    clips = _part(parts, "clips", "log_clips", "list the clips of audio that were kept, or delete some", _CLIPS)
    clips.add_argument("numbers", nargs="*", type=count, metavar="N", help="of these sessions only (default: all)")
    clips.add_argument("--delete", action="append", type=count, metavar="CLIP", help="delete the clip of this number")
    clips.add_argument("--delete-all", action="store_true", help="delete all that are listed")
    _yes(clips)
    _json(clips)


def _part(parts: Any, name: str, module: str, words: str, more: str = "") -> argparse.ArgumentParser:
    described = f"{words[0].upper()}{words[1:]}. {more}".rstrip()
    part: argparse.ArgumentParser = parts.add_parser(name, help=words, description=described)
    part.set_defaults(module=module)
    # The parent's value must survive, whichever side of the part an option stands on.
    part.add_argument(
        "--logbook", type=Path, metavar="PATH", default=argparse.SUPPRESS,
        help="the logbook's file (default: in your data folder)",
    )
    return part


def _number(part: argparse.ArgumentParser) -> None:
    part.add_argument("number", type=count, metavar="N", help="the session's number in the list")


def _json(part: argparse.ArgumentParser) -> None:
    part.add_argument("--json", action="store_true", default=argparse.SUPPRESS, help="print one JSON object")


def _yes(part: argparse.ArgumentParser) -> None:
    part.add_argument("--yes", action="store_true", help="do not ask")
