"""Taking over sessions from another logbook: each once, with new numbers, all of a session or nothing of it.

The other file is only read. Nothing that it holds is believed: a session whose texts, times or figures this program
could not read back is left where it is, and names of clips are checked before a file is touched.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from tuner.errors import ConfigError, LogbookError
from tuner.logbook import content, rows
from tuner.logbook.clipfolder import MOST_BYTES, ClipFolder
from tuner.logbook.digest import keep_digest
from tuner.logbook.file import explained, open_for_reading, transaction
from tuner.logbook.labels import LONGEST_NOTE, tag_of
from tuner.logbook.numbering import next_number
from tuner.logbook.proofbody import is_readable
from tuner.logbook.vetting import fault_of, is_mistyped

Fate = Literal["new", "known", "enriched", "differs", "unreadable"]
_BY_SESSION = {
    "readings": "second, level_db, bands, heard, outside, dropped, clipped",
    "sounds": "kind, start_s, end_s, level_db, confidence",
    "moves": "at_s, control, amount, unit, wait_s, why, expected, done, done_s, seen",
    "looks": "at_s, question, text, answer",
    "gaps": "start_s, length_s, note",
}
_SESSION = (
    "verb, device, sample_rate_hz, calibrated, started_utc, ended_utc, outcome, bands_hz, kinds, uid, place, gain,"
    " offset_db"
)
_FLOOR = "made_utc, device, sample_rate_hz, calibrated, duration_s, clean_s, levels, place"
_PROOF = "kind, made_utc, device, sample_rate_hz, rig_name, body"
_WINDOW = "end_s, duration_s, silent, excess_db, levels, clean_s, outside_share, heard, features"


@dataclass(frozen=True, slots=True)
class Taken:
    """What became of a session: its number there, its number here (None: not taken), and, for people, why."""

    there: int
    here: int | None
    fate: Fate
    why: str = ""


def take_over(connection: sqlite3.Connection, path: Path, other: Path, busy_s: float) -> Iterator[Taken]:
    """Take over the sessions of ``other`` into the open logbook at ``path``, oldest first, one transaction each.

    Raises
    ------
    LogbookError
        When the other file cannot be read as a logbook, is of an older form, or is this very one.
    """
    if other.exists() and path.exists() and other.samefile(path):
        raise LogbookError(f"logbook {other} is the logbook that it was to be taken into: name another")
    with closing(open_for_reading(other, busy_s, as_it_is=True)) as source:
        source.execute("PRAGMA trusted_schema = OFF")
        clips = ClipFolder.beside(other), ClipFolder.beside(path)
        with explained(other):
            numbers = [row[0] for row in source.execute("SELECT id FROM sessions ORDER BY started_utc, id")]
        with transaction(connection, path), explained(other):
            _loose(source, connection)
        for number in numbers:
            with transaction(connection, path), explained(other):
                taken = _take(source, connection, number, clips)
            yield taken


def _take(
    source: sqlite3.Connection, target: sqlite3.Connection, number: int, clips: tuple[ClipFolder, ClipFolder]
) -> Taken:
    if why := fault_of(source, target, number):
        return Taken(number, None, "unreadable", why)
    uid = source.execute("SELECT uid FROM sessions WHERE id = ?", (number,)).fetchone()[0]
    known = target.execute("SELECT id FROM sessions WHERE uid = ?", (uid,)).fetchone()
    if known is None:
        return Taken(number, _copy(source, target, number, clips), "new")
    here = int(known[0])
    enriched = _labels(source, target, number, here)
    there_counts, here_counts = _counts(source, number), _counts(target, here)
    if there_counts != here_counts:
        differs = [f"{a} {name} there, {b} here" for (name, a), (_, b) in zip(there_counts, here_counts, strict=True)
                   if a != b]
        return Taken(number, here, "differs", ", ".join(differs))
    return Taken(number, here, "enriched" if enriched else "known")


def _counts(connection: sqlite3.Connection, number: int) -> list[tuple[str, int]]:
    names = {"readings": "seconds", "sounds": "sounds", "diagnoses": "windows", "moves": "moves", "gaps": "gaps"}
    return [
        (words, connection.execute(f"SELECT count(*) FROM {table} WHERE session_id = ?", (number,)).fetchone()[0])
        for table, words in names.items()
    ]


def _copy(
    source: sqlite3.Connection, target: sqlite3.Connection, number: int, clips: tuple[ClipFolder, ClipFolder]
) -> int:
    rig_id, floor_id, check_id, calibration_id = source.execute(
        "SELECT rig_id, floor_id, check_id, calibration_id FROM sessions WHERE id = ?", (number,)
    ).fetchone()
    row = source.execute(f"SELECT {_SESSION} FROM sessions WHERE id = ?", (number,)).fetchone()
    here = _insert(target, "sessions", f"id, {_SESSION}", (next_number(target), *row))
    target.execute(
        "UPDATE sessions SET rig_id = ?, floor_id = ?, check_id = ?, calibration_id = ? WHERE id = ?",
        (
            _rig(source, target, rig_id), _same(source, target, "floors", _FLOOR, floor_id),
            _same(source, target, "proofs", _PROOF, check_id), _same(source, target, "proofs", _PROOF, calibration_id),
            here,
        ),
    )
    for table, columns in _BY_SESSION.items():
        marks = ", ".join("?" * (columns.count(",") + 2))
        target.executemany(
            f"INSERT INTO {table} (session_id, {columns}) VALUES ({marks})",
            ((here, *row) for row in source.execute(f"SELECT {columns} FROM {table} WHERE session_id = ?", (number,))),
        )
    for window, *row in source.execute(f"SELECT id, {_WINDOW} FROM diagnoses WHERE session_id = ?", (number,)):
        key = _insert(target, "diagnoses", f"session_id, {_WINDOW}", (here, *row))
        target.executemany(
            "INSERT INTO causes (diagnosis_id, rank, name, probability, because) VALUES (?, ?, ?, ?, ?)",
            [(key, *cause) for cause in source.execute(
                "SELECT rank, name, probability, because FROM causes WHERE diagnosis_id = ?", (window,)
            )],
        )
    for proof in source.execute(f"SELECT {_PROOF} FROM proofs WHERE session_id = ?", (number,)):
        if is_readable(proof[0], json.loads(proof[5])):
            _insert(target, "proofs", f"session_id, {_PROOF}", (here, *proof))
    _labels(source, target, number, here)
    _clips(source, target, number, here, clips)
    keep_digest(target, here)
    return here


def _clips(
    source: sqlite3.Connection, target: sqlite3.Connection, there: int, here: int,
    folders: tuple[ClipFolder, ClipFolder],
) -> None:
    """Take over the clips that can be read and are clips, as long as there is room for them."""
    room = MOST_BYTES - folders[1].used_bytes()
    for clip in content.clips(source, there):
        file = folders[0].file(clip.file)
        try:
            if file is None or file.stat().st_size > room:
                continue
            flac = file.read_bytes()
        except OSError:
            continue
        if flac.startswith(b"fLaC"):
            name, size = folders[1].put(here, clip.kind, clip.start_s, flac)
            room -= size
            _insert(
                target, "clips", "session_id, kind, start_s, length_s, file, size",
                (here, clip.kind, clip.start_s, clip.length_s, name, size),
            )


def _loose(source: sqlite3.Connection, target: sqlite3.Connection) -> None:
    """Take over floors and proofs that no session names, where they can be read."""
    for (number,) in source.execute("SELECT id FROM floors ORDER BY id").fetchall():
        _same(source, target, "floors", _FLOOR, number)
    for (number,) in source.execute("SELECT id FROM proofs WHERE session_id IS NULL ORDER BY id").fetchall():
        _same(source, target, "proofs", _PROOF, number)


def _labels(source: sqlite3.Connection, target: sqlite3.Connection, there: int, here: int) -> bool:
    """Take over notes and tags that are new here; tell whether there were any."""
    found = False
    for made, text in source.execute(
        "SELECT made_utc, text FROM notes WHERE session_id = ? ORDER BY id", (there,)
    ).fetchall():
        if len(text) <= LONGEST_NOTE and not target.execute(
            "SELECT 1 FROM notes WHERE session_id = ? AND made_utc = ? AND text = ?", (here, made, text)
        ).fetchone():
            _insert(target, "notes", "session_id, made_utc, text", (here, made, text))
            found = True
    for (tag,) in source.execute("SELECT tag FROM tags WHERE session_id = ?", (there,)).fetchall():
        try:
            values = (here, tag_of(tag))
        except (ConfigError, AttributeError):
            continue
        cursor = target.execute("INSERT OR IGNORE INTO tags (session_id, tag) VALUES (?, ?)", values)
        found = found or cursor.rowcount > 0
    return found


def _rig(source: sqlite3.Connection, target: sqlite3.Connection, number: int | None) -> int | None:
    found = source.execute("SELECT name, text FROM rigs WHERE id = ?", (number,)).fetchone()
    if found is None:
        return None
    target.execute("INSERT OR IGNORE INTO rigs (name, text) VALUES (?, ?)", found)
    return int(target.execute("SELECT id FROM rigs WHERE text = ?", (found[1],)).fetchone()[0])


def _same(
    source: sqlite3.Connection, target: sqlite3.Connection, table: str, columns: str, number: int | None
) -> int | None:
    """Return the number here of a floor or proof there, taken over when it is not here; None when it is unreadable."""
    row = source.execute(f"SELECT {columns} FROM {table} WHERE id = ?", (number,)).fetchone()
    if row is None or number is None or is_mistyped(source, target, table, number):
        return None
    try:
        if table == "floors":
            rows.utc_of(row[0])
            rows.levels_of(row[6])
        else:
            rows.utc_of(row[1])
            if not is_readable(row[0], json.loads(row[5])):
                return None
    except (LogbookError, ValueError, TypeError, KeyError):
        return None
    same = " AND ".join(f"{name} = ?" for name in columns.split(", "))
    found = target.execute(f"SELECT id FROM {table} WHERE {same} ORDER BY id", row).fetchone()
    return int(found[0]) if found else _insert(target, table, columns, row)


def _insert(target: sqlite3.Connection, table: str, columns: str, row: tuple[object, ...]) -> int:
    marks = ", ".join("?" * len(row))
    return int(target.execute(f"INSERT INTO {table} ({columns}) VALUES ({marks})", row).lastrowid or 0)
