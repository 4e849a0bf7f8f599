from __future__ import annotations

import signal
import sqlite3
import stat
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tuner.errors import LogbookError
from tuner.logbook.file import default_path, explained
from tuner.logbook.migrations import APPLICATION_ID, MIGRATIONS
from tuner.logbook.store import Logbook, Opening
from tuner.terms import Moment, Sound, Step

OPENING = Opening("listen", "a microphone", 48_000)


def clock() -> datetime:
    return datetime(2026, 3, 1, tzinfo=UTC)


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def test_the_file_and_what_lies_beside_it_belong_to_the_owner_alone(tmp_path: Path) -> None:
    path = tmp_path / "deep" / "down" / "logbook.sqlite"
    with Logbook(path, clock=clock) as logbook:
        logbook.begin(OPENING).close()
        beside = sorted(path.parent.iterdir())
        assert [p.name for p in beside] == ["logbook.sqlite", "logbook.sqlite-shm", "logbook.sqlite-wal"]
        assert {mode(p) for p in beside} == {0o600}
    assert mode(path.parent) == 0o700


def test_a_new_file_has_seen_all_migrations(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    Logbook(path, clock=clock).close()
    with sqlite3.connect(path) as plain:
        assert plain.execute("PRAGMA user_version").fetchone() == (len(MIGRATIONS),)
        assert plain.execute("PRAGMA application_id").fetchone() == (APPLICATION_ID,)
        assert plain.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    plain.close()


def test_migrations_are_numbered_in_order() -> None:
    assert [m.name[:5] for m in MIGRATIONS] == [f"m{i:03d}_" for i in range(1, len(MIGRATIONS) + 1)]


def test_opening_again_keeps_what_is_there(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    for count in (1, 2, 3):
        with Logbook(path, clock=clock) as logbook:
            logbook.begin(OPENING).close()
            assert len(logbook.sessions()) == count


@pytest.mark.parametrize("look_only", [True, False])
def test_a_newer_file_is_refused_and_left_alone(tmp_path: Path, look_only: bool) -> None:
    path = tmp_path / "logbook.sqlite"
    Logbook(path, clock=clock).close()
    with sqlite3.connect(path) as plain:
        plain.execute("PRAGMA user_version = 99")
    plain.close()
    before = path.read_bytes()
    with pytest.raises(LogbookError, match="was written by a newer hushweir"):
        Logbook(path, clock=clock, look_only=look_only)
    assert path.read_bytes() == before


@pytest.mark.parametrize("look_only", [True, False])
def test_another_programs_database_is_refused_and_left_alone(tmp_path: Path, look_only: bool) -> None:
    path = tmp_path / "other.sqlite"
    with sqlite3.connect(path) as plain:
        plain.execute("CREATE TABLE fish (name TEXT)")
    plain.close()
    before = path.read_bytes()
    with pytest.raises(LogbookError, match="the database of another program"):
        Logbook(path, clock=clock, look_only=look_only)
    assert path.read_bytes() == before


@pytest.mark.parametrize("look_only", [True, False])
def test_a_file_that_is_no_database_is_refused_and_left_alone(tmp_path: Path, look_only: bool) -> None:
    path = tmp_path / "letter.txt"
    path.write_bytes(b"Dear neighbour, the tank is quiet now. " * 200)
    before = path.read_bytes()
    with pytest.raises(LogbookError, match="is damaged or is not a logbook; it was left as it is"):
        Logbook(path, clock=clock, look_only=look_only)
    assert path.read_bytes() == before


def test_a_file_damaged_inside_is_said_to_be_damaged(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    with Logbook(path, clock=clock) as logbook:
        for _ in range(200):
            logbook.begin(OPENING).close()
    content = bytearray(path.read_bytes())
    content[4096:] = b"\xa5" * (len(content) - 4096)
    path.write_bytes(content)
    with pytest.raises(LogbookError, match="is damaged"), Logbook(path, clock=clock) as logbook:
        logbook.sessions()
    assert path.read_bytes() == content


def test_a_locked_file_is_said_to_be_in_use(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    Logbook(path, clock=clock).close()
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with (
        Logbook(path, clock=clock, busy_s=0.0) as logbook,
        pytest.raises(LogbookError, match="in use by another program"),
    ):
        logbook.begin(OPENING)
    other.execute("ROLLBACK")
    other.close()


def test_sounds_that_could_not_be_written_are_written_later(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    with Logbook(path, clock=clock, busy_s=0.0) as logbook:
        entry = logbook.begin(OPENING)
        entry.sound(Sound("slurp", 1.0, 2.0, 40.0, 0.9))
        other = sqlite3.connect(path, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(LogbookError, match="in use"):
            entry.commit()
        other.execute("ROLLBACK")
        other.close()
        entry.close()
        assert [s.kind for s in logbook.sounds(entry.id)] == ["slurp"]


def test_two_programs_write_by_turns(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    with Logbook(path, clock=clock) as one, Logbook(path, clock=clock) as two:
        first, second = one.begin(OPENING), two.begin(OPENING)
        first.note("one")
        second.note("two")
        first.close()
        second.close()
        assert {s.id for s in one.sessions()} == {first.id, second.id}


def test_a_read_only_file_is_refused_for_writing_but_can_be_looked_at(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    with Logbook(path, clock=clock) as logbook:
        logbook.begin(OPENING).close()
    path.chmod(0o400)
    with pytest.raises(LogbookError, match="it is read-only"):
        Logbook(path, clock=clock)
    with Logbook(path, clock=clock, look_only=True) as logbook:
        assert len(logbook.sessions()) == 1


def test_a_read_only_folder_is_refused_for_writing_but_can_be_looked_at(tmp_path: Path) -> None:
    path = tmp_path / "kept" / "logbook.sqlite"
    with Logbook(path, clock=clock) as logbook:
        logbook.begin(OPENING).close()
    path.parent.chmod(0o500)
    try:
        with pytest.raises(LogbookError, match="its folder is read-only"):
            Logbook(path, clock=clock)
        with pytest.raises(LogbookError, match="cannot be made"):
            Logbook(path.parent / "new.sqlite", clock=clock)
        with Logbook(path, clock=clock, look_only=True) as logbook:
            assert len(logbook.sessions()) == 1
        assert [p.name for p in path.parent.iterdir()] == ["logbook.sqlite"]
    finally:
        path.parent.chmod(0o700)


def test_a_logbook_that_is_not_there_is_not_made_by_looking(tmp_path: Path) -> None:
    with pytest.raises(LogbookError, match="does not exist"):
        Logbook(tmp_path / "logbook.sqlite", clock=clock, look_only=True)
    assert list(tmp_path.iterdir()) == []


def test_looking_cannot_write(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    Logbook(path, clock=clock).close()
    with (
        Logbook(path, clock=clock, look_only=True) as logbook,
        pytest.raises(LogbookError, match="cannot be opened or written"),
    ):
        logbook.begin(OPENING)


def test_a_folder_is_refused(tmp_path: Path) -> None:
    with pytest.raises(LogbookError, match="is a folder"):
        Logbook(tmp_path, clock=clock)


def test_a_file_in_place_of_a_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "box").write_text("not a folder")
    with pytest.raises(LogbookError, match="cannot be made"):
        Logbook(tmp_path / "box" / "logbook.sqlite", clock=clock)


@pytest.mark.parametrize(("name", "says"), [
    ("SQLITE_FULL", "the disk is full"),
    ("SQLITE_IOERR_WRITE", "check the disk"),
    ("SQLITE_CANTOPEN", "check the rights"),
    ("SQLITE_CORRUPT_INDEX", "is damaged"),
    ("SQLITE_BUSY_SNAPSHOT", "in use by another program"),
    ("SQLITE_ERROR", "does not answer as a logbook should"),
])
def test_what_sqlite_says_becomes_one_line(tmp_path: Path, name: str, says: str) -> None:
    error = sqlite3.OperationalError("words of SQLite")
    error.sqlite_errorname = name
    with pytest.raises(LogbookError, match=says) as caught, explained(tmp_path / "logbook.sqlite"):
        raise error
    assert "\n" not in str(caught.value)


def test_a_full_disk_is_said_and_loses_nothing_that_was_written(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    with Logbook(path, clock=clock) as logbook:
        entry = logbook.begin(OPENING)
        entry.note("before")
        pages = logbook._connection.execute("PRAGMA page_count").fetchone()[0]
        logbook._connection.execute(f"PRAGMA max_page_count = {pages + 2}")
        entry.note("x" * 1_000_000)
        assert "the disk is full" in entry.trouble
        with pytest.raises(LogbookError, match=r"the disk is full.*the last 2 rows of session 1 are lost"):
            entry.close()
    with Logbook(path, clock=clock, look_only=True) as logbook:
        assert [n.text for n in logbook.notes(entry.id)] == ["before"]


def test_a_session_goes_on_while_the_disk_is_full_and_is_written_when_there_is_room(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    now = [datetime(2026, 3, 1, tzinfo=UTC)]
    with Logbook(path, clock=lambda: now[0]) as logbook:
        entry = logbook.begin(OPENING)
        pages = logbook._connection.execute("PRAGMA page_count").fetchone()[0]
        logbook._connection.execute(f"PRAGMA max_page_count = {pages + 1}")
        entry.note("x" * 100_000)
        for i in range(20):
            now[0] += timedelta(seconds=0.5)
            entry.moment(Moment(i / 2, i / 2 + 0.5, 40.0, (1000.0,), (30.0,), {}, 0.0))
            if i == 10:
                move = entry.advised(Step("vent tap", 0.25, "turn", 5.0, "why"), 5.0)
                assert entry.trouble
                assert logbook.readings(entry.id) == ()
                logbook._connection.execute("PRAGMA max_page_count = 1000000")
        entry.done(move, 0.5, 9.0)
        assert entry.trouble == ""
        entry.close("silent")
        assert len(logbook.readings(entry.id)) == 10
        assert logbook.moves(entry.id)[0].done == 0.5
        assert len(logbook.notes(entry.id)[0].text) == 100_000
        assert logbook.session(entry.id).outcome == "silent"


def test_the_default_place_is_the_users_data_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert default_path().parts[-2:] == ("hushweir", "logbook.sqlite")


_CHILD = """
import os, signal, sys
from datetime import datetime, timedelta, UTC
from pathlib import Path
from tuner.logbook.store import Logbook, Opening
from tuner.terms import Moment
now = datetime(2026, 3, 1, tzinfo=UTC)
entry = Logbook(Path(sys.argv[1]), clock=lambda: now).begin(Opening("listen", "a microphone", 48000))
for i in range(int(sys.argv[2])):
    now += timedelta(seconds=0.5)
    entry.moment(Moment(i / 2, i / 2 + 0.5, 40.0, (1000.0,), (30.0,), {}, 0.0))
os.kill(os.getpid(), signal.SIGKILL)
"""


@pytest.mark.parametrize("moments", [1, 2, 7, 20])
def test_a_killed_process_loses_at_most_the_second_that_was_not_over(tmp_path: Path, moments: int) -> None:
    path = tmp_path / "logbook.sqlite"
    child = subprocess.run([sys.executable, "-c", _CHILD, str(path), str(moments)], check=False)
    assert child.returncode == -signal.SIGKILL
    with Logbook(path, clock=clock, look_only=True) as logbook:
        (session,) = logbook.sessions()
        assert session.ended is None
        assert len(logbook.readings(session.id)) == moments // 2
