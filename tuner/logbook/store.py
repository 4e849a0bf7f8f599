"""The logbook as an object: begin a session in it, read sessions back, keep the room's floor.

    with Logbook(path, clock=clock) as logbook:
        with logbook.begin(opening) as entry:      # see ``entry``
            entry.moment(moment)
    Logbook(path, clock=clock, look_only=True).sessions()
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from tuner.errors import LogbookError
from tuner.logbook import rows
from tuner.logbook.entry import Entry
from tuner.logbook.file import explained, open_for_reading, open_for_writing
from tuner.terms import SOUND_KINDS, Floor

Clock = Callable[[], datetime]
BUSY_S = 5.0  # longer than any transaction of this program, short enough for a person to wait

_SESSIONS = """
SELECT s.id, s.verb, coalesce(r.name, ''), s.device, s.sample_rate_hz, s.calibrated, s.started_utc, s.ended_utc,
    s.outcome,
    coalesce((SELECT max(second) + 1 FROM readings WHERE session_id = s.id), 0),
    (SELECT count(*) FROM sounds WHERE session_id = s.id),
    (SELECT count(*) FROM moves WHERE session_id = s.id AND done != 0),
    (SELECT count(*) FROM gaps WHERE session_id = s.id),
    d.silent, d.levels, coalesce(c.name, '')
FROM sessions s
LEFT JOIN rigs r ON r.id = s.rig_id
LEFT JOIN diagnoses d ON d.id = (SELECT id FROM diagnoses WHERE session_id = s.id ORDER BY end_s DESC, id DESC LIMIT 1)
LEFT JOIN causes c ON c.diagnosis_id = d.id AND c.rank = 0
"""


@dataclass(frozen=True, slots=True)
class Opening:
    """What is known when a session begins; ``rig_text`` is the rig file's text, "" without a rig."""

    verb: str
    device: str
    sample_rate_hz: int
    calibrated: bool = False
    rig_name: str = ""
    rig_text: str = ""
    floor_id: int | None = None
    note: str = ""


class Logbook:
    """An open logbook. One thread at a time may use it and the entries that it begins.

    Parameters
    ----------
    path
        The file; made, with its folder, when it is not there.
    clock
        Gives the present moment, with its time zone.
    look_only
        Open what is there without the right to write.
    busy_s
        How long another program's lock is waited for, in seconds.

    Raises
    ------
    LogbookError
        When the file cannot be used; see ``file``. Any method raises it when the file fails later.
    """

    def __init__(self, path: Path, *, clock: Clock, look_only: bool = False, busy_s: float = BUSY_S) -> None:
        self.path = path
        self._clock = clock
        self._connection = (open_for_reading if look_only else open_for_writing)(path, busy_s)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the file; entries must have been closed before."""
        with explained(self.path):
            self._connection.close()

    def begin(self, opening: Opening) -> Entry:
        """Begin a session and return the entry that takes down what happens in it."""
        now = self._clock()
        with explained(self.path):
            self._connection.execute("BEGIN IMMEDIATE")
            try:
                session_id = self._insert_session(opening, now)
                self._connection.execute("COMMIT")
            except BaseException:
                self._connection.execute("ROLLBACK")
                raise
        return Entry(self._connection, self.path, session_id, self._clock)

    def _insert_session(self, opening: Opening, now: datetime) -> int:
        rig_id = None
        if opening.rig_text:
            self._connection.execute(
                "INSERT OR IGNORE INTO rigs (name, text) VALUES (?, ?)", (opening.rig_name, opening.rig_text)
            )
            rig_id = self._connection.execute("SELECT id FROM rigs WHERE text = ?", (opening.rig_text,)).fetchone()[0]
        cursor = self._connection.execute(
            "INSERT INTO sessions (verb, rig_id, floor_id, device, sample_rate_hz, calibrated, started_utc, kinds)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            (
                opening.verb, rig_id, opening.floor_id, opening.device, opening.sample_rate_hz,
                int(opening.calibrated), rows.utc_text(now), json.dumps(SOUND_KINDS),
            ),
        )
        session_id = int(cursor.lastrowid or 0)
        if opening.note:
            self._connection.execute(
                "INSERT INTO notes (session_id, made_utc, text) VALUES (?, ?, ?)",
                (session_id, rows.utc_text(now), opening.note),
            )
        return session_id

    def keep_floor(self, floor: Floor, device: str, sample_rate_hz: int, place: str = "") -> int:
        """Keep the room's floor as heard by a device, at a place in words, and return its number."""
        with explained(self.path):
            cursor = self._connection.execute(
                "INSERT INTO floors (made_utc, device, sample_rate_hz, calibrated, duration_s, clean_s, levels, place)"
                " VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                (
                    rows.utc_text(self._clock()), device, sample_rate_hz, int(floor.levels.calibrated),
                    floor.duration_s, floor.clean_s, rows.levels_text(floor.levels), place,
                ),
            )
        return int(cursor.lastrowid or 0)

    def latest_floor(self, device: str, sample_rate_hz: int) -> tuple[int, Floor, datetime] | None:
        """Return number, floor and time of the newest floor that this device heard at this rate, or None."""
        found = self._all(
            "SELECT id, levels, duration_s, clean_s, made_utc FROM floors WHERE device = ? AND sample_rate_hz = ?"
            " ORDER BY id DESC LIMIT 1",
            (device, sample_rate_hz),
        )
        if not found:
            return None
        number, levels, duration_s, clean_s, made = found[0]
        return number, Floor(rows.levels_of(levels), duration_s, clean_s), rows.utc_of(made)

    def newest_floor(self, device: str | None = None) -> rows.KeptFloor | None:
        """Return the newest floor, of one device where it is named; None when there is none."""
        found = self._all(
            "SELECT id, made_utc, device, sample_rate_hz, calibrated, levels, place FROM floors"
            " WHERE (? IS NULL OR device = ?) ORDER BY id DESC LIMIT 1",
            (device, device),
        )
        if not found:
            return None
        number, made, name, rate, calibrated, levels, place = found[0]
        return rows.KeptFloor(
            number, rows.utc_of(made), name, rate, bool(calibrated), rows.levels_of(levels).laeq_db, place
        )

    def floor_place(self, number: int) -> str:
        """Return the place, in words, at which a floor was measured; "" where it was not said."""
        found = self._all("SELECT place FROM floors WHERE id = ?", (number,))
        return str(found[0][0]) if found else ""

    def keep_proof(
        self, kind: rows.ProofKind, device: str, sample_rate_hz: int, body: dict[str, Any], rig_name: str = ""
    ) -> int:
        """Keep a proof that was made now, as the JSON object that its verb prints, and return its number."""
        with explained(self.path):
            cursor = self._connection.execute(
                "INSERT INTO proofs (kind, made_utc, device, sample_rate_hz, rig_name, body) VALUES (?, ?, ?, ?, ?, ?)",
                (kind, rows.utc_text(self._clock()), device, sample_rate_hz, rig_name, json.dumps(body)),
            )
        return int(cursor.lastrowid or 0)

    def proofs(
        self, kind: rows.ProofKind, *, device: str | None = None, rig_name: str | None = None, newest: int = 20
    ) -> tuple[rows.Proof, ...]:
        """Return the newest proofs of a kind, newest first; those of one device or rig where it is named."""
        found = self._all(
            "SELECT id, kind, made_utc, device, sample_rate_hz, rig_name, body FROM proofs WHERE kind = ?"
            " AND (? IS NULL OR device = ?) AND (? IS NULL OR rig_name = ?) ORDER BY id DESC LIMIT ?",
            (kind, device, device, rig_name, rig_name, newest),
        )
        return tuple(
            rows.Proof(number, what, rows.utc_of(made), name, rate, rig, json.loads(body))
            for number, what, made, name, rate, rig, body in found
        )

    def sessions(self, newest: int | None = None) -> tuple[rows.Session, ...]:
        """Return the sessions, newest first; at most ``newest`` of them when it is given."""
        limit = -1 if newest is None else newest
        found = self._all(_SESSIONS + " ORDER BY s.started_utc DESC, s.id DESC LIMIT ?", (limit,))
        return tuple(_session(row) for row in found)

    def session(self, number: int) -> rows.Session:
        """Return one session; raises LogbookError when there is no such number."""
        found = self._all(_SESSIONS + " WHERE s.id = ?", (number,))
        if not found:
            raise LogbookError(
                f"session={number} must be the number of a session in {self.path}: 'hushweir log' lists them"
            )
        return _session(found[0])

    def rig_text(self, number: int) -> str:
        """Return the rig file's text as it was in a session, or "" without a rig."""
        found = self._all(
            "SELECT r.text FROM sessions s JOIN rigs r ON r.id = s.rig_id WHERE s.id = ?", (number,)
        )
        return str(found[0][0]) if found else ""

    def bands_hz(self, number: int) -> tuple[float, ...]:
        """Return the third-octave centres (Hz) of a session's readings."""
        found = self._all("SELECT bands_hz FROM sessions WHERE id = ?", (number,))
        return tuple(json.loads(found[0][0])) if found else ()

    def readings(self, number: int) -> tuple[rows.KeptReading, ...]:
        """Return a session's seconds, in order."""
        kinds = self._all("SELECT kinds FROM sessions WHERE id = ?", (number,))
        names = json.loads(kinds[0][0]) if kinds else []
        found = self._all(
            "SELECT second, level_db, bands, heard, outside, dropped, clipped FROM readings WHERE session_id = ?"
            " ORDER BY second",
            (number,),
        )
        return tuple(
            rows.KeptReading(second, level, rows.unpack_db(bands), rows.unpack_shares(heard, names), outside / 100.0,
                             dropped, clipped)
            for second, level, bands, heard, outside, dropped, clipped in found
        )

    def sounds(self, number: int) -> tuple[rows.KeptSound, ...]:
        """Return a session's sounds by their start."""
        found = self._all(
            "SELECT kind, start_s, end_s, level_db, confidence FROM sounds WHERE session_id = ? ORDER BY start_s, id",
            (number,),
        )
        return tuple(rows.KeptSound(*row) for row in found)

    def diagnoses(self, number: int) -> tuple[rows.KeptDiagnosis, ...]:
        """Return what a session's listening windows came to, in order."""
        found = self._all(
            "SELECT id, end_s, duration_s, silent, excess_db, levels FROM diagnoses WHERE session_id = ?"
            " ORDER BY end_s, id",
            (number,),
        )
        return tuple(
            rows.KeptDiagnosis(end_s, duration_s, bool(silent), excess, rows.levels_of(levels), self._causes(key))
            for key, end_s, duration_s, silent, excess, levels in found
        )

    def _causes(self, diagnosis: int) -> tuple[rows.KeptCause, ...]:
        found = self._all(
            "SELECT name, probability, because FROM causes WHERE diagnosis_id = ? ORDER BY rank", (diagnosis,)
        )
        return tuple(rows.KeptCause(name, share, tuple(json.loads(because))) for name, share, because in found)

    def moves(self, number: int) -> tuple[rows.KeptMove, ...]:
        """Return a session's moves, in order."""
        found = self._all(
            "SELECT at_s, control, amount, unit, wait_s, why, expected, done, done_s, seen FROM moves"
            " WHERE session_id = ? ORDER BY at_s, id",
            (number,),
        )
        return tuple(rows.KeptMove(*row) for row in found)

    def looks(self, number: int) -> tuple[rows.KeptLook, ...]:
        """Return the questions that a session asked, in order."""
        found = self._all(
            "SELECT at_s, question, text, answer FROM looks WHERE session_id = ? ORDER BY at_s, id", (number,)
        )
        return tuple(rows.KeptLook(*row) for row in found)

    def gaps(self, number: int) -> tuple[rows.Gap, ...]:
        """Return the stretches of a session that were not heard, in the order of their writing."""
        found = self._all(
            "SELECT start_s, length_s, note FROM gaps WHERE session_id = ? ORDER BY id", (number,)
        )
        return tuple(rows.Gap(*row) for row in found)

    def notes(self, number: int) -> tuple[rows.Note, ...]:
        """Return the words that were added to a session, in order."""
        found = self._all(
            "SELECT made_utc, text FROM notes WHERE session_id = ? ORDER BY made_utc, id", (number,)
        )
        return tuple(rows.Note(rows.utc_of(made), text) for made, text in found)

    def _all(self, sql: str, values: tuple[Any, ...]) -> list[Any]:
        with explained(self.path):
            return self._connection.execute(sql, values).fetchall()


def _session(row: Any) -> rows.Session:
    (number, verb, rig, device, rate, calibrated, started, ended, outcome, seconds, sounds, moves, gaps, silent,
     levels, cause) = row
    return rows.Session(
        number, verb, rig, device, rate, bool(calibrated), rows.utc_of(started),
        rows.utc_of(ended) if ended else None, outcome, seconds, sounds, moves, gaps,
        None if silent is None else bool(silent),
        rows.levels_of(levels).laeq_db if levels else None, cause,
    )
