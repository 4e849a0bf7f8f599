"""Finding in the logbook: sessions by what they were, and moves, notes, floors and proofs across sessions."""

from __future__ import annotations

import json
import sqlite3
from typing import Any

from tuner.errors import LogbookError
from tuner.logbook import rows
from tuner.logbook.content import MOVE_COLUMNS
from tuner.terms import Floor

_SESSIONS = """
SELECT s.id, s.verb, coalesce(r.name, ''), s.device, s.sample_rate_hz, s.calibrated, s.started_utc, s.ended_utc,
    s.outcome,
    coalesce((SELECT max(second) + 1 FROM readings WHERE session_id = s.id), 0),
    (SELECT count(*) FROM sounds WHERE session_id = s.id),
    (SELECT count(*) FROM moves WHERE session_id = s.id AND done != 0),
    (SELECT count(*) FROM gaps WHERE session_id = s.id),
    d.silent, d.levels, coalesce(c.name, ''),
    s.uid, s.place, s.gain, s.offset_db, s.floor_id, s.check_id, s.calibration_id,
    (SELECT count(*) FROM clips WHERE session_id = s.id),
    coalesce((SELECT group_concat(tag, char(10)) FROM tags WHERE session_id = s.id), '')
FROM sessions s
LEFT JOIN rigs r ON r.id = s.rig_id
LEFT JOIN diagnoses d ON d.id = (SELECT id FROM diagnoses WHERE session_id = s.id ORDER BY end_s DESC, id DESC LIMIT 1)
LEFT JOIN causes c ON c.diagnosis_id = d.id AND c.rank = 0
"""
_NEWEST_FIRST = " ORDER BY s.started_utc DESC, s.id DESC LIMIT ?"


def _where(wanted: rows.Wanted) -> tuple[str, list[Any]]:
    """Return the condition on ``s`` (sessions) and ``r`` (rigs) with its values."""
    clauses: list[str] = []
    values: list[Any] = []
    for clause, value in (
        ("s.started_utc >= ?", rows.utc_text(wanted.since) if wanted.since else None),
        ("s.started_utc < ?", rows.utc_text(wanted.until) if wanted.until else None),
        ("EXISTS (SELECT 1 FROM tags t WHERE t.session_id = s.id AND t.tag = ?)", wanted.tag),
        ("r.name = ?", wanted.rig_name),
        ("s.device = ?", wanted.device),
        ("s.place = ?", wanted.place),
        ("s.verb = ?", wanted.verb),
    ):
        if value is not None:
            clauses.append(clause)
            values.append(value)
    return (" WHERE " + " AND ".join(clauses) if clauses else ""), values


def sessions(connection: sqlite3.Connection, newest: int | None, wanted: rows.Wanted) -> tuple[rows.Session, ...]:
    """Return the sessions that are asked for, newest first, at most ``newest`` of them."""
    where, values = _where(wanted)
    found = connection.execute(_SESSIONS + where + _NEWEST_FIRST, (*values, -1 if newest is None else newest))
    return tuple(_session(row) for row in found)


def session(connection: sqlite3.Connection, number: int) -> rows.Session | None:
    """Return one session, or None when there is no such number."""
    found = connection.execute(_SESSIONS + " WHERE s.id = ?", (number,)).fetchone()
    return None if found is None else _session(found)


def _session(row: Any) -> rows.Session:
    (number, verb, rig, device, rate, calibrated, started, ended, outcome, seconds, sounds, moves, gaps, silent, levels,
     cause, uid, place, gain, offset_db, floor_id, check_id, calibration_id, clips, tags) = row
    return rows.Session(
        number, verb, rig, device, rate, bool(calibrated), rows.utc_of(started),
        rows.utc_of(ended) if ended else None, outcome, seconds, sounds, moves, gaps,
        None if silent is None else bool(silent),
        rows.levels_of(levels).laeq_db if levels else None, cause,
        uid, place, gain, offset_db, floor_id, check_id, calibration_id, clips,
        tuple(sorted(tags.split("\n"))) if tags else (),
    )


def dated_moves(connection: sqlite3.Connection, wanted: rows.Wanted) -> tuple[rows.DatedMove, ...]:
    """Return the moves that were done in the sessions that are asked for, in the order of time."""
    where, values = _where(wanted)
    columns = ", ".join(f"m.{name}" for name in MOVE_COLUMNS.split(", "))
    found = connection.execute(
        f"SELECT s.id, s.started_utc, {columns} FROM sessions s LEFT JOIN rigs r ON r.id = s.rig_id"
        f" JOIN moves m ON m.session_id = s.id AND m.done != 0{where} ORDER BY s.started_utc, s.id, m.at_s, m.id",
        values,
    )
    return tuple(
        rows.DatedMove(number, rows.later(rows.utc_of(started), move[0]), rows.KeptMove(*move))
        for number, started, *move in found
    )


def dated_notes(connection: sqlite3.Connection, wanted: rows.Wanted) -> tuple[rows.DatedNote, ...]:
    """Return the notes of the sessions that are asked for, in the order of their making."""
    where, values = _where(wanted)
    found = connection.execute(
        "SELECT s.id, n.made_utc, n.text FROM sessions s LEFT JOIN rigs r ON r.id = s.rig_id"
        f" JOIN notes n ON n.session_id = s.id{where} ORDER BY n.made_utc, n.id",
        values,
    )
    return tuple(rows.DatedNote(number, rows.Note(rows.utc_of(made), text)) for number, made, text in found)


def floors(connection: sqlite3.Connection, device: str | None, newest: int) -> tuple[rows.KeptFloor, ...]:
    """Return the newest floors, newest first; those of one device where it is named."""
    found = connection.execute(
        "SELECT id, made_utc, device, sample_rate_hz, place, levels, duration_s, clean_s FROM floors"
        " WHERE (? IS NULL OR device = ?) ORDER BY made_utc DESC, id DESC LIMIT ?",
        (device, device, newest),
    )
    return tuple(_floor(row) for row in found)


def floor(connection: sqlite3.Connection, number: int) -> rows.KeptFloor | None:
    """Return one floor, or None when there is no such number."""
    found = connection.execute(
        "SELECT id, made_utc, device, sample_rate_hz, place, levels, duration_s, clean_s FROM floors WHERE id = ?",
        (number,),
    ).fetchone()
    return None if found is None else _floor(found)


def _floor(row: Any) -> rows.KeptFloor:
    number, made, device, rate, place, levels, duration_s, clean_s = row
    return rows.KeptFloor(
        number, rows.utc_of(made), device, rate, place, Floor(rows.levels_of(levels), duration_s, clean_s)
    )


_PROOFS = "SELECT id, kind, made_utc, device, sample_rate_hz, rig_name, body, session_id FROM proofs"


def proofs(
    connection: sqlite3.Connection, kind: rows.ProofKind, *, device: str | None, rig_name: str | None,
    session: int | None, newest: int,
) -> tuple[rows.Proof, ...]:
    """Return the newest proofs of a kind, newest first; those of one device, rig or session where it is named."""
    found = connection.execute(
        f"{_PROOFS} WHERE kind = ? AND (? IS NULL OR device = ?) AND (? IS NULL OR rig_name = ?)"
        " AND (? IS NULL OR session_id = ?) ORDER BY made_utc DESC, id DESC LIMIT ?",
        (kind, device, device, rig_name, rig_name, session, session, newest),
    )
    return tuple(_proof(row) for row in found)


def proof(connection: sqlite3.Connection, number: int) -> rows.Proof | None:
    """Return one proof, or None when there is no such number."""
    found = connection.execute(f"{_PROOFS} WHERE id = ?", (number,)).fetchone()
    return None if found is None else _proof(found)


def session_proofs(connection: sqlite3.Connection, number: int) -> tuple[rows.Proof, ...]:
    """Return the proofs that a session made, in order."""
    return tuple(_proof(row) for row in connection.execute(f"{_PROOFS} WHERE session_id = ? ORDER BY id", (number,)))


def _proof(row: Any) -> rows.Proof:
    number, what, made, name, rate, rig, body, session = row
    return rows.Proof(number, what, rows.utc_of(made), name, rate, rig, json.loads(body), session)


def absent(number: int, path: Any) -> LogbookError:
    """Return the error for a session number that there is not."""
    return LogbookError(f"session={number} must be the number of a session in {path}: 'hushweir log' lists them")
