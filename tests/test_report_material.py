from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from tests.pages import FIRST, example_rig, flac, kept, material
from tests.test_logbook_choosing import Days
from tuner.errors import ConfigError, LogbookError
from tuner.logbook.store import Logbook
from tuner.report import material as gathering
from tuner.report.page import headline


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return kept(tmp_path / "logbook.sqlite", rig=example_rig(tmp_path))


def test_a_tuning_holds_both_sides(path: Path) -> None:
    found = material(path, "2")
    assert found.before is not None
    assert (found.before.session.id, found.after.session.id) == (2, 2)
    assert (found.before.stretch.part.to_s, found.after.stretch.part.from_s) == (50.0, 70.0)
    assert [m.move.control for m in found.after.moves] == ["siphon valve"]
    assert found.rig is not None
    assert found.tags == ("all", "day 1")


def test_without_a_silent_session_before_it_the_latest_is_told_alone(path: Path) -> None:
    found = material(path)
    assert found.comparison is None
    assert found.after.session.id == 3
    assert headline(found).startswith("silent at ")
    assert material(path, "1").comparison is None


def test_one_session_is_told_alone_when_asked(path: Path) -> None:
    assert material(path, "2", alone=True).comparison is None
    with pytest.raises(ConfigError, match="--alone must come with one session's number"):
        material(path, "1", "2", alone=True)


def test_another_rigs_silence_is_no_before(tmp_path: Path) -> None:
    days = Days(tmp_path / "logbook.sqlite")
    days.session(silent=True, rig="Selkie")
    days.session(rig="Kelpie")
    days.logbook.close()
    assert material(tmp_path / "logbook.sqlite").before is None


def test_clips_are_shared_between_the_sides_and_bounded(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    rows = []
    with Logbook(path, clock=lambda: FIRST) as logbook:
        for session in (1, 2):
            for at in range(4):
                name, size = logbook.clip_folder.put(session, "hiss", 10.0 + at, flac())
                rows.append((session, 10.0 + at, name, size))
    with sqlite3.connect(path) as plain:
        plain.executemany("INSERT INTO clips VALUES (NULL, ?, 'hiss', ?, 1.0, ?, ?)", rows)
    plain.close()
    monkeypatch.setattr(gathering, "MOST_CLIPS", 4)
    found = material(path, "1", "2")
    assert [k.clip.session for k in found.clips] == [1, 1, 2, 2]
    assert found.clips_left_out == 5
    assert material(path, "1", "2", with_clips=False).clips == ()


def test_a_file_that_is_no_flac_is_left_out(path: Path) -> None:
    (clip,) = (path.parent / "logbook.sqlite-clips").glob("*.flac")
    clip.write_bytes(b"<html>")
    found = material(path, "2")
    assert (found.clips, found.clips_left_out) == ((), 1)


def test_what_is_not_there_is_named(path: Path, tmp_path: Path) -> None:
    with pytest.raises(LogbookError, match="session=9 must be the number of a session"):
        material(path, "9")
    with Logbook(tmp_path / "empty.sqlite", clock=lambda: FIRST):
        pass
    with pytest.raises(ConfigError, match="holds no session"):
        material(tmp_path / "empty.sqlite")
