"""Logbooks for tests, with sessions that hold one of everything."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

from tuner.logbook.store import Logbook, Opening
from tuner.terms import Cause, Diagnosis, Floor, Heard, Levels, Moment, Question, Reading, Sound, Step

FIRST = datetime(2026, 3, 1, 18, tzinfo=UTC)
LEVELS = Levels(40.0, 42.0, 39.0, 37.0, 47.0, (100.0, 125.0), (20.0, 21.0))
HOSTILE = "=cmd|' /C calc'!A0 <script>alert(1)</script> \"q\" ../../etc/passwd \x1b]0;owned\x07\x1b[2J\n'; DROP TABLE x"


class Days:
    """A clock that a test sets to a day."""

    def __init__(self) -> None:
        self.now = FIRST

    def __call__(self) -> datetime:
        return self.now

    def day(self, number: int) -> None:
        self.now = FIRST + timedelta(days=number)


def fill(path: Path, days: range = range(2), *, words: str = "Kelpie") -> None:
    """Write a session a day, with one of everything, and a floor and a check that no session made."""
    clock = Days()
    with Logbook(path, clock=clock) as logbook:
        floor = logbook.keep_floor(Floor(LEVELS, 30.0, 29.0), words, 48_000, words)
        check = logbook.keep_proof("microphone check", words, 48_000, {"honest": True})
        for day in days:
            clock.day(day)
            opening = Opening(
                "tune", words, 48_000, rig_name=words, rig_text=f"name = {words!r}", floor_id=floor, note=words,
                place=words, gain="60 %", check_id=check, tags=("before",),
            )
            with logbook.begin(opening) as entry:
                for i in range(10):
                    at_s = i / 2
                    entry.moment(Moment(at_s, at_s + 0.5, 40.0 + day, (100.0, 125.0), (20.0, 21.0), {"hum": 0.5}, 0.0))
                entry.sound(Sound("gurgle", 1.0, 2.0, 44.0, 0.9))
                reading = Reading(
                    5.0, 5.0, LEVELS, (), (Heard("slurp", 0.2, 0.3, 6.0, 8.0, 1),), 6.5, 0.1, features={"tilt": 1.5}
                )
                cause = Cause("siphon over-closed", 0.8, ("it gurgles",))
                entry.diagnosis(Diagnosis(False, (), (cause,), reading), 5.0)
                move = entry.advised(Step("siphon valve", 0.125, "turn", 20.0, "why", "what"), 5.0)
                entry.looked(Question("box", "how high?", ("low", "high")), "low", 5.5)
                entry.done(move, 0.25, 6.0)
                entry.seen(move, "3.1 dB quieter")
                entry.gap(6.0, 0.5, words)
                entry.close("silent")
            logbook.keep_proof("confirmation", words, 48_000, {"outcome": "silent"}, words, session=entry.id)
