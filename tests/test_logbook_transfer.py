from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from tests.logbooks import FIRST, HOSTILE, Days, fill
from tests.test_logbook_migrations import earlier
from tuner.errors import LogbookError
from tuner.logbook.store import Logbook, Opening
from tuner.logbook.tables import TABLES, seconds_rows, table_rows


def everything(path: Path) -> list[object]:
    """What a logbook says of its sessions by their names, without their numbers."""
    found: list[object] = []
    with Logbook(path, clock=Days(), look_only=True) as logbook:
        for s in sorted(logbook.sessions(), key=lambda s: s.started):
            tables = [[row[1:] for row in table_rows(logbook, t, s.id)] for t in TABLES if "window" not in t.columns]
            found.append((s.uid, tables, [row[1:] for row in seconds_rows(logbook, s.id, (100.0, 125.0))]))
            found.append((logbook.diagnoses(s.id), logbook.digest(s.id).kinds, s.tags, s.place))
            assert s.floor_id is not None
            assert s.check_id is not None
            found.append((logbook.floor_place(s.floor_id), logbook.proof(s.check_id).body))  # type: ignore[union-attr]
    return found


def test_everything_is_taken_over_with_new_numbers(tmp_path: Path) -> None:
    here, there = tmp_path / "here.sqlite", tmp_path / "there.sqlite"
    fill(there, range(3), words=HOSTILE)
    before = there.read_bytes()
    with Logbook(here, clock=Days()) as logbook:
        logbook.begin(Opening("listen", "another", 44_100)).close()
        taken = list(logbook.take_over(there))
        assert [(t.there, t.here, t.fate) for t in taken] == [(1, 2, "new"), (2, 3, "new"), (3, 4, "new")]
        logbook.delete(1)
    assert everything(here) == everything(there)
    assert there.read_bytes() == before


def test_importing_twice_adds_nothing(tmp_path: Path) -> None:
    here, there = tmp_path / "here.sqlite", tmp_path / "there.sqlite"
    fill(there)
    with Logbook(here, clock=Days()) as logbook:
        list(logbook.take_over(there))
        dump = list(sqlite3.connect(here).iterdump())
        assert [t.fate for t in logbook.take_over(there)] == ["known", "known"]
    assert list(sqlite3.connect(here).iterdump()) == dump


def test_new_notes_and_tags_of_a_known_session_come_over_both_ways(tmp_path: Path) -> None:
    here, there = tmp_path / "here.sqlite", tmp_path / "there.sqlite"
    fill(there)
    with Logbook(here, clock=Days()) as logbook, Logbook(there, clock=Days()) as other:
        list(logbook.take_over(there))
        other.note(1, "there")
        other.tag(2, ["loud"])
        logbook.note(1, "here")
        assert [t.fate for t in logbook.take_over(there)] == ["enriched", "enriched"]
        assert [t.fate for t in other.take_over(here)] == ["enriched", "known"]
        assert {n.text for n in logbook.notes(1)} == {n.text for n in other.notes(1)} == {"Kelpie", "there", "here"}
        assert logbook.session(2).tags == ("before", "loud")


def test_a_session_that_differs_is_told_and_kept(tmp_path: Path) -> None:
    here, there = tmp_path / "here.sqlite", tmp_path / "there.sqlite"
    fill(there)
    with Logbook(here, clock=Days()) as logbook:
        list(logbook.take_over(there))
        plain = sqlite3.connect(there)
        plain.execute("DELETE FROM readings WHERE session_id = 1 AND second > 1")
        plain.commit()
        plain.close()
        first, second = logbook.take_over(there)
        assert (first.fate, first.why, second.fate) == ("differs", "2 seconds there, 5 here", "known")
        assert len(logbook.readings(1)) == 5


@pytest.mark.parametrize("spoil", [
    "UPDATE sessions SET started_utc = 'yesterday' WHERE id = 1",
    "UPDATE diagnoses SET levels = '{}' WHERE session_id = 1",
    "UPDATE diagnoses SET heard = '[' WHERE session_id = 1",
    "UPDATE moves SET amount = 'much' WHERE session_id = 1",
    "UPDATE notes SET made_utc = x'00' WHERE session_id = 1",
    "UPDATE readings SET bands = 7 WHERE session_id = 1",
    "UPDATE sessions SET device = x'ff' WHERE id = 1",
    "UPDATE sessions SET kinds = '7' WHERE id = 1",
    "UPDATE sounds SET start_s = 'soon' WHERE session_id = 1",
    "UPDATE sounds SET end_s = 9e999 WHERE session_id = 1",
    "UPDATE moves SET done = x'00' WHERE session_id = 1",
    "UPDATE readings SET heard = x'00' WHERE session_id = 1 AND second = 2",
    "UPDATE readings SET outside = 'x' WHERE session_id = 1",
    "UPDATE causes SET because = '[1]' WHERE diagnosis_id = 1",
    "UPDATE diagnoses SET features = '{\"tilt\": \"steep\"}' WHERE session_id = 1",
    "UPDATE sessions SET started_utc = '9999-12-31T23:59:59.000Z' WHERE id = 1",
    "UPDATE sessions SET bands_hz = '[0, -1]' WHERE id = 1",
    "UPDATE gaps SET length_s = 'long' WHERE session_id = 1",
])
def test_a_session_that_cannot_be_read_back_is_left_out(tmp_path: Path, spoil: str) -> None:
    here, there = tmp_path / "here.sqlite", tmp_path / "there.sqlite"
    fill(there)
    plain = sqlite3.connect(there)
    plain.execute(spoil)
    plain.commit()
    plain.close()
    with Logbook(here, clock=Days()) as logbook:
        assert sorted(t.fate for t in logbook.take_over(there)) == ["new", "unreadable"]
        assert len(logbook.sessions()) == 1


def test_an_earlier_form_is_read_without_being_changed(tmp_path: Path) -> None:
    here, there = tmp_path / "here.sqlite", tmp_path / "there.sqlite"
    earlier(there, 1)
    before = there.read_bytes()
    with Logbook(here, clock=Days()) as logbook:
        assert [t.fate for t in logbook.take_over(there)] == ["new", "new"]
        assert [t.fate for t in logbook.take_over(there)] == ["known", "known"]
        assert [s.started < FIRST for s in logbook.sessions()] == [True, True]
    assert there.read_bytes() == before


def test_a_logbook_is_not_taken_into_itself(tmp_path: Path) -> None:
    fill(tmp_path / "here.sqlite")
    with (
        Logbook(tmp_path / "here.sqlite", clock=Days()) as logbook,
        pytest.raises(LogbookError, match="it was to be taken into"),
    ):
        list(logbook.take_over(tmp_path / "here.sqlite"))


def test_clips_come_along_and_names_cannot_reach_out_of_the_folder(tmp_path: Path) -> None:
    here, there = tmp_path / "here.sqlite", tmp_path / "there.sqlite"
    fill(there)
    secret = tmp_path / "secret.flac"
    secret.write_bytes(b"secret")
    with Logbook(there, clock=Days()) as other:
        name, size = other.clip_folder.put(1, "gurgle", 3.0, b"fLaC")
        plain = sqlite3.connect(there)
        for file in (name, "../secret.flac", str(secret), "link.flac"):
            plain.execute("INSERT INTO clips VALUES (NULL, 1, 'gurgle', 3.0, 2.0, ?, ?)", (file, size))
        (other.clip_folder.path / "link.flac").symlink_to(secret)
        plain.commit()
        plain.close()
    with Logbook(here, clock=Days()) as logbook:
        list(logbook.take_over(there))
        (clip,) = logbook.clips()
        file = logbook.clip_folder.file(clip.file)
        assert file is not None
        assert file.read_bytes() == b"fLaC"
        assert file.parent == tmp_path / "here.sqlite-clips"
    with Logbook(there, clock=Days()) as other:
        other.delete(1)
    assert secret.read_bytes() == b"secret"
    assert [p.name for p in (tmp_path / "there.sqlite-clips").iterdir()] == ["link.flac"]


def test_a_proof_that_could_not_be_read_is_left_there(tmp_path: Path) -> None:
    here, there = tmp_path / "here.sqlite", tmp_path / "there.sqlite"
    fill(there, range(1))
    with Logbook(there, clock=Days()) as other:
        other.keep_proof("restart", "a microphone", 48_000, {"starts": [{"catches_s": "soon"}]})
        other.keep_proof("restart", "a microphone", 48_000, {"starts": [{"catches_s": 12.0}]})
    with Logbook(here, clock=Days()) as logbook:
        list(logbook.take_over(there))
        assert [p.body["starts"] for p in logbook.proofs("restart")] == [[{"catches_s": 12.0}]]


def test_a_room_that_could_not_be_read_is_left_there(tmp_path: Path) -> None:
    here, there = tmp_path / "here.sqlite", tmp_path / "there.sqlite"
    fill(there, range(1))
    plain = sqlite3.connect(there)
    plain.execute("UPDATE floors SET place = x'ff00'")
    plain.commit()
    plain.close()
    with Logbook(here, clock=Days()) as logbook:
        assert [t.fate for t in logbook.take_over(there)] == ["new"]
        assert logbook.floors() == ()
        assert logbook.session(1).floor_id is None


def test_what_is_no_clip_or_finds_no_room_is_left_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    here, there = tmp_path / "here.sqlite", tmp_path / "there.sqlite"
    fill(there, range(1))
    monkeypatch.setattr("tuner.logbook.transfer.MOST_BYTES", 1_000)
    with Logbook(there, clock=Days()) as other, sqlite3.connect(there) as plain:
        for at_s, content in enumerate((b"no clip", b"fLaC" + bytes(500), b"fLaC" + bytes(500))):
            name, size = other.clip_folder.put(1, "gurgle", float(at_s), content)
            plain.execute("INSERT INTO clips VALUES (NULL, 1, 'gurgle', ?, 2.0, ?, ?)", (float(at_s), name, size))
    plain.close()
    with Logbook(here, clock=Days()) as logbook:
        list(logbook.take_over(there))
        assert [clip.start_s for clip in logbook.clips()] == [1.0]
    assert len(list((tmp_path / "here.sqlite-clips").iterdir())) == 1
