"""Whether a session of another logbook can be read back here: nothing that the other file holds is believed unseen."""

from __future__ import annotations

import json
import sqlite3

from tuner.errors import LogbookError
from tuner.logbook import content, find
from tuner.logbook.seconds import seconds_of

_TYPES = {"INTEGER": "'integer'", "REAL": "'real', 'integer'", "TEXT": "'text'", "BLOB": "'blob'"}
_MOST = 1e12  # beyond every figure that is kept
_LONGEST_S = 400 * 86_400
_FIRST_YEAR, _LAST_YEAR = 1970, 9000  # times can be added to
_OF_A_SESSION = {
    "sessions": "SELECT id FROM sessions WHERE id = ?",
    "rigs": "SELECT rig_id FROM sessions WHERE id = ?",
    "diagnoses": "SELECT id FROM diagnoses WHERE session_id = ?",
    "causes": "SELECT id FROM diagnoses WHERE session_id = ?",
}
_KEYS = {"sessions": "id", "rigs": "id", "diagnoses": "id", "causes": "diagnosis_id"}
_TABLES = ("sessions", "rigs", "readings", "sounds", "diagnoses", "causes", "moves", "looks", "gaps", "notes", "tags",
           "clips", "proofs")


def fault_of(source: sqlite3.Connection, target: sqlite3.Connection, number: int) -> str:
    """Return why a session of ``source`` cannot be read back, or "" when it can; ``target`` has the columns' types."""
    for table in _TABLES:
        if _mistyped(source, target, table, number):
            return f"its {table} are not of the form that they must be"
    try:
        return _of_session(source, number) or _of_windows(source, number) or _of_seconds(source, number)
    except (LogbookError, ValueError, TypeError, KeyError, AttributeError, OverflowError, RecursionError) as error:
        return f"it cannot be read ({type(error).__name__})"


def _of_session(source: sqlite3.Connection, number: int) -> str:
    session = find.session(source, number)
    if session is None or not session.uid:
        return "it has no name of its own"
    times = session.started, session.ended or session.started
    if not all(_FIRST_YEAR <= moment.year <= _LAST_YEAR for moment in times):
        return "it is of no time that can be"
    content.notes(source, number)
    find.session_proofs(source, number)
    return ""


def _of_windows(source: sqlite3.Connection, number: int) -> str:
    for diagnosis in content.diagnoses(source, number):
        if not all(isinstance(word, str) for cause in diagnosis.causes for word in cause.because):
            return "a reason in it is no text"
        if not all(isinstance(value, (int, float)) for value in dict(diagnosis.features).values()):
            return "a feature in it is no number"
    return ""


def _of_seconds(source: sqlite3.Connection, number: int) -> str:
    bands_hz = content.bands_hz(source, number)
    if not all(isinstance(hz, (int, float)) and hz > 0.0 for hz in bands_hz):
        return "its bands are no frequencies"
    kinds = json.loads(source.execute("SELECT kinds FROM sessions WHERE id = ?", (number,)).fetchone()[0])
    if not all(isinstance(kind, str) for kind in kinds):
        return "its kinds of sound are no text"
    if source.execute(
        "SELECT 1 FROM readings WHERE session_id = ? AND (length(heard) != ? OR length(bands) != ?"
        " OR second NOT BETWEEN 0 AND ?) LIMIT 1",
        (number, len(kinds), 2 * len(bands_hz), _LONGEST_S),
    ).fetchone():
        return "its seconds are not whole"
    seconds_of(source, number)
    return ""


def _mistyped(source: sqlite3.Connection, target: sqlite3.Connection, table: str, number: int) -> bool:
    """Tell whether a row of a session holds something of another type than its column's, or beyond all measure."""
    chosen = _OF_A_SESSION.get(table, "SELECT ?")
    return _any_mistyped(source, target, table, f"{_KEYS.get(table, 'session_id')} IN ({chosen})", number)


def is_mistyped(source: sqlite3.Connection, target: sqlite3.Connection, table: str, number: int) -> bool:
    """Tell the same of one row by its own number."""
    return _any_mistyped(source, target, table, "id = ?", number)


def _any_mistyped(
    source: sqlite3.Connection, target: sqlite3.Connection, table: str, where: str, number: int
) -> bool:
    rules = []
    for _, name, declared, needed, _, key in target.execute(f"PRAGMA table_info({table})").fetchall():
        if key and name == "id":
            continue
        rule = f"typeof({name}) IN ({_TYPES[declared]})"
        if declared in ("INTEGER", "REAL"):
            rule = f"({rule} AND {name} BETWEEN {-_MOST} AND {_MOST})"
        rules.append(rule if needed else f"({name} IS NULL OR {rule})")
    found = source.execute(f"SELECT 1 FROM {table} WHERE {where} AND NOT ({' AND '.join(rules)}) LIMIT 1", (number,))
    return found.fetchone() is not None
