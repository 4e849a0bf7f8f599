"""The logbook as flat tables, for other programs: each with its columns and its rows, session by session."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from tuner.logbook.store import Logbook
from tuner.terms import SOUND_KINDS

Row = tuple[Any, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """A table: its name, its columns with their units, and the query that gives a session's rows."""

    name: str
    columns: tuple[str, ...]
    sql: str


def _table(name: str, source: str, columns: Sequence[str], order: str = "") -> Table:
    picked = ", ".join(column.partition(" as ")[0] for column in columns)
    names = tuple(column.partition(" as ")[2] or column for column in columns)
    return Table(name, names, f"SELECT {picked} FROM {source} = ?{order}")


TABLES: tuple[Table, ...] = (
    _table("sessions", "sessions s LEFT JOIN rigs r ON r.id = s.rig_id WHERE s.id", (
        "s.id as session", "s.uid as uid", "s.verb as verb", "r.name as rig", "s.device as device",
        "s.sample_rate_hz as sample_rate_hz", "s.calibrated as calibrated", "s.offset_db as calibration_offset_db",
        "s.place as place", "s.gain as gain", "s.started_utc as started_utc", "s.ended_utc as ended_utc",
        "s.outcome as outcome", "r.text as rig_file",
    )),
    _table("sounds", "sounds WHERE session_id", (
        "session_id as session", "kind", "start_s", "end_s", "level_db", "confidence",
    ), " ORDER BY start_s, id"),
    _table("windows", "diagnoses WHERE session_id", (
        "session_id as session", "id as window", "end_s", "duration_s", "clean_s", "outside_share", "silent",
        "excess_db", "levels as levels_json", "heard as heard_json", "features as features_json",
    ), " ORDER BY end_s, id"),
    _table("causes", "diagnoses d JOIN causes c ON c.diagnosis_id = d.id WHERE d.session_id", (
        "d.session_id as session", "d.id as window", "c.rank as rank", "c.name as cause",
        "c.probability as probability", "c.because as because_json",
    ), " ORDER BY d.end_s, d.id, c.rank"),
    _table("moves", "moves WHERE session_id", (
        "session_id as session", "at_s", "control", "amount", "unit", "wait_s", "why", "expected", "done", "done_s",
        "seen",
    ), " ORDER BY at_s, id"),
    _table("looks", "looks WHERE session_id", (
        "session_id as session", "at_s", "question", "text", "answer",
    ), " ORDER BY at_s, id"),
    _table("gaps", "gaps WHERE session_id", ("session_id as session", "start_s", "length_s", "note"), " ORDER BY id"),
    _table("notes", "notes WHERE session_id", ("session_id as session", "made_utc", "text"), " ORDER BY made_utc, id"),
    _table("tags", "tags WHERE session_id", ("session_id as session", "tag"), " ORDER BY tag"),
    _table("clips", "clips WHERE session_id", (
        "session_id as session", "kind", "start_s", "length_s", "file", "size",
    ), " ORDER BY start_s, id"),
    _table("proofs", "proofs WHERE session_id", (
        "session_id as session", "kind", "made_utc", "device", "sample_rate_hz", "rig_name", "body as body_json",
    ), " ORDER BY id"),
)


def table_rows(logbook: Logbook, table: Table, session: int) -> list[Row]:
    """Return a session's rows of a table."""
    return [tuple(row) for row in logbook.table(table.sql, (session,))]


def all_bands_hz(logbook: Logbook, sessions: Sequence[int]) -> tuple[float, ...]:
    """Return every third-octave centre (Hz) that one of the sessions has, in order."""
    return tuple(sorted({hz for number in sessions for hz in logbook.bands_hz(number)}))


def seconds_columns(bands_hz: Sequence[float]) -> tuple[str, ...]:
    """Return the columns of the table of seconds."""
    return (
        "session", "second", "level_db", "outside_probability", "dropped_samples", "clipped_samples",
        *(f"{kind}_probability" for kind in SOUND_KINDS), *(f"band_{hz:g}_hz_db" for hz in bands_hz),
    )


def seconds_arrays(logbook: Logbook, session: int, bands_hz: Sequence[float]) -> dict[str, np.ndarray]:
    """Return a session's seconds column by column; a level that there is not is NaN."""
    seconds = logbook.seconds(session)
    n = seconds.second.size
    nothing = np.full(n, np.nan)
    columns: list[np.ndarray] = [
        np.full(n, session), seconds.second, seconds.level_db.round(2), seconds.outside, seconds.dropped,
        seconds.clipped,
    ]
    columns += [
        seconds.heard[:, seconds.kinds.index(kind)] if kind in seconds.kinds else nothing for kind in SOUND_KINDS
    ]
    own = {float(hz): i for i, hz in enumerate(seconds.bands_hz)}
    bands = np.where(np.isfinite(seconds.bands_db), seconds.bands_db, np.nan).round(2)
    columns += [bands[:, own[hz]] if hz in own else nothing for hz in bands_hz]
    return dict(zip(seconds_columns(bands_hz), columns, strict=True))


def seconds_rows(logbook: Logbook, session: int, bands_hz: Sequence[float]) -> Iterator[Row]:
    """Return a session's seconds row by row; a level that there is not is None."""
    arrays = seconds_arrays(logbook, session, bands_hz)
    lists = [
        [None if x != x else x for x in column.tolist()] if column.dtype.kind == "f" else column.tolist()
        for column in arrays.values()
    ]
    yield from zip(*lists, strict=True)
