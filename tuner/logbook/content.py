"""What a session holds, row by row: seconds, sounds, verdicts, moves, looks, gaps, notes, clips."""

from __future__ import annotations

import json
import sqlite3

from tuner.logbook import rows

MOVE_COLUMNS = "at_s, control, amount, unit, wait_s, why, expected, done, done_s, seen"


def rig_text(connection: sqlite3.Connection, number: int) -> str:
    """Return the rig file's text as it was in a session, or "" without a rig."""
    found = connection.execute(
        "SELECT r.text FROM sessions s JOIN rigs r ON r.id = s.rig_id WHERE s.id = ?", (number,)
    ).fetchone()
    return str(found[0]) if found else ""


def bands_hz(connection: sqlite3.Connection, number: int) -> tuple[float, ...]:
    """Return the third-octave centres (Hz) of a session's readings."""
    found = connection.execute("SELECT bands_hz FROM sessions WHERE id = ?", (number,)).fetchone()
    return tuple(json.loads(found[0])) if found else ()


def readings(connection: sqlite3.Connection, number: int) -> tuple[rows.KeptReading, ...]:
    """Return a session's seconds, in order."""
    kinds = connection.execute("SELECT kinds FROM sessions WHERE id = ?", (number,)).fetchone()
    names = json.loads(kinds[0]) if kinds else []
    found = connection.execute(
        "SELECT second, level_db, bands, heard, outside, dropped, clipped FROM readings WHERE session_id = ?"
        " ORDER BY second",
        (number,),
    )
    return tuple(
        rows.KeptReading(
            second, level, rows.unpack_db(bands), rows.unpack_shares(heard, names), outside / 100.0, dropped, clipped
        )
        for second, level, bands, heard, outside, dropped, clipped in found
    )


def levels_db(connection: sqlite3.Connection, number: int) -> tuple[float, ...]:
    """Return the levels (dB(A)) of the seconds that had one, in order."""
    found = connection.execute(
        "SELECT level_db FROM readings WHERE session_id = ? AND level_db IS NOT NULL ORDER BY second", (number,)
    )
    return tuple(row[0] for row in found)


def sounds(connection: sqlite3.Connection, number: int) -> tuple[rows.KeptSound, ...]:
    """Return a session's sounds by their start."""
    found = connection.execute(
        "SELECT kind, start_s, end_s, level_db, confidence FROM sounds WHERE session_id = ? ORDER BY start_s, id",
        (number,),
    )
    return tuple(rows.KeptSound(*row) for row in found)


def diagnoses(connection: sqlite3.Connection, number: int) -> tuple[rows.KeptDiagnosis, ...]:
    """Return what a session's listening windows came to, in order."""
    causes: dict[int, list[rows.KeptCause]] = {}
    for key, name, share, because in connection.execute(
        "SELECT c.diagnosis_id, c.name, c.probability, c.because FROM diagnoses d"
        " JOIN causes c ON c.diagnosis_id = d.id WHERE d.session_id = ? ORDER BY c.diagnosis_id, c.rank",
        (number,),
    ):
        causes.setdefault(key, []).append(rows.KeptCause(name, share, tuple(json.loads(because))))
    found = connection.execute(
        "SELECT id, end_s, duration_s, silent, excess_db, levels, clean_s, outside_share, heard, features"
        " FROM diagnoses WHERE session_id = ? ORDER BY end_s, id",
        (number,),
    )
    return tuple(
        rows.KeptDiagnosis(
            end_s, duration_s, bool(silent), excess, rows.levels_of(levels), tuple(causes.get(key, ())), clean_s,
            outside, rows.heard_of(heard), json.loads(features),
        )
        for key, end_s, duration_s, silent, excess, levels, clean_s, outside, heard, features in found
    )


def moves(connection: sqlite3.Connection, number: int) -> tuple[rows.KeptMove, ...]:
    """Return a session's moves, in order."""
    found = connection.execute(f"SELECT {MOVE_COLUMNS} FROM moves WHERE session_id = ? ORDER BY at_s, id", (number,))
    return tuple(rows.KeptMove(*row) for row in found)


def looks(connection: sqlite3.Connection, number: int) -> tuple[rows.KeptLook, ...]:
    """Return the questions that a session asked, in order."""
    found = connection.execute(
        "SELECT at_s, question, text, answer FROM looks WHERE session_id = ? ORDER BY at_s, id", (number,)
    )
    return tuple(rows.KeptLook(*row) for row in found)


def gaps(connection: sqlite3.Connection, number: int) -> tuple[rows.Gap, ...]:
    """Return the stretches of a session that were not heard, in the order of their writing."""
    found = connection.execute("SELECT start_s, length_s, note FROM gaps WHERE session_id = ? ORDER BY id", (number,))
    return tuple(rows.Gap(*row) for row in found)


def notes(connection: sqlite3.Connection, number: int) -> tuple[rows.Note, ...]:
    """Return the words that were added to a session, in order."""
    found = connection.execute(
        "SELECT made_utc, text FROM notes WHERE session_id = ? ORDER BY made_utc, id", (number,)
    )
    return tuple(rows.Note(rows.utc_of(made), text) for made, text in found)


def clips(connection: sqlite3.Connection, number: int | None) -> tuple[rows.KeptClip, ...]:
    """Return the clips of one session, or of all, in order."""
    found = connection.execute(
        "SELECT id, session_id, kind, start_s, length_s, file, size FROM clips WHERE ? IS NULL OR session_id = ?"
        " ORDER BY session_id, start_s, id",
        (number, number),
    )
    return tuple(rows.KeptClip(*row) for row in found)
