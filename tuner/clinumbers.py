"""Numbers on the command line: what each option takes, and what is said when it cannot."""

from __future__ import annotations

import argparse


def _number(text: str, least: float, rule: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not least <= value < 1e7:
        raise argparse.ArgumentTypeError(f"{text!r} must be {rule}")
    return value


def seconds(text: str) -> float:
    """Take a number of seconds."""
    return _number(text, 0.1, "a number of seconds above 0")


def window(text: str) -> float:
    """Take the length of a listening window, in seconds."""
    return _number(text, 5.0, "at least 5 seconds: less is too short to tell sounds apart")


def count(text: str) -> int:
    """Take a whole number from 1 on."""
    value = _number(text, 1, "a whole number from 1 on")
    if value != int(value):
        raise argparse.ArgumentTypeError(f"{text!r} must be a whole number from 1 on")
    return int(value)


def seed(text: str) -> int:
    """Take the number of a simulated rig."""
    value = _number(text, 0, "a whole number from 0 on")
    if value != int(value):
        raise argparse.ArgumentTypeError(f"{text!r} must be a whole number from 0 on")
    return int(value)
