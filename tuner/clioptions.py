"""Options that several verbs share."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from tuner.clinumbers import count


def add_microphone(parser: argparse.ArgumentParser) -> None:
    """Add the options that choose a microphone."""
    parser.add_argument(
        "--device", metavar="NAME", help="the microphone: its number or part of its name ('hushweir mic' lists them)"
    )
    parser.add_argument("--rate", type=count, metavar="HZ", help="sample rate of the microphone (default: its own)")


def add_knowledge(parser: argparse.ArgumentParser) -> None:
    """Add the options that say what is known: the rig and the room."""
    parser.add_argument("--rig", type=Path, metavar="FILE", help="the description of your installation")
    parser.add_argument(
        "--floor", type=Path, metavar="FILE", help="a recording of the room with the pumps off, by the same microphone"
    )


def add_plain(parser: argparse.ArgumentParser) -> None:
    """Add the options of a verb that can draw a full screen."""
    parser.add_argument("--plain", action="store_true", help="print lines instead of drawing a full screen")
    parser.add_argument(
        "--theme", choices=("auto", "dark", "light"), default="auto", help="colours of the full screen (default: auto)"
    )


def add_logbook(
    parser: argparse.ArgumentParser, words: str = "the logbook's file (default: in your data folder)",
    default: Any = None,
) -> None:
    """Add the option that names the logbook."""
    parser.add_argument("--logbook", type=Path, metavar="PATH", default=default, help=words)


def add_marks(parser: argparse.ArgumentParser) -> None:
    """Add the options that say how a session is to be known later, and what may be kept of it."""
    parser.add_argument("--place", default="", metavar="TEXT", help="where the microphone stands, in your words")
    parser.add_argument("--gain", default="", metavar="TEXT", help="how far it is turned up, in your words: '60 %%'")
    parser.add_argument("--tag", action="append", default=[], metavar="TAG", help="tag the session; may be repeated")
    parser.add_argument(
        "--keep-clips", action="store_true",
        help="keep a few seconds of audio around plumbing sounds, never while outside sound is heard (default: none)",
    )
