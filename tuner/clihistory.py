"""The options of ``hushweir compare`` and ``hushweir report``."""

from __future__ import annotations

import argparse
from pathlib import Path

from tuner.clioptions import add_logbook

MORE_ON_COMPARE = (
    "Without selections: the last time it was silent against the latest session. A selection is a session's number"
    " (12: as it was left; 12:start, 12:end, 12:whole), tag:NAME, silent or latest; one number alone compares its start"
    " with its end. Levels are compared only where microphone, place, gain and calibration are the same. For the same"
    " system over months see 'hushweir log trend'."
)


def add_compare(compare: argparse.ArgumentParser) -> None:
    """Add what ``hushweir compare`` takes."""
    _add_selections(compare)
    compare.add_argument("--json", action="store_true", help="print one JSON object")
    add_logbook(compare)


MORE_ON_REPORT = (
    "Without selections: the last time it was silent against the latest session, or the latest session alone where"
    " there is nothing to compare it with. Selections are those of 'hushweir compare'. The file holds everything that"
    " it shows: it needs no network and runs no script. Kept clips are in it, unless --no-clips leaves them out."
)


def add_report(report: argparse.ArgumentParser) -> None:
    """Add what ``hushweir report`` takes."""
    _add_selections(report)
    report.add_argument("--alone", action="store_true", help="tell one session by itself, without a before")
    report.add_argument(
        "--out", type=Path, metavar="FILE", help="the page to write (default: hushweir-report-N.html here)"
    )
    report.add_argument("--force", action="store_true", help="replace the file when it is there already")
    report.add_argument("--no-clips", action="store_true", help="leave out the clips of audio that were kept")
    add_logbook(report)


def _add_selections(verb: argparse.ArgumentParser) -> None:
    verb.add_argument("which", nargs="*", metavar="WHICH", help="what was before, and what is after")
    verb.add_argument("--before", metavar="WHICH", help="what was before, for instance tag:old")
    verb.add_argument("--after", metavar="WHICH", help="what is after, for instance tag:new")
    verb.add_argument(
        "--same-setup", action="store_true",
        help="vouch that microphone, place and gain were the same, whatever their names say",
    )
