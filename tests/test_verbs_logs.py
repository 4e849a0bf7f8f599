"""``hushweir log``: listing, noting, tagging, exporting, importing and deleting, as a keeper types it."""

from __future__ import annotations

import csv
import json
import stat
import sys
from pathlib import Path

import pyarrow.parquet
import pytest

from tests.desks import PaperDesk
from tests.logbooks import HOSTILE, fill
from tuner.cli import build_parser
from tuner.errors import ConfigError, HushweirError, LogbookError
from tuner.logbook.clipfolder import ClipFolder
from tuner.logbook.store import Logbook
from tuner.verbs import log_clips, log_delete, log_export, log_import, log_kept, log_labels, logs

VERBS = {m.__name__.rpartition(".")[2]: m for m in (
    log_clips, log_delete, log_export, log_import, log_kept, log_labels, logs,
)}


def log(path: Path, *words: str, typed: str | None = None, code: int = 0, width: int = 200) -> str:
    """Carry out ``hushweir log`` and return what it printed."""
    paper = PaperDesk(typed or "", terminal=typed is not None, width=width)
    args = build_parser().parse_args(["log", "--logbook", str(path), *words])
    assert VERBS[args.module].run(args, paper.desk) == code
    errors = paper.desk.errors.getvalue()  # type: ignore[attr-defined]
    assert not any(ord(c) < 32 and c != "\n" for c in paper.out + errors)
    return paper.out + errors


@pytest.fixture
def path(tmp_path: Path) -> Path:
    fill(tmp_path / "log.sqlite", range(3))
    return tmp_path / "log.sqlite"


def test_sessions_are_listed_by_tag_and_day(path: Path) -> None:
    log(path, "tag", "2", "new pump", "loud")
    assert "3 sessions" in log(path)
    listed = log(path, "--tag", "new pump")
    assert "1 session in" in listed
    assert "before, loud, new pump" in listed
    assert "1 session in" in log(path, "--since", "2026-03-03")
    assert "2 sessions in" in log(path, "--until", "2026-03-02")
    assert "0 sessions in" in log(path, "--rig", "Another")
    with pytest.raises(ConfigError, match="since='soon' must be a day such as 2026-03-01"):
        log(path, "--since", "soon")


def test_notes_and_tags_are_put_on_and_shown(path: Path) -> None:
    assert log(path, "note", "1", "after the new pump") == "noted    session 1: after the new pump\n"
    assert log(path, "tag", "1", "loud") == "tagged   session 1 by 1 tag; it has: before, loud\n"
    assert "it has: loud" in log(path, "untag", "1", "before")
    assert log(path, "tags").splitlines() == [f"{'before':<24} 2 sessions", f"{'loud':<24} 1 session"]
    page = log(path, "show", "1")
    assert "after the new pump" in page
    assert "tags     loud" in page
    assert "set up   Kelpie, gain 60 %" in page


def test_nothing_is_begun_by_noting_in_a_logbook_that_is_not_there(tmp_path: Path) -> None:
    for words in (["note", "1", "x"], ["delete", "1", "--yes"], ["clips"], ["tags"], ["kept"]):
        with pytest.raises(LogbookError, match="does not exist"):
            log(tmp_path / "none.sqlite", *words)
    assert list(tmp_path.iterdir()) == []


def test_hostile_words_are_shown_as_words_everywhere(tmp_path: Path) -> None:
    path = tmp_path / "log.sqlite"
    fill(path, range(1), words=HOSTILE)
    log(path, "note", "1", HOSTILE)
    for words in ([], ["show", "1"], ["kept"], ["--json"], ["show", "1", "--json"], ["kept", "--json"]):
        assert "owned" in log(path, *words, width=1000)
    assert "\\x1b]0;owned" in log(path, "show", "1")


def test_what_is_kept_beside_sessions_is_shown(path: Path) -> None:
    shown = log(path, "kept")
    assert "rig      Kelpie, 3 sessions" in shown
    assert "device   Kelpie: honest when checked on" in shown
    assert shown.count("confirmation, silent, Kelpie") == 3
    assert len(json.loads(log(path, "kept", "--json"))["proofs"]) == 4


def test_export_writes_a_file_a_table_and_leads_no_spreadsheet_astray(tmp_path: Path) -> None:
    path, out = tmp_path / "log.sqlite", tmp_path / "out"
    fill(path, range(2), words=HOSTILE)
    assert "exported 2 sessions" in log(path, "export", "--out", str(out))
    assert {p.name.removesuffix("-wal").removesuffix("-shm") for p in tmp_path.iterdir()} == {"log.sqlite", "out"}
    with (out / "notes.csv").open(newline="", encoding="utf-8") as file:
        assert [row["text"] for row in csv.DictReader(file)] == ["'" + HOSTILE] * 2
    with (out / "seconds.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [row["second"] for row in rows] == ["0", "1", "2", "3", "4"] * 2
    assert (rows[5]["level_db"], rows[5]["band_125_hz_db"], rows[5]["hum_probability"]) == ("41.0", "21.0", "0.5")
    with pytest.raises(ConfigError, match="must not be there yet"):
        log(path, "export", "--out", str(out))


def test_json_holds_what_the_logbook_holds(path: Path, tmp_path: Path) -> None:
    out = tmp_path / "out.json"
    log(path, "export", "3", "--format", "json", "--out", str(out))
    (session,) = json.loads(out.read_text())["sessions"]
    assert (session["session"], session["verb"], session["windows"][0]["levels"]["laeq_db"]) == (3, "tune", 40.0)
    assert session["moves"][0]["seen"] == "3.1 dB quieter"
    assert len(session["seconds"]) == 5
    assert stat.S_IMODE(out.stat().st_mode) == 0o600
    out.unlink()
    log(path, "export", "3", "--format", "json", "--no-seconds", "--out", str(out))
    assert "seconds" not in json.loads(out.read_text())["sessions"][0]


def test_parquet_has_the_same_rows(path: Path, tmp_path: Path) -> None:
    log(path, "export", "--format", "parquet", "--out", str(tmp_path / "out"))
    seconds = pyarrow.parquet.read_table(tmp_path / "out" / "seconds.parquet").to_pylist()
    assert [row["second"] for row in seconds] == [0, 1, 2, 3, 4] * 3
    assert [row["level_db"] for row in seconds[::5]] == [40.0, 41.0, 42.0]
    assert pyarrow.parquet.read_table(tmp_path / "out" / "sounds.parquet").num_rows == 3


def test_parquet_without_pyarrow_says_what_to_do(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with pytest.raises(ConfigError, match="'pip install pyarrow', or take csv or json"):
        log(path, "export", "--format", "parquet", "--out", str(tmp_path / "out"))
    assert not (tmp_path / "out").exists()


def test_an_export_that_fails_leaves_nothing(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(ConfigError, match="cannot be written"):
        log(path, "export", "--out", str(tmp_path / "no" / "out"))

    def interrupted(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(log_export, "seconds_rows", interrupted)
    for form in ("csv", "json"):
        with pytest.raises(KeyboardInterrupt):
            log(path, "export", "--format", form, "--out", str(tmp_path / "out"))
        assert not (tmp_path / "out").exists()


def test_importing_tells_what_became_of_the_sessions(path: Path, tmp_path: Path) -> None:
    here = tmp_path / "here.sqlite"
    assert "imported 3 sessions into" in log(here, "import", str(path))
    assert "imported 0 sessions" in log(here, "import", str(path))
    with Logbook(path, clock=lambda: None) as logbook:  # type: ignore[arg-type, return-value]
        logbook._connection.execute("DELETE FROM sounds WHERE session_id = 1")
    told = log(here, "import", str(path), code=1)
    assert "session 1 there and 1 here are the same one but differ (0 sounds there, 1 here)" in told
    with pytest.raises(LogbookError, match="does not exist"):
        log(here, "import", str(tmp_path / "none.sqlite"))


def test_deleting_asks_first(path: Path) -> None:
    assert "nothing was deleted" in log(path, "delete", "1", typed="n\n", code=1)
    with pytest.raises(ConfigError, match="add --yes to say so, nothing was deleted"):
        log(path, "delete", "1")
    assert "3 sessions" in log(path)
    with pytest.raises(HushweirError, match="session=9 must be the number of a session"):
        log(path, "delete", "1", "9", "--yes")
    assert "3 sessions" in log(path)
    assert "deleted  1 session" in log(path, "delete", "1", typed="y\n")
    assert "deleted  2 sessions" in log(path, "delete", "2", "3", "--yes")
    with Logbook(path, clock=lambda: None, look_only=True) as logbook:  # type: ignore[arg-type, return-value]
        tables = [row[0] for row in logbook.table("SELECT name FROM sqlite_master WHERE type = 'table'", ())]
        kept = {name for name in tables if logbook.table(f"SELECT 1 FROM {name} LIMIT 1", ())}
    assert kept == {"floors", "proofs", "numbering"}  # the room and the check, which no session made
    assert b"siphon over-closed" not in path.read_bytes()  # overwritten, not only unlinked


def test_clips_are_listed_and_deleted_with_their_files(path: Path) -> None:
    assert "no clips" in log(path, "clips")
    with Logbook(path, clock=lambda: None) as logbook:  # type: ignore[arg-type, return-value]
        for number in (1, 1, 2):
            name, size = logbook.clip_folder.put(number, "slurp", 12.0, b"x" * 2_000)
            logbook._connection.execute(
                "INSERT INTO clips (session_id, kind, start_s, length_s, file, size) VALUES (?, 'slurp', 12, 3, ?, ?)",
                (number, name, size),
            )
    folder = ClipFolder.beside(path).path
    assert "3 clips" in log(path, "clips")
    assert "2 clips" in log(path)
    assert "2 clips" in log(path, "clips", "1")
    log(path, "clips", "--delete", "3", "--yes")
    assert sorted(p.name for p in folder.iterdir()) == ["00001-000012s-slurp-2.flac", "00001-000012s-slurp.flac"]
    with pytest.raises(ConfigError, match="clip=99 must be the number of a clip"):
        log(path, "clips", "--delete", "99", "--yes")
    (folder / "00001-000012s-slurp.flac").unlink()
    assert "the file is not there" in log(path, "clips")
    log(path, "delete", "1", "--yes")
    assert list(folder.iterdir()) == []
