"""Figures and moves as people read them: levels with their reference, times, and a step in large words."""

from __future__ import annotations

import math

from tuner.saying import clock_text, count_text, duration_text, level_text, percent_text
from tuner.terms import Control, Step
from tuner.units import amount_text

__all__ = [
    "change_text", "clock_text", "count_text", "done_text", "duration_text", "level_text", "move_banner", "move_text",
    "over_room_text", "percent_text",
]

_WAYS: dict[Control, tuple[str, str, str, str]] = {
    # control: (small: more, small: less, large: more, large: less)
    "siphon valve": ("open the siphon valve by", "close the siphon valve by", "OPEN SIPHON", "CLOSE SIPHON"),
    "vent tap": ("open the vent tap by", "close the vent tap by", "OPEN VENT", "CLOSE VENT"),
    "return pump": ("speed the return pump up by", "slow the return pump down by", "PUMP FASTER", "PUMP SLOWER"),
}


def done_text(step: Step, amount: float) -> str:
    """Return what was done, or is to be done, with the control of a step.

    >>> done_text(Step("siphon valve", -0.125, "turn", 20.0, "it gulps air"), -0.125)
    'close the siphon valve by 1/8 turn'
    """
    more, less, _, _ = _WAYS[step.control]
    return f"{more if amount > 0 else less} {amount_text(amount, step.unit)}"


def move_text(step: Step) -> str:
    """Return a step in one short line; a step without an amount is a job for the hands."""
    return "a job by hand" if step.amount == 0 else done_text(step, step.amount)


def move_banner(step: Step) -> tuple[str, ...]:
    """Return a step as the two lines of a large sign.

    >>> move_banner(Step("vent tap", 0.25, "turn", 20.0, "it flushes"))
    ('OPEN VENT', '1/4 TURN')
    """
    if step.amount == 0:
        return ("BY HAND",)
    _, _, more, less = _WAYS[step.control]
    return (more if step.amount > 0 else less, amount_text(step.amount, step.unit).upper())


def over_room_text(level_db: float | None, floor_db: float | None) -> str:
    """Return how far a level lies over the room, or "" where either is not known.

    >>> over_room_text(40.0, 31.5), over_room_text(40.0, None)
    ('8.5 dB over the room', '')
    """
    if level_db is None or floor_db is None or not math.isfinite(level_db) or not math.isfinite(floor_db):
        return ""
    over = level_db - floor_db
    return f"{over:.1f} dB over the room" if over >= 0 else f"{-over:.1f} dB under the room"


def change_text(before_db: float | None, after_db: float | None) -> str:
    """Return what a change of level was.

    >>> change_text(50.0, 44.8), change_text(50.0, 50.02), change_text(None, 44.8)
    ('5.2 dB quieter', 'as loud as before', '')
    """
    if before_db is None or after_db is None or not math.isfinite(before_db) or not math.isfinite(after_db):
        return ""
    change = round(after_db - before_db, 1)
    if change == 0:
        return "as loud as before"
    return f"{abs(change):.1f} dB {'louder' if change > 0 else 'quieter'}"
