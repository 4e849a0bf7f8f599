"""The numbered steps by which a logbook file came to its present form.

A step is never edited once it is out in the world: a change of the form is a new step at the end of the list. The
number of steps that a file has seen stands in its ``user_version``; ``APPLICATION_ID`` marks the file as a
logbook, so that the file of another program is never written to.

Times are UTC, ISO 8601 text with milliseconds and a Z; ``*_s`` columns are seconds from the session's start.
A level is dB(A), re 20 µPa where the session is calibrated and re full scale otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass

APPLICATION_ID = 0x48574C42  # "HWLB"


@dataclass(frozen=True, slots=True)
class Migration:
    """One step: its name, with its number in front, and the SQL that carries it out."""

    name: str
    sql: str


_M001 = """
CREATE TABLE rigs (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL,
    text TEXT NOT NULL UNIQUE
);
CREATE TABLE floors (
    id INTEGER PRIMARY KEY,
    made_utc TEXT NOT NULL,
    device TEXT NOT NULL,
    sample_rate_hz INTEGER NOT NULL,
    calibrated INTEGER NOT NULL,
    duration_s REAL NOT NULL,
    clean_s REAL NOT NULL,
    levels TEXT NOT NULL
);
CREATE TABLE sessions (
    id INTEGER PRIMARY KEY,
    verb TEXT NOT NULL,
    rig_id INTEGER REFERENCES rigs (id),
    floor_id INTEGER REFERENCES floors (id),
    device TEXT NOT NULL,
    sample_rate_hz INTEGER NOT NULL,
    calibrated INTEGER NOT NULL,
    started_utc TEXT NOT NULL,
    ended_utc TEXT,
    outcome TEXT NOT NULL DEFAULT '',
    bands_hz TEXT NOT NULL DEFAULT '[]',
    kinds TEXT NOT NULL
);
CREATE INDEX sessions_by_start ON sessions (started_utc);
CREATE TABLE readings (
    session_id INTEGER NOT NULL REFERENCES sessions (id) ON DELETE CASCADE,
    second INTEGER NOT NULL,
    level_db REAL,
    bands BLOB NOT NULL,
    heard BLOB NOT NULL,
    outside INTEGER NOT NULL,
    dropped INTEGER NOT NULL,
    clipped INTEGER NOT NULL,
    PRIMARY KEY (session_id, second)
) WITHOUT ROWID;
CREATE TABLE sounds (
    id INTEGER PRIMARY KEY,
    session_id INTEGER NOT NULL REFERENCES sessions (id) ON DELETE CASCADE,
    kind TEXT NOT NULL,
    start_s REAL NOT NULL,
    end_s REAL NOT NULL,
    level_db REAL,
    confidence REAL NOT NULL
);
CREATE INDEX sounds_by_session ON sounds (session_id, start_s);
CREATE TABLE diagnoses (
    id INTEGER PRIMARY KEY,
    session_id INTEGER NOT NULL REFERENCES sessions (id) ON DELETE CASCADE,
    end_s REAL NOT NULL,
    duration_s REAL NOT NULL,
    silent INTEGER NOT NULL,
    excess_db REAL,
    levels TEXT NOT NULL
);
CREATE INDEX diagnoses_by_session ON diagnoses (session_id, end_s);
CREATE TABLE causes (
    diagnosis_id INTEGER NOT NULL REFERENCES diagnoses (id) ON DELETE CASCADE,
    rank INTEGER NOT NULL,
    name TEXT NOT NULL,
    probability REAL NOT NULL,
    because TEXT NOT NULL,
    PRIMARY KEY (diagnosis_id, rank)
) WITHOUT ROWID;
CREATE TABLE moves (
    id INTEGER PRIMARY KEY,
    session_id INTEGER NOT NULL REFERENCES sessions (id) ON DELETE CASCADE,
    at_s REAL NOT NULL,
    control TEXT NOT NULL,
    amount REAL NOT NULL,
    unit TEXT NOT NULL,
    wait_s REAL NOT NULL,
    why TEXT NOT NULL,
    expected TEXT NOT NULL,
    done REAL,
    done_s REAL,
    seen TEXT NOT NULL DEFAULT ''
);
CREATE INDEX moves_by_session ON moves (session_id, at_s);
CREATE TABLE looks (
    id INTEGER PRIMARY KEY,
    session_id INTEGER NOT NULL REFERENCES sessions (id) ON DELETE CASCADE,
    at_s REAL NOT NULL,
    question TEXT NOT NULL,
    text TEXT NOT NULL,
    answer TEXT
);
CREATE INDEX looks_by_session ON looks (session_id, at_s);
CREATE TABLE gaps (
    id INTEGER PRIMARY KEY,
    session_id INTEGER NOT NULL REFERENCES sessions (id) ON DELETE CASCADE,
    start_s REAL NOT NULL,
    length_s REAL NOT NULL,
    note TEXT NOT NULL
);
CREATE INDEX gaps_by_session ON gaps (session_id, start_s);
CREATE TABLE notes (
    id INTEGER PRIMARY KEY,
    session_id INTEGER NOT NULL REFERENCES sessions (id) ON DELETE CASCADE,
    made_utc TEXT NOT NULL,
    text TEXT NOT NULL
);
CREATE INDEX notes_by_session ON notes (session_id, made_utc);
"""

_M002 = """
ALTER TABLE floors ADD COLUMN place TEXT NOT NULL DEFAULT '';
CREATE TABLE proofs (
    id INTEGER PRIMARY KEY,
    kind TEXT NOT NULL,
    made_utc TEXT NOT NULL,
    device TEXT NOT NULL,
    sample_rate_hz INTEGER NOT NULL,
    rig_name TEXT NOT NULL DEFAULT '',
    body TEXT NOT NULL
);
CREATE INDEX proofs_by_kind ON proofs (kind, device, id);
"""

# A session that is older than this form is known by what it was, so that copies of one logbook still agree on it.
_M003 = """
ALTER TABLE sessions ADD COLUMN uid TEXT NOT NULL DEFAULT '';
ALTER TABLE sessions ADD COLUMN place TEXT NOT NULL DEFAULT '';
ALTER TABLE sessions ADD COLUMN gain TEXT NOT NULL DEFAULT '';
ALTER TABLE sessions ADD COLUMN offset_db REAL;
ALTER TABLE sessions ADD COLUMN check_id INTEGER REFERENCES proofs (id) ON DELETE SET NULL;
ALTER TABLE sessions ADD COLUMN calibration_id INTEGER REFERENCES proofs (id) ON DELETE SET NULL;
UPDATE sessions SET uid = started_utc || ' ' || verb || ' ' || id || ' ' || device;
CREATE UNIQUE INDEX sessions_by_uid ON sessions (uid);
ALTER TABLE proofs ADD COLUMN session_id INTEGER REFERENCES sessions (id) ON DELETE CASCADE;
CREATE INDEX proofs_by_session ON proofs (session_id);
ALTER TABLE diagnoses ADD COLUMN clean_s REAL;
ALTER TABLE diagnoses ADD COLUMN outside_share REAL;
ALTER TABLE diagnoses ADD COLUMN heard TEXT NOT NULL DEFAULT '[]';
ALTER TABLE diagnoses ADD COLUMN features TEXT NOT NULL DEFAULT '{}';
CREATE TABLE tags (
    session_id INTEGER NOT NULL REFERENCES sessions (id) ON DELETE CASCADE,
    tag TEXT NOT NULL,
    PRIMARY KEY (session_id, tag)
) WITHOUT ROWID;
CREATE INDEX tags_by_tag ON tags (tag, session_id);
CREATE TABLE digests (
    session_id INTEGER PRIMARY KEY REFERENCES sessions (id) ON DELETE CASCADE,
    seconds INTEGER NOT NULL,
    body TEXT NOT NULL
);
CREATE TABLE clips (
    id INTEGER PRIMARY KEY,
    session_id INTEGER NOT NULL REFERENCES sessions (id) ON DELETE CASCADE,
    kind TEXT NOT NULL,
    start_s REAL NOT NULL,
    length_s REAL NOT NULL,
    file TEXT NOT NULL,
    size INTEGER NOT NULL
);
CREATE INDEX clips_by_session ON clips (session_id, start_s);
"""

# SQLite gives the highest number anew once its session is deleted.
_M004 = """
CREATE TABLE numbering (last_session INTEGER NOT NULL);
INSERT INTO numbering VALUES (0);
"""

MIGRATIONS: tuple[Migration, ...] = (
    Migration("m001_first_logbook", _M001),
    Migration("m002_proofs", _M002),
    Migration("m003_for_years", _M003),
    Migration("m004_numbers_once", _M004),
)
