"""Figures and moves as people read them: levels with their reference, times, and a step in large words."""

from __future__ import annotations

import math

from tuner.terms import Control, Step
from tuner.units import amount_text

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


def level_text(level_db: float | None, calibrated: bool) -> str:
    """Return a level with its reference, as the program has to say it.

    >>> level_text(31.24, True), level_text(-52.0, False), level_text(None, False)
    ('31.2 dB(A)', '-52.0 dB(A) re full scale', 'no level')
    """
    if level_db is None or not math.isfinite(level_db):
        return "no level"
    return f"{level_db:.1f} dB(A)" + ("" if calibrated else " re full scale")


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


def clock_text(seconds: float) -> str:
    """Return a time from the start as minutes and seconds, with hours where there are any.

    >>> clock_text(5.9), clock_text(3725)
    ('00:05', '1:02:05')
    """
    whole = int(max(0.0, seconds))
    hours, rest = divmod(whole, 3600)
    return f"{hours}:{rest // 60:02d}:{rest % 60:02d}" if hours else f"{rest // 60:02d}:{rest % 60:02d}"


def duration_text(seconds: float) -> str:
    """Return a stretch of time for people.

    >>> duration_text(45.2), duration_text(90), duration_text(7320)
    ('45 s', '1 min 30 s', '2 h 2 min')
    """
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min" + (f" {whole % 60} s" if whole % 60 else "")
    return f"{whole // 3600} h" + (f" {whole % 3600 // 60} min" if whole % 3600 // 60 else "")


def percent_text(share: float) -> str:
    """Return a probability in whole percent, never 100 and never 0 unless it is exactly that.

    >>> percent_text(0.834), percent_text(0.999), percent_text(0.001)
    ('83 %', '99 %', '1 %')
    """
    whole = round(100 * share)
    if 0.0 < share < 1.0:
        whole = min(99, max(1, whole))
    return f"{whole} %"


def count_text(count: int, noun: str) -> str:
    """Return a number of things.

    >>> count_text(1, "sound"), count_text(0, "move")
    ('1 sound', '0 moves')
    """
    return f"{count} {noun}" + ("" if count == 1 else "s")
