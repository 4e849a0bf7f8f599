"""One session's entry: it gathers seconds and sounds and writes them in one transaction a second.

Moves, diagnoses, gaps and notes are written at once, together with what was gathered. Killing the process
loses what was gathered since: at most the second that was not over.
"""

from __future__ import annotations

import json
import math
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from tuner.logbook import rows
from tuner.logbook.digest import keep_digest
from tuner.logbook.file import transaction
from tuner.terms import SOUND_KINDS, Diagnosis, Moment, Question, Sound, Step

COMMIT_S = 0.5  # under one second, so that a second that is over is written before the next one is
_ROUNDING_S = 1e-6

Statement = tuple[str, tuple[Any, ...]]


class Entry:
    """The open entry of one session; ``id`` is its number. Close it, or use it in a ``with``."""

    def __init__(
        self, connection: sqlite3.Connection, path: Path, session_id: int, clock: Callable[[], datetime]
    ) -> None:
        self.id = session_id
        self._connection = connection
        self._path = path
        self._clock = clock
        self._pending: list[Statement] = []
        self._second: list[Moment] = []
        self._bands_known = False
        self._committed = clock()
        self._closed = False

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        # An end by the keeper (Ctrl-C) or by an error is an end all the same; only a kill leaves none.
        self.close("stopped" if kind is not None else "")

    def moment(self, moment: Moment) -> None:
        """Take one step of listening; steps of one second are put together into its row."""
        if self._second and math.floor(self._second[0].start_s) != math.floor(moment.start_s):
            self._end_second()
        self._second.append(moment)
        if moment.end_s >= math.floor(moment.start_s) + 1 - _ROUNDING_S:
            self._end_second()
        if (self._clock() - self._committed).total_seconds() >= COMMIT_S:
            self.commit()

    def _end_second(self) -> None:
        if not self._second:
            return
        row = _row_of(self._second)
        if not self._bands_known:
            hz = json.dumps([round(x, 3) for x in self._second[0].third_octave_hz])
            self._pending.append(("UPDATE sessions SET bands_hz = ? WHERE id = ?", (hz, self.id)))
            self._bands_known = True
        self._pending.append((
            "INSERT OR REPLACE INTO readings"
            " (session_id, second, level_db, bands, heard, outside, dropped, clipped) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            (self.id, *row),
        ))
        self._second = []

    def sound(self, sound: Sound) -> None:
        """Take a sound that has ended; its times count from the session's start."""
        self._pending.append((
            "INSERT INTO sounds (session_id, kind, start_s, end_s, level_db, confidence) VALUES (?, ?, ?, ?, ?, ?)",
            (self.id, sound.kind, sound.start_s, sound.end_s, _number(sound.level_db), sound.confidence),
        ))

    def diagnosis(self, diagnosis: Diagnosis, end_s: float) -> None:
        """Write what a listening window that ended at ``end_s`` came to."""
        reading = diagnosis.reading
        with self._transaction():
            cursor = self._connection.execute(
                "INSERT INTO diagnoses (session_id, end_s, duration_s, silent, excess_db, levels, clean_s,"
                " outside_share, heard, features) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                (
                    self.id, end_s, reading.duration_s, int(diagnosis.silent), reading.excess_db,
                    rows.levels_text(reading.levels), reading.clean_s, reading.outside_share,
                    rows.heard_text(reading.heard), rows.features_text(reading.features),
                ),
            )
            self._connection.executemany(
                "INSERT INTO causes (diagnosis_id, rank, name, probability, because) VALUES (?, ?, ?, ?, ?)",
                [
                    (cursor.lastrowid, rank, cause.name, cause.probability, json.dumps(cause.because))
                    for rank, cause in enumerate(diagnosis.causes)
                ],
            )

    def advised(self, step: Step, at_s: float) -> int:
        """Write a move that is advised now and return its number."""
        return self._insert(
            "INSERT INTO moves (session_id, at_s, control, amount, unit, wait_s, why, expected)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            (self.id, at_s, step.control, step.amount, step.unit, step.wait_s, step.why, step.expect),
        )

    def done(self, move: int, amount: float, at_s: float) -> None:
        """Write what the keeper did for a move: the signed amount, 0 when it was declined."""
        self._insert("UPDATE moves SET done = ?, done_s = ? WHERE id = ?", (amount, at_s, move))

    def seen(self, move: int, what: str) -> None:
        """Write, in words, what came after a move."""
        self._insert("UPDATE moves SET seen = ? WHERE id = ?", (what, move))

    def looked(self, question: Question, answer: str | None, at_s: float) -> None:
        """Write a question with the keeper's answer (None: could not say)."""
        self._insert(
            "INSERT INTO looks (session_id, at_s, question, text, answer) VALUES (?, ?, ?, ?, ?)",
            (self.id, at_s, question.id, question.text, answer),
        )

    def gap(self, start_s: float, length_s: float, note: str) -> None:
        """Write a stretch that was not heard."""
        self._insert(
            "INSERT INTO gaps (session_id, start_s, length_s, note) VALUES (?, ?, ?, ?)",
            (self.id, start_s, length_s, note),
        )

    def note(self, text: str) -> None:
        """Write somebody's words."""
        self._insert(
            "INSERT INTO notes (session_id, made_utc, text) VALUES (?, ?, ?)",
            (self.id, rows.utc_text(self._clock()), text),
        )

    def commit(self) -> None:
        """Write what was gathered, except the second that is not over."""
        if self._pending:
            with self._transaction():
                pass
        self._committed = self._clock()

    def close(self, outcome: str = "") -> None:
        """End the session with a word on how it ended; further calls do nothing."""
        if self._closed:
            return
        self._closed = True
        self._end_second()
        self._pending.append((
            "UPDATE sessions SET ended_utc = ?, outcome = CASE WHEN ? = '' THEN outcome ELSE ? END WHERE id = ?",
            (rows.utc_text(self._clock()), outcome, outcome, self.id),
        ))
        self.commit()
        with self._transaction():
            keep_digest(self._connection, self.id)

    def _insert(self, sql: str, values: tuple[Any, ...]) -> int:
        with self._transaction():
            return int(self._connection.execute(sql, values).lastrowid or 0)

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        """Write what was gathered and what the caller adds, all or nothing; on failure it stays gathered."""
        with transaction(self._connection, self._path):
            for sql, values in self._pending:
                self._connection.execute(sql, values)
            yield
        self._pending.clear()
        self._committed = self._clock()


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
