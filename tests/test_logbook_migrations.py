"""Every earlier form of the logbook is brought to the present one, with what it holds."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tuner.errors import LogbookError
from tuner.logbook import rows
from tuner.logbook.file import open_for_writing
from tuner.logbook.migrations import APPLICATION_ID, MIGRATIONS
from tuner.logbook.store import Logbook, Opening
from tuner.terms import Levels

LEVELS = Levels(40.0, 42.0, 39.0, 37.0, 47.0, (100.0, 125.0), (20.0, 21.0))
FORMS = range(1, len(MIGRATIONS))


def clock() -> datetime:
    return datetime(2026, 3, 1, tzinfo=UTC)


def run(connection: sqlite3.Connection, scripts: Iterable[str]) -> None:
    for script in scripts:
        connection.executescript(script)


def earlier(path: Path, form: int) -> None:
    """Write a logbook of an earlier form with one row of everything that the form knows."""
    plain = sqlite3.connect(path)
    run(plain, [m.sql for m in MIGRATIONS[:form]])
    plain.execute("INSERT INTO rigs VALUES (1, 'Kelpie', 'name = \"Kelpie\"')")
    plain.execute(
        "INSERT INTO floors (id, made_utc, device, sample_rate_hz, calibrated, duration_s, clean_s, levels)"
        " VALUES (1, '2025-01-01T10:00:00.000Z', 'a microphone', 48000, 0, 30.0, 29.0, ?)",
        (rows.levels_text(LEVELS),),
    )
    uid = ("uid, ", "'an own name ' || ?1, ") if form >= 3 else ("", "")
    for number in (1, 2):
        plain.execute(
            f"INSERT INTO sessions ({uid[0]}id, verb, rig_id, floor_id, device, sample_rate_hz, calibrated,"
            f" started_utc, ended_utc, outcome, bands_hz, kinds) VALUES ({uid[1]}?1, 'tune', 1, 1, 'a microphone',"
            " 48000, 0, '2025-01-01T11:00:00.000Z', NULL, '', '[100.0, 125.0]', '[\"gurgle\", \"hum\"]')",
            (number,),
        )
    for second in range(10):
        plain.execute(
            "INSERT INTO readings VALUES (1, ?, ?, ?, ?, 0, 3, 1)",
            (second, 40.0 + second, rows.pack_db((30.0, 31.0 + second)), bytes((90, second))),
        )
    plain.execute("INSERT INTO sounds VALUES (1, 1, 'gurgle', 1.0, 4.0, 44.0, 0.9)")
    plain.execute(
        "INSERT INTO diagnoses (id, session_id, end_s, duration_s, silent, excess_db, levels)"
        " VALUES (1, 1, 10.0, 10.0, 0, 6.5, ?)", (rows.levels_text(LEVELS),),
    )
    plain.execute("INSERT INTO causes VALUES (1, 0, 'siphon over-closed', 0.8, ?)", (json.dumps(["it gurgles"]),))
    plain.execute("INSERT INTO moves VALUES (1, 1, 5.0, 'siphon valve', 0.125, 'turn', 20.0, 'w', 'e', 0.25, 6.0, 's')")
    plain.execute("INSERT INTO looks VALUES (1, 1, 5.5, 'box', 'how high?', NULL)")
    plain.execute("INSERT INTO gaps VALUES (1, 1, 7.0, 0.5, 'lost')")
    plain.execute("INSERT INTO notes VALUES (1, 1, '2025-01-01T11:00:05.000Z', 'after the new pump')")
    if form >= 2:
        plain.execute("UPDATE floors SET place = 'on the sofa'")
        plain.execute(
            "INSERT INTO proofs (id, kind, made_utc, device, sample_rate_hz, rig_name, body) VALUES"
            " (1, 'restart', '2025-01-02T10:00:00.000Z', 'a microphone', 48000, 'Kelpie', '{\"starts\": []}')"
        )
    if form >= 3:
        plain.execute("INSERT INTO tags VALUES (1, 'loud')")
        plain.execute("UPDATE sessions SET place = 'on the sofa', gain = '60 %', offset_db = 110.0")
    plain.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    plain.execute(f"PRAGMA user_version = {form}")
    plain.commit()
    plain.close()


@pytest.mark.parametrize("look_only", [True, False])
@pytest.mark.parametrize("form", FORMS)
def test_what_an_earlier_form_holds_is_kept(tmp_path: Path, form: int, look_only: bool) -> None:
    path = tmp_path / "logbook.sqlite"
    earlier(path, form)
    with Logbook(path, clock=clock, look_only=look_only) as logbook:
        assert [s.id for s in logbook.sessions()] == [2, 1]
        session = logbook.session(1)
        assert session.rig_name == "Kelpie"
        assert (session.seconds, session.sounds, session.moves, session.gaps) == (10, 1, 1, 1)
        assert (session.last_laeq_db, session.last_cause, session.place, session.tags) == (
            40.0, "siphon over-closed", "on the sofa" if form >= 3 else "", ("loud",) if form >= 3 else ()
        )
        assert logbook.rig_text(1) == 'name = "Kelpie"'
        assert [r.bands_db for r in logbook.readings(1)][3] == (30.0, 34.0)
        assert logbook.sounds(1)[0].end_s == 4.0
        (diagnosis,) = logbook.diagnoses(1)
        assert (diagnosis.levels, diagnosis.causes[0].because, diagnosis.heard) == (LEVELS, ("it gurgles",), ())
        assert (logbook.moves(1)[0].done, logbook.moves(1)[0].seen) == (0.25, "s")
        assert logbook.looks(1)[0].answer is None
        assert logbook.gaps(1)[0].note == "lost"
        assert [n.text for n in logbook.notes(1)] == ["after the new pump"]
        found = logbook.latest_floor("a microphone", 48_000)
        assert found is not None
        assert found[1].levels == LEVELS
        assert logbook.floor_place(1) == ("on the sofa" if form >= 2 else "")
        assert len(logbook.proofs("restart")) == (1 if form >= 2 else 0)
        digest = logbook.digest(1)
        assert (digest.seconds, digest.clean_s, digest.kinds["gurgle"].count) == (10, 10, 1)


def schema(connection: sqlite3.Connection) -> list[tuple[str, ...]]:
    return connection.execute("SELECT type, name, sql FROM sqlite_master ORDER BY type, name").fetchall()


@pytest.mark.parametrize("form", FORMS)
def test_an_earlier_form_becomes_the_same_form_as_a_new_file(tmp_path: Path, form: int) -> None:
    earlier(tmp_path / "old.sqlite", form)
    old, new = (open_for_writing(tmp_path / name, 0.0) for name in ("old.sqlite", "new.sqlite"))
    assert schema(old) == schema(new)
    assert old.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    assert old.execute("PRAGMA foreign_key_check").fetchall() == []
    old.close()
    new.close()


def test_copies_that_are_brought_up_apart_agree_on_who_is_who(tmp_path: Path) -> None:
    uids = []
    for name in ("here", "there"):
        earlier(tmp_path / name, 1)
        with Logbook(tmp_path / name, clock=clock) as logbook:
            uids.append([s.uid for s in logbook.sessions()])
            logbook.begin(Opening("listen", "a microphone", 48_000)).close()
            assert len({s.uid for s in logbook.sessions()}) == 3
    assert uids[0] == uids[1]
    assert len(set(uids[0])) == 2


@pytest.mark.parametrize("form", FORMS)
def test_a_step_that_fails_leaves_the_file_as_it_was(
    tmp_path: Path, form: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "logbook.sqlite"
    earlier(path, form)
    before = sqlite3.connect(path).execute("SELECT group_concat(sql) FROM sqlite_master").fetchall()
    broken = MIGRATIONS[-1].__class__("m999_broken", "CREATE TABLE x (a); CREATE TABLE x (a)")
    monkeypatch.setattr("tuner.logbook.file.MIGRATIONS", (*MIGRATIONS, broken))
    with pytest.raises(LogbookError, match="does not answer as a logbook should"):
        Logbook(path, clock=clock)
    plain = sqlite3.connect(path)
    assert plain.execute("SELECT group_concat(sql) FROM sqlite_master").fetchall() == before
    assert plain.execute("PRAGMA user_version").fetchone() == (form,)
    plain.close()
