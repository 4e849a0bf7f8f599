"""The same system over months: what changed when, what was done just then, and what drifts.

A course is one figure over time (level, load of the open channel, period of the slurp, restart time, pump tone). Its
change points part it into straight pieces; the last piece's drift, when it is beyond doubt, is carried on to the day
at which it will be noticed. That is a guess with an interval, not a promise: fouling may stop or hurry.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

import numpy as np

from tuner.bounds.changes import is_step, noise, pieces_of
from tuner.bounds.drift import Drift, crossing_of, drift_theil_sen
from tuner.logbook.rows import DatedMove, DatedNote

Change = Literal["step", "bend"]

DAY_S = 86_400.0
MONTH_DAYS = 30.44
LEAST_SPAN_DAYS = 21.0  # a drift within three weeks is the weather
FARTHEST_DAYS = 3 * 365.0  # nobody plans a cleaning further ahead
_BESIDE = timedelta(days=3)
_MOST_BESIDE = 6


@dataclass(frozen=True, slots=True)
class Point:
    """One value of a course: when, how much, and the session that it comes from (None: a proof)."""

    when: datetime
    value: float
    session: int | None = None


@dataclass(frozen=True, slots=True)
class Threshold:
    """A value at which something will be noticed, and what that is, in words."""

    value: float
    words: str


@dataclass(frozen=True, slots=True)
class ChangePoint:
    """A change between two neighbouring values: the course's line before and after it, and what was done about then.

    A step jumps to another value; a bend only drifts otherwise from there on.
    """

    kind: Change
    earliest: datetime
    latest: datetime
    before: float
    after: float
    moves: tuple[DatedMove, ...]
    notes: tuple[DatedNote, ...]


@dataclass(frozen=True, slots=True)
class Noticed:
    """When a drift will be noticed: likely, and at the earliest and latest with 95 % confidence each.

    ``latest`` is None when the data allow that it never will.
    """

    threshold: float
    words: str
    likely: datetime
    earliest: datetime
    latest: datetime | None


@dataclass(frozen=True, slots=True)
class DriftFound:
    """The drift since the last change: from when, over how many values, per month with its 95 % interval.

    ``now`` is the line's value at the last point. ``noticed`` is None unless the drift is sure and leads to a threshold
    within three years.
    """

    since: datetime
    points: int
    per_month: float
    low_per_month: float
    high_per_month: float
    sure: bool
    now: float
    noticed: Noticed | None


@dataclass(frozen=True, slots=True)
class Course:
    """One figure over time with its unit, its changes and its drift (None: too few values, or too short a time)."""

    name: str
    unit: str
    points: tuple[Point, ...]
    changes: tuple[ChangePoint, ...]
    drift: DriftFound | None


def course_of(
    name: str, unit: str, points: Sequence[Point], *, moves: Sequence[DatedMove] = (),
    notes: Sequence[DatedNote] = (), threshold: Threshold | None = None, confidence: float = 0.95,
    rng: np.random.Generator,
) -> Course:
    """Find what changed and what drifts in a figure over time; ``points`` in the order of time."""
    ordered = tuple(sorted(points, key=lambda p: p.when))
    if not ordered:
        return Course(name, unit, (), (), None)
    days = np.array([(p.when - ordered[0].when).total_seconds() / DAY_S for p in ordered])
    values = np.array([p.value for p in ordered])
    pieces = pieces_of(days, values)
    sigma = noise(values)
    changes = []
    for one, other in itertools.pairwise(pieces):
        earliest, latest = ordered[one.last].when, ordered[other.first].when
        from_, to = earliest - _BESIDE, latest + _BESIDE
        changes.append(ChangePoint(
            "step" if is_step(one, other, sigma) else "bend", earliest, latest, one.end, other.start,
            tuple(m for m in moves if from_ <= m.made <= to)[-_MOST_BESIDE:],
            tuple(n for n in notes if from_ <= n.note.made <= to)[-_MOST_BESIDE:],
        ))
    first = pieces[-1].first
    drift = None
    if days[-1] - days[first] >= LEAST_SPAN_DAYS:
        drift = drift_theil_sen(days[first:], values[first:], confidence, rng)
    found = None if drift is None else DriftFound(
        ordered[first].when, values.size - first, drift.slope * MONTH_DAYS, drift.low * MONTH_DAYS,
        drift.high * MONTH_DAYS, drift.is_sure, drift.last,
        _noticed(drift, threshold, ordered[-1].when, confidence) if threshold is not None else None,
    )
    return Course(name, unit, ordered, tuple(changes), found)


def _noticed(drift: Drift, threshold: Threshold, last: datetime, confidence: float) -> Noticed | None:
    crossing = crossing_of(drift, threshold.value, confidence)
    if not drift.is_sure or crossing is None or crossing.likely > FARTHEST_DAYS:
        return None
    late = last + timedelta(days=crossing.late) if crossing.late <= 10 * FARTHEST_DAYS else None
    return Noticed(
        threshold.value, threshold.words, last + timedelta(days=crossing.likely),
        last + timedelta(days=crossing.early), late,
    )
