"""How far a confirmation has come: what silence takes, point by point, and whether each holds so far."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from tuner.silence.judgement import TONAL, Limits, Verdict
from tuner.sound.bands import nominal_name

Standing = Literal["holds", "open", "fails"]


@dataclass(frozen=True, slots=True)
class Point:
    """One thing that silence takes: its name, how it stands, and the figures behind that."""

    name: str
    standing: Standing
    words: str


def points(verdict: Verdict, limits: Limits) -> tuple[Point, ...]:
    """Return how each point stands: undisturbed time, level, third-octaves, sounds of the plumbing."""
    return (_time(verdict, limits), _level(verdict, limits), _bands(verdict, limits), _sounds(verdict, limits))


def _time(verdict: Verdict, limits: Limits) -> Point:
    heard = f"{verdict.clean_s:.0f} s" if verdict.clean_s < 120.0 else f"{verdict.clean_s / 60.0:.1f} min"
    words = f"{heard} undisturbed, {limits.clean_s:.0f} s are the least"
    return Point("time", "holds" if verdict.clean_s >= limits.clean_s else "open", words)


def _level(verdict: Verdict, limits: Limits) -> Point:
    if verdict.high_db is None or verdict.low_db is None:
        return Point("level", "open", "nothing to compare with yet")
    words = f"at most {max(verdict.high_db, 0.0):.1f} dB(A) over the room, {limits.level_db:g} allowed"
    return Point("level", _standing(verdict.low_db, verdict.high_db, limits.level_db), words)


def _bands(verdict: Verdict, limits: Limits) -> Point:
    if not verdict.bands:
        return Point("bands", "open", "nothing to compare with yet")
    worst = max(verdict.bands, key=lambda band: band.high_db)
    least = max(verdict.bands, key=lambda band: band.low_db)
    words = (
        f"worst {nominal_name(worst.hz)} Hz: at most {max(worst.high_db, 0.0):.1f} dB over the room,"
        f" {limits.band_db:g} allowed"
    )
    return Point("bands", _standing(least.low_db, worst.high_db, limits.band_db), words)


def _standing(low_db: float, high_db: float, limit_db: float) -> Standing:
    return "fails" if low_db > limit_db else "open" if high_db > limit_db else "holds"


def _sounds(verdict: Verdict, limits: Limits) -> Point:
    kinds = [kind for kind in verdict.kinds if kind.kind not in TONAL and kind.bouts]
    rate = "" if verdict.per_hour is None else f", fewer than {verdict.per_hour:.0f} an hour"
    if not kinds:
        return Point("sounds", "open" if verdict.per_hour is None else "holds", f"none of the plumbing{rate}")
    listed = ", ".join(f"{kind.kind} {kind.bouts} times" if kind.bouts > 1 else f"{kind.kind} once" for kind in kinds)
    fails = any(kind.bouts >= limits.bouts or kind.presence >= limits.presence for kind in kinds)
    return Point("sounds", "fails" if fails else "open", f"{listed}{rate}")
