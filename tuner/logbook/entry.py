"""One session's entry: it gathers what happens and writes it in one transaction a second, when that second is over.

Moves, diagnoses, gaps and notes are written at once, together with what was gathered. Killing the process
loses what was gathered since: at most the second that was not over.

A logbook that cannot be written for a while (a full disk, another program's lock) does not end the session: what
happens stays gathered, ``trouble`` says what is wrong, and the entry tries again every few seconds.
"""

from __future__ import annotations

import json
import math
import sqlite3
from collections.abc import Callable
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from tuner.errors import LogbookError
from tuner.logbook import rows
from tuner.logbook.digest import keep_digest
from tuner.logbook.file import explained, transaction
from tuner.terms import SOUND_KINDS, Diagnosis, Moment, Question, Sound, Step

SYNC_S = 10.0  # what a power cut may take; waiting for the disk each second would slow fast listening down
RETRY_S = 5.0  # a disk does not get room, nor a lock lifted, much faster
RETRY_BUSY_MS = 50  # a lock that held once is not waited for again while sound comes in
LAST_BUSY_MS = 5000  # at the end of a session nothing waits for sound any more
MOST_GATHERED = 40_000  # some ten hours of seconds: what memory bears of a logbook that cannot be written
_ROUNDING_S = 1e-6

Writing = Callable[[sqlite3.Connection], None]


class Entry:
    """The open entry of one session; ``id`` is its number. Close it, or use it in a ``with``.

    ``commit`` and ``close`` raise LogbookError when the logbook cannot be written; nothing else does.
    """

    def __init__(
        self, connection: sqlite3.Connection, path: Path, session_id: int, clock: Callable[[], datetime]
    ) -> None:
        self.id = session_id
        self.trouble = ""
        self._connection = connection
        self._path = path
        self._clock = clock
        self._pending: list[Writing] = []
        self._second: list[Moment] = []
        self._bands_known = False
        self._moves: dict[int, int] = {}
        self._last_move = 0
        self._tried = self._synced = clock()
        self._lost = 0
        self._is_due = False
        self._closed = False

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        # An end by the keeper (Ctrl-C) or by an error is an end all the same; only a kill leaves none.
        if kind is None:
            self.close()
        else:
            with suppress(LogbookError):  # what ends the session is the error that counts
                self.close("stopped")

    def moment(self, moment: Moment) -> None:
        """Take one step of listening; steps of one second are put together into its row."""
        if self._second and math.floor(self._second[0].start_s) != math.floor(moment.start_s):
            self._end_second()
        self._second.append(moment)
        if moment.end_s >= math.floor(moment.start_s) + 1 - _ROUNDING_S:
            self._end_second()
        if self._is_due:
            self._is_due = False
            self._try_unless_waiting()

    def _end_second(self) -> None:
        if not self._second:
            return
        row = _row_of(self._second)
        if not self._bands_known:
            hz = json.dumps([round(x, 3) for x in self._second[0].third_octave_hz])
            self._gather("UPDATE sessions SET bands_hz = ? WHERE id = ?", (hz, self.id))
            self._bands_known = True
        self._gather(
            "INSERT OR REPLACE INTO readings"
            " (session_id, second, level_db, bands, heard, outside, dropped, clipped) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            (self.id, *row),
        )
        self._second = []
        # Written at once, and not by the clock: after a stall many seconds come in together.
        self._is_due = True

    def sound(self, sound: Sound) -> None:
        """Take a sound that has ended; its times count from the session's start."""
        self._gather(
            "INSERT INTO sounds (session_id, kind, start_s, end_s, level_db, confidence) VALUES (?, ?, ?, ?, ?, ?)",
            (self.id, sound.kind, sound.start_s, sound.end_s, _number(sound.level_db), sound.confidence),
        )

    def diagnosis(self, diagnosis: Diagnosis, end_s: float) -> None:
        """Write what a listening window that ended at ``end_s`` came to."""
        reading = diagnosis.reading
        values = (
            self.id, end_s, reading.duration_s, int(diagnosis.silent), reading.excess_db,
            rows.levels_text(reading.levels), reading.clean_s, reading.outside_share,
            rows.heard_text(reading.heard), rows.features_text(reading.features),
        )
        causes = [(cause.name, cause.probability, json.dumps(cause.because)) for cause in diagnosis.causes]

        def write(connection: sqlite3.Connection) -> None:
            cursor = connection.execute(
                "INSERT INTO diagnoses (session_id, end_s, duration_s, silent, excess_db, levels, clean_s,"
                " outside_share, heard, features) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                values,
            )
            connection.executemany(
                "INSERT INTO causes (diagnosis_id, rank, name, probability, because) VALUES (?, ?, ?, ?, ?)",
                [(cursor.lastrowid, rank, *cause) for rank, cause in enumerate(causes)],
            )

        self._write(write)

    def advised(self, step: Step, at_s: float) -> int:
        """Write a move that is advised now and return its number within this session."""
        self._last_move = move = self._last_move + 1
        values = (self.id, at_s, step.control, step.amount, step.unit, step.wait_s, step.why, step.expect)

        def write(connection: sqlite3.Connection) -> None:
            cursor = connection.execute(
                "INSERT INTO moves (session_id, at_s, control, amount, unit, wait_s, why, expected)"
                " VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                values,
            )
            self._moves[move] = int(cursor.lastrowid or 0)

        self._write(write)
        return move

    def done(self, move: int, amount: float, at_s: float) -> None:
        """Write what the keeper did for a move: the signed amount, 0 when it was declined."""
        self._write(lambda connection: _run(
            connection, "UPDATE moves SET done = ?, done_s = ? WHERE id = ?", (amount, at_s, self._moves[move])
        ))

    def seen(self, move: int, what: str) -> None:
        """Write, in words, what came after a move."""
        self._write(lambda connection: _run(
            connection, "UPDATE moves SET seen = ? WHERE id = ?", (what, self._moves[move])
        ))

    def looked(self, question: Question, answer: str | None, at_s: float) -> None:
        """Write a question with the keeper's answer (None: could not say)."""
        self._write_row(
            "INSERT INTO looks (session_id, at_s, question, text, answer) VALUES (?, ?, ?, ?, ?)",
            (self.id, at_s, question.id, question.text, answer),
        )

    def gap(self, start_s: float, length_s: float, note: str) -> None:
        """Write a stretch that was not heard."""
        self._write_row(
            "INSERT INTO gaps (session_id, start_s, length_s, note) VALUES (?, ?, ?, ?)",
            (self.id, start_s, length_s, note),
        )

    def note(self, text: str) -> None:
        """Write somebody's words."""
        self._write_row(
            "INSERT INTO notes (session_id, made_utc, text) VALUES (?, ?, ?)",
            (self.id, rows.utc_text(self._clock()), text),
        )

    def clip(self, kind: str, start_s: float, length_s: float, file: str, size: int) -> None:
        """Write that a clip of audio was kept, as the file of this name in the folder of clips."""
        self._write_row(
            "INSERT INTO clips (session_id, kind, start_s, length_s, file, size) VALUES (?, ?, ?, ?, ?, ?)",
            (self.id, kind, start_s, length_s, file, size),
        )

    def commit(self) -> None:
        """Write what was gathered, except the second that is not over."""
        self._tried = self._clock()
        if not self._pending:
            return
        # A killed process loses nothing that was handed to the system; a power cut does, unless the disk has it.
        is_due = self._closed or (self._tried - self._synced).total_seconds() >= SYNC_S
        try:
            with explained(self._path):
                self._connection.execute(f"PRAGMA synchronous = {'FULL' if is_due else 'NORMAL'}")
            with transaction(self._connection, self._path):
                for writing in self._pending:
                    writing(self._connection)
        except LogbookError as error:
            self.trouble = str(error)
            self._connection.execute(f"PRAGMA busy_timeout = {RETRY_BUSY_MS}")
            raise
        self.trouble = ""
        self._pending.clear()
        if is_due:
            self._synced = self._tried

    def close(self, outcome: str = "") -> None:
        """End the session with a word on how it ended; further calls do nothing.

        Raises
        ------
        LogbookError
            When something of the session could not be written; the text says how much.
        """
        if self._closed:
            return
        self._closed = True
        self._end_second()
        self._gather(
            "UPDATE sessions SET ended_utc = ?, outcome = CASE WHEN ? = '' THEN outcome ELSE ? END WHERE id = ?",
            (rows.utc_text(self._clock()), outcome, outcome, self.id),
        )
        self._connection.execute(f"PRAGMA busy_timeout = {LAST_BUSY_MS}")
        try:
            self.commit()
        except LogbookError as error:
            raise LogbookError(f"{error}; {self._count()} of session {self.id} are lost") from error
        if self._lost:
            raise LogbookError(f"logbook {self._path} was not writable too long: {self._count()} are lost")
        # The digest only saves time: it can be made at any later opening.
        with suppress(LogbookError), transaction(self._connection, self._path):
            keep_digest(self._connection, self.id)

    def _count(self) -> str:
        return f"the last {len(self._pending) + self._lost} rows"

    def _gather(self, sql: str, values: tuple[Any, ...]) -> None:
        if len(self._pending) >= MOST_GATHERED:
            self._lost += 1
            return
        self._pending.append(lambda connection: _run(connection, sql, values))

    def _write_row(self, sql: str, values: tuple[Any, ...]) -> None:
        self._gather(sql, values)
        self._try_unless_waiting()

    def _write(self, writing: Writing) -> None:
        self._pending.append(writing)
        self._try_unless_waiting()

    def _try_unless_waiting(self) -> None:
        if not self.trouble or (self._clock() - self._tried).total_seconds() >= RETRY_S:
            self._try()

    def _try(self) -> None:
        with suppress(LogbookError):  # ``trouble`` holds it, and what was gathered is kept for the next try
            self.commit()


def _run(connection: sqlite3.Connection, sql: str, values: tuple[Any, ...]) -> None:
    connection.execute(sql, values)


def _row_of(moments: list[Moment]) -> tuple[Any, ...]:
    """Put the steps of one second together: energies are averaged, the surest probability counts."""
    bands = zip(*(moment.third_octave_db for moment in moments), strict=True)
    heard: dict[str, float] = {
        kind: max(moment.probability.get(kind, 0.0) for moment in moments) for kind in SOUND_KINDS
    }
    return (
        math.floor(moments[0].start_s),
        _number(_mean_db([moment.level_db for moment in moments])),
        rows.pack_db([_mean_db(levels) for levels in bands]),
        rows.pack_shares(heard, SOUND_KINDS),
        round(100.0 * max(moment.outside for moment in moments)),
        sum(moment.dropped for moment in moments),
        sum(moment.clipped for moment in moments),
    )


def _mean_db(levels_db: list[float] | tuple[float, ...]) -> float:
    power = sum(10.0 ** (level / 10.0) for level in levels_db) / len(levels_db)
    return 10.0 * math.log10(power) if power > 0.0 else -math.inf


def _number(level_db: float) -> float | None:
    return level_db if math.isfinite(level_db) else None
