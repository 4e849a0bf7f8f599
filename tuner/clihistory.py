"""The options of ``hushweir compare``."""

from __future__ import annotations

import argparse

from tuner.clioptions import add_logbook

MORE_ON_COMPARE = (
    "Without selections: the last time it was silent against the latest session. A selection is a session's number"
    " (12: as it was left; 12:start, 12:end, 12:whole), tag:NAME, silent or latest; one number alone compares its start"
    " with its end. Levels are compared only where microphone, place, gain and calibration are the same. For the same"
    " system over months see 'hushweir log trend'."
)


def add_compare(compare: argparse.ArgumentParser) -> None:
    """Add what ``hushweir compare`` takes."""
    compare.add_argument("which", nargs="*", metavar="WHICH", help="what was before, and what is after")
    compare.add_argument("--before", metavar="WHICH", help="what was before, for instance tag:old")
    compare.add_argument("--after", metavar="WHICH", help="what is after, for instance tag:new")
    compare.add_argument(
        "--same-setup", action="store_true",
        help="vouch that microphone, place and gain were the same, whatever their names say",
    )
    compare.add_argument("--json", action="store_true", help="print one JSON object")
    add_logbook(compare)
