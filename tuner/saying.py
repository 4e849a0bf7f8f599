"""Figures as people read them: levels with their reference, times, shares and numbers of things."""

from __future__ import annotations

import math


def level_text(level_db: float | None, calibrated: bool) -> str:
    """Return a level with its reference, as the program has to say it.

    >>> level_text(31.24, True), level_text(-52.0, False), level_text(None, False)
    ('31.2 dB(A)', '-52.0 dB(A) re full scale', 'no level')
    """
    if level_db is None or not math.isfinite(level_db):
        return "no level"
    return f"{level_db:.1f} dB(A)" + ("" if calibrated else " re full scale")


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
