"""The courses of a system as the logbook has them: which sessions belong together, and their figures over time.

Levels are those of sessions that may be compared with the latest one (the same microphone, place, gain and
calibration); what does not depend on the scale comes from every session of the system.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from statistics import median

import numpy as np

from tuner.errors import ConfigError
from tuner.logbook.digest import Digest
from tuner.logbook.rows import DatedMove, DatedNote, Session, Wanted
from tuner.logbook.store import Logbook
from tuner.logbook.trend import Course, Point, Threshold, course_of

CHANNEL_LOAD = "channel load"
"""The named number under which a tuning keeps the open channel's believed share of the flow (0-1)."""

LEAST_S = 16
_LEAST_POINTS = 3
_MOST_PROOFS = 5000
_HIGHEST_PUMP_TONE_HZ = 1600.0
_SAME_OFFSET_DB = 0.05


@dataclass(frozen=True, slots=True)
class Trend:
    """The courses of one system over a time; ``left_out`` says which sessions' levels are not in it, and why."""

    rig_name: str
    device: str
    calibrated: bool
    began: datetime
    ended: datetime
    sessions: int
    left_out: tuple[str, ...]
    courses: tuple[Course, ...]


def trend_of(
    logbook: Logbook, wanted: Wanted, *, audible_db: float, rng: np.random.Generator
) -> Trend:
    """Return the courses of the sessions that are asked for.

    Without a rig's name in ``wanted`` the system is that of the latest session. ``audible_db`` is how far over the room
    the level counts as audible.

    Raises ConfigError when fewer than three sessions are left.
    """
    sessions = [s for s in logbook.sessions(wanted=wanted) if s.seconds >= LEAST_S and s.verb != "floor"]
    heard = [s for s in sessions if s.verb != "restart"]
    latest = heard[0] if heard else None
    if latest is not None and wanted.rig_name is None:
        sessions = [s for s in sessions if s.rig_name == latest.rig_name]
        heard = [s for s in heard if s.rig_name == latest.rig_name]
    if latest is None or len(heard) < _LEAST_POINTS:
        raise ConfigError(
            f"sessions={len(heard)} must be at least {_LEAST_POINTS} for a trend: listen now and then, or ask for more"
            f" of {logbook.path}"
        )
    digests = {s.id: logbook.digest(s.id) for s in heard}
    level, left_out = _same_scale(heard, latest)
    whose = Wanted(since=wanted.since, until=wanted.until, rig_name=latest.rig_name or None)
    build = _Builder(logbook.dated_moves(whose), logbook.dated_notes(whose), rng)
    room_db = _room_db(level, digests)
    courses = [
        build.course("level", "dB(A)" if latest.calibrated else "dB(A) re full scale", _levels(level, digests),
                     None if room_db is None else Threshold(room_db + audible_db, "it will be heard over the room")),
        build.course("open channel load", "% of flow", _figures(heard, digests, _load),
                     Threshold(0.0, "the open channel will run dry and the siphon slurp")),
        build.course("slurp period", "s", _figures(heard, digests, lambda d: _period(d, "slurp")), None),
        build.course("flush period", "s", _figures(heard, digests, lambda d: _period(d, "flush")), None),
        build.course("restart time", "s", _restarts(logbook, wanted, latest), None),
        build.course("pump tone", "Hz", _tones(logbook, wanted, latest), None),
    ]
    return Trend(
        latest.rig_name, latest.device, latest.calibrated, heard[-1].started, latest.started, len(heard), left_out,
        tuple(course for course in courses if len(course.points) >= _LEAST_POINTS),
    )


@dataclass(frozen=True, slots=True)
class _Builder:
    moves: tuple[DatedMove, ...]
    notes: tuple[DatedNote, ...]
    rng: np.random.Generator

    def course(self, name: str, unit: str, points: list[Point], threshold: Threshold | None) -> Course:
        return course_of(
            name, unit, points, moves=self.moves, notes=self.notes, threshold=threshold, rng=self.rng
        )


def _same_scale(sessions: list[Session], latest: Session) -> tuple[list[Session], tuple[str, ...]]:
    """Return the sessions whose levels stand on the latest one's scale, and why the others were left out."""
    kept: list[Session] = []
    out: dict[str, int] = {}
    for s in sessions:
        reason = ""
        if s.device != latest.device:
            reason = "with another microphone"
        elif s.calibrated != latest.calibrated:
            reason = "calibrated" if s.calibrated else "not calibrated"
        elif s.place and latest.place and s.place.casefold() != latest.place.casefold():
            reason = "with another place"
        elif s.gain and latest.gain and s.gain != latest.gain and not (s.calibrated and _other_offset(s, latest)):
            reason = "with another gain"
        if reason:
            out[reason] = out.get(reason, 0) + 1
        else:
            kept.append(s)
    return kept, tuple(f"{count} {reason}" for reason, count in out.items())


def _other_offset(one: Session, other: Session) -> bool:
    if one.offset_db is None or other.offset_db is None:
        return False
    return abs(one.offset_db - other.offset_db) > _SAME_OFFSET_DB


def _levels(sessions: list[Session], digests: dict[int, Digest]) -> list[Point]:
    """Return the level of each session; of a tuning only what it ended with."""
    points = []
    for s in sessions:
        value = s.last_laeq_db if s.moves else digests[s.id].laeq_db
        if value is not None:
            points.append(Point(s.started, value, s.id))
    return points


def _room_db(sessions: list[Session], digests: dict[int, Digest]) -> float | None:
    """Return the room's level as the latest sessions with one knew it, None where none did."""
    rooms = [
        level - excess for s in sessions[:30]
        if (level := digests[s.id].laeq_db) is not None and (excess := digests[s.id].excess_db) is not None
    ]
    return float(median(rooms)) if rooms else None


def _figures(
    sessions: list[Session], digests: dict[int, Digest], figure: Callable[[Digest], float | None]
) -> list[Point]:
    return [Point(s.started, value, s.id) for s in sessions if (value := figure(digests[s.id])) is not None]


def _load(digest: Digest) -> float | None:
    share = digest.features.get(CHANNEL_LOAD)
    return None if share is None else 100.0 * share


def _period(digest: Digest, kind: str) -> float | None:
    found = digest.kinds.get(kind)
    return None if found is None else found.period_s


def _restarts(logbook: Logbook, wanted: Wanted, latest: Session) -> list[Point]:
    """Return the middle time to the siphon's catch of each rehearsed restart."""
    points = []
    for proof in logbook.proofs("restart", rig_name=latest.rig_name, newest=_MOST_PROOFS):
        times = [start["catches_s"] for start in proof.body.get("starts", []) if start["catches_s"] is not None]
        if times and _within(proof.made, wanted):
            points.append(Point(proof.made, float(median(times)), proof.session))
    return points


def _tones(logbook: Logbook, wanted: Wanted, latest: Session) -> list[Point]:
    """Return the strongest low tone of each confirmation."""
    points = []
    for proof in logbook.proofs("confirmation", rig_name=latest.rig_name, newest=_MOST_PROOFS):
        body = proof.body.get("verdict", proof.body)
        tones = [t for t in body.get("tones", []) if t["frequency_hz"] <= _HIGHEST_PUMP_TONE_HZ]
        if tones and _within(proof.made, wanted):
            strongest = max(tones, key=lambda t: float(t["level_db"]))
            points.append(Point(proof.made, float(strongest["frequency_hz"]), proof.session))
    return points


def _within(moment: datetime, wanted: Wanted) -> bool:
    return (wanted.since is None or moment >= wanted.since) and (wanted.until is None or moment < wanted.until)
