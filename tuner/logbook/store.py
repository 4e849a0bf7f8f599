"""The logbook as an object: begin a session in it, read sessions back, keep the room's floor.

    with Logbook(path, clock=clock) as logbook:
        with logbook.begin(opening) as entry:      # see ``entry``
            entry.moment(moment)
    Logbook(path, clock=clock, look_only=True).sessions()
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from tuner.errors import LogbookError
from tuner.logbook import content, find, labels, rows
from tuner.logbook.clipfolder import ClipFolder
from tuner.logbook.digest import Digest, digest_of, keep_digest, missing_digests
from tuner.logbook.entry import Entry
from tuner.logbook.file import explained, open_for_reading, open_for_writing, transaction
from tuner.logbook.numbering import next_number
from tuner.logbook.removal import delete_clip, delete_session
from tuner.logbook.seconds import Seconds, seconds_of
from tuner.logbook.transfer import Taken, take_over
from tuner.terms import SOUND_KINDS, Floor

Clock = Callable[[], datetime]
EVERY = rows.Wanted()
_MOST_AT_ONCE = 50  # digests: half a second's work, so that opening does not keep a listener waiting
BUSY_S = 5.0  # longer than any transaction of this program, short enough for a person to wait

@dataclass(frozen=True, slots=True)
class Opening:
    """What is known when a session begins; ``rig_text`` is the rig file's text, "" without a rig.

    ``place`` and ``gain`` are the keeper's words for where the microphone stands and how far it is turned up;
    ``offset_db`` is the calibration that the levels hold; ``check_id`` and ``calibration_id`` are the proofs of the
    microphone that hold now.
    """

    verb: str
    device: str
    sample_rate_hz: int
    calibrated: bool = False
    rig_name: str = ""
    rig_text: str = ""
    floor_id: int | None = None
    note: str = ""
    place: str = ""
    gain: str = ""
    offset_db: float | None = None
    check_id: int | None = None
    calibration_id: int | None = None
    tags: tuple[str, ...] = ()


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
        if not look_only:
            self._catch_up()

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

    def _catch_up(self) -> None:
        """Make the digests of sessions that were cut off or come from an earlier form, some at each opening."""
        with explained(self.path):
            missing = missing_digests(self._connection, _MOST_AT_ONCE)
            if missing:
                with suppress(LogbookError), transaction(self._connection, self.path):
                    for number in missing:
                        keep_digest(self._connection, number)

    def begin(self, opening: Opening) -> Entry:
        """Begin a session and return the entry that takes down what happens in it."""
        now = self._clock()
        with transaction(self._connection, self.path):
            session_id = self._insert_session(opening, now)
        return Entry(self._connection, self.path, session_id, self._clock)

    def _insert_session(self, opening: Opening, now: datetime) -> int:
        rig_id = None
        if opening.rig_text:
            self._connection.execute(
                "INSERT OR IGNORE INTO rigs (name, text) VALUES (?, ?)", (opening.rig_name, opening.rig_text)
            )
            rig_id = self._connection.execute("SELECT id FROM rigs WHERE text = ?", (opening.rig_text,)).fetchone()[0]
        cursor = self._connection.execute(
            "INSERT INTO sessions (id, verb, rig_id, floor_id, device, sample_rate_hz, calibrated, started_utc, kinds,"
            " uid, place, gain, offset_db, check_id, calibration_id)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, lower(hex(randomblob(16))), ?, ?, ?, ?, ?)",
            (
                next_number(self._connection), opening.verb, rig_id, opening.floor_id, opening.device,
                opening.sample_rate_hz, int(opening.calibrated), rows.utc_text(now), json.dumps(SOUND_KINDS),
                opening.place, opening.gain, opening.offset_db, opening.check_id, opening.calibration_id,
            ),
        )
        session_id = int(cursor.lastrowid or 0)
        if opening.note:
            self._connection.execute(
                "INSERT INTO notes (session_id, made_utc, text) VALUES (?, ?, ?)",
                (session_id, rows.utc_text(now), opening.note),
            )
        self._connection.executemany(
            "INSERT OR IGNORE INTO tags (session_id, tag) VALUES (?, ?)",
            [(session_id, labels.tag_of(tag)) for tag in opening.tags],
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
        newest = self.floors(device=device, newest=1)
        return newest[0] if newest else None

    def floor_place(self, number: int) -> str:
        """Return the place, in words, at which a floor was measured; "" where it was not said."""
        kept = self.floor(number)
        return kept.place if kept else ""

    def floor(self, number: int) -> rows.KeptFloor | None:
        """Return one floor with its time and place, or None when there is no such number."""
        with explained(self.path):
            return find.floor(self._connection, number)

    def floors(self, *, device: str | None = None, newest: int = 20) -> tuple[rows.KeptFloor, ...]:
        """Return the newest floors, newest first; those of one device where it is named."""
        with explained(self.path):
            return find.floors(self._connection, device, newest)

    def keep_proof(
        self, kind: rows.ProofKind, device: str, sample_rate_hz: int, body: dict[str, Any], rig_name: str = "",
        session: int | None = None,
    ) -> int:
        """Keep a proof that was made now, as the JSON object that its verb prints, and return its number."""
        with explained(self.path):
            cursor = self._connection.execute(
                "INSERT INTO proofs (kind, made_utc, device, sample_rate_hz, rig_name, body, session_id)"
                " VALUES (?, ?, ?, ?, ?, ?, ?)",
                (
                    kind, rows.utc_text(self._clock()), device, sample_rate_hz, rig_name, json.dumps(body), session,
                ),
            )
        return int(cursor.lastrowid or 0)

    def proofs(
        self, kind: rows.ProofKind, *, device: str | None = None, rig_name: str | None = None,
        session: int | None = None, newest: int = 20,
    ) -> tuple[rows.Proof, ...]:
        """Return the newest proofs of a kind, newest first; those of one device, rig or session where it is named."""
        with explained(self.path):
            return find.proofs(
                self._connection, kind, device=device, rig_name=rig_name, session=session, newest=newest
            )

    def proof(self, number: int) -> rows.Proof | None:
        """Return one proof, or None when there is no such number."""
        with explained(self.path):
            return find.proof(self._connection, number)

    def session_proofs(self, number: int) -> tuple[rows.Proof, ...]:
        """Return the proofs (confirmations, restarts) that a session made, in order."""
        with explained(self.path):
            return find.session_proofs(self._connection, number)

    def sessions(self, newest: int | None = None, wanted: rows.Wanted = EVERY) -> tuple[rows.Session, ...]:
        """Return the sessions that are asked for, newest first; at most ``newest`` of them when it is given."""
        with explained(self.path):
            return find.sessions(self._connection, newest, wanted)

    def session(self, number: int) -> rows.Session:
        """Return one session; raises LogbookError when there is no such number."""
        with explained(self.path):
            found = find.session(self._connection, number)
        if found is None:
            raise find.absent(number, self.path)
        return found

    def dated_moves(self, wanted: rows.Wanted = EVERY) -> tuple[rows.DatedMove, ...]:
        """Return the moves that were done in the sessions that are asked for, in the order of time."""
        with explained(self.path):
            return find.dated_moves(self._connection, wanted)

    def dated_notes(self, wanted: rows.Wanted = EVERY) -> tuple[rows.DatedNote, ...]:
        """Return the notes of the sessions that are asked for, in the order of their making."""
        with explained(self.path):
            return find.dated_notes(self._connection, wanted)

    def seconds(self, number: int) -> Seconds:
        """Return a session's seconds as arrays; see ``seconds.Seconds``."""
        with explained(self.path):
            return seconds_of(self._connection, number)

    def digest(self, number: int) -> Digest:
        """Return a session in a few dozen figures; see ``digest.Digest``."""
        with explained(self.path):
            return digest_of(self._connection, number)

    def rig_text(self, number: int) -> str:
        """Return the rig file's text as it was in a session, or "" without a rig."""
        with explained(self.path):
            return content.rig_text(self._connection, number)

    def bands_hz(self, number: int) -> tuple[float, ...]:
        """Return the third-octave centres (Hz) of a session's readings."""
        with explained(self.path):
            return content.bands_hz(self._connection, number)

    def readings(self, number: int) -> tuple[rows.KeptReading, ...]:
        """Return a session's seconds, in order."""
        with explained(self.path):
            return content.readings(self._connection, number)

    def levels_db(self, number: int) -> tuple[float, ...]:
        """Return the levels (dB(A)) of the seconds that had one, in order."""
        with explained(self.path):
            return content.levels_db(self._connection, number)

    def sounds(self, number: int) -> tuple[rows.KeptSound, ...]:
        """Return a session's sounds by their start."""
        with explained(self.path):
            return content.sounds(self._connection, number)

    def diagnoses(self, number: int) -> tuple[rows.KeptDiagnosis, ...]:
        """Return what a session's listening windows came to, in order."""
        with explained(self.path):
            return content.diagnoses(self._connection, number)

    def moves(self, number: int) -> tuple[rows.KeptMove, ...]:
        """Return a session's moves, in order."""
        with explained(self.path):
            return content.moves(self._connection, number)

    def looks(self, number: int) -> tuple[rows.KeptLook, ...]:
        """Return the questions that a session asked, in order."""
        with explained(self.path):
            return content.looks(self._connection, number)

    def gaps(self, number: int) -> tuple[rows.Gap, ...]:
        """Return the stretches of a session that were not heard, in the order of their writing."""
        with explained(self.path):
            return content.gaps(self._connection, number)

    def notes(self, number: int) -> tuple[rows.Note, ...]:
        """Return the words that were added to a session, in order."""
        with explained(self.path):
            return content.notes(self._connection, number)

    def clips(self, number: int | None = None) -> tuple[rows.KeptClip, ...]:
        """Return the clips of one session, or of all, in order."""
        with explained(self.path):
            return content.clips(self._connection, number)

    def note(self, number: int, text: str) -> None:
        """Add words to a session; raises LogbookError when there is no such number."""
        self.session(number)
        with transaction(self._connection, self.path):
            labels.add_note(self._connection, number, self._clock(), text)

    def tag(self, number: int, tags: Iterable[str]) -> tuple[str, ...]:
        """Put tags on a session and return those that are new to it; an unusable tag raises ConfigError."""
        self.session(number)
        with transaction(self._connection, self.path):
            return labels.add_tags(self._connection, number, tags)

    def untag(self, number: int, tags: Iterable[str]) -> tuple[str, ...]:
        """Take tags off a session and return those that it had."""
        self.session(number)
        with transaction(self._connection, self.path):
            return labels.remove_tags(self._connection, number, tags)

    def tags(self) -> tuple[tuple[str, int], ...]:
        """Return every tag with the number of sessions that bear it, by name."""
        with explained(self.path):
            return labels.all_tags(self._connection)

    @property
    def clip_folder(self) -> ClipFolder:
        """The folder of clips beside the logbook."""
        return ClipFolder.beside(self.path)

    def delete(self, number: int) -> None:
        """Delete a session with all that it holds, clips too; raises LogbookError when there is no such number."""
        self.session(number)
        with transaction(self._connection, self.path):
            delete_session(self._connection, self.clip_folder, number)

    def delete_clip(self, clip: int) -> bool:
        """Delete a clip; False when there is none of this number."""
        with transaction(self._connection, self.path):
            return delete_clip(self._connection, self.clip_folder, clip)

    def take_over(self, other: Path) -> Iterator[Taken]:
        """Take over the sessions of another logbook; see ``transfer``."""
        return take_over(self._connection, self.path, other, BUSY_S)

    def rigs(self) -> tuple[tuple[str, int], ...]:
        """Return the name of each installation with the number of its sessions, by name."""
        return tuple(self._all(
            "SELECT r.name, count(s.id) FROM rigs r LEFT JOIN sessions s ON s.rig_id = r.id GROUP BY r.name"
            " ORDER BY r.name", (),
        ))

    def devices(self) -> tuple[str, ...]:
        """Return the name of every device that heard, was checked or was calibrated, by name."""
        found = self._all(
            "SELECT device FROM sessions UNION SELECT device FROM floors UNION SELECT device FROM proofs ORDER BY 1", ()
        )
        return tuple(row[0] for row in found)

    def table(self, sql: str, values: tuple[Any, ...]) -> list[Any]:
        """Return the rows of a query that ``tables`` holds."""
        return self._all(sql, values)

    def _all(self, sql: str, values: tuple[Any, ...]) -> list[Any]:
        with explained(self.path):
            return self._connection.execute(sql, values).fetchall()
