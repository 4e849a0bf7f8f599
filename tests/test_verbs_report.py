from __future__ import annotations

import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from tests.desks import PaperDesk
from tests.pages import HOSTILE, kept
from tuner.cli import build_parser, main
from tuner.verbs import report


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return kept(tmp_path / "logbook.sqlite", HOSTILE)


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "here"
    folder.mkdir()
    monkeypatch.chdir(folder)
    return folder


def told(path: Path, *words: str) -> list[str]:
    paper = PaperDesk(width=200)
    assert report.run(build_parser().parse_args(["report", *words, "--logbook", str(path)]), paper.desk) == 0
    return paper.lines


def test_the_file_is_named_by_numbers_alone(path: Path, here: Path) -> None:
    lines = told(path, "1", "2")
    assert lines[0].startswith(("Quieter by", "No change"))
    assert lines[1].startswith("page     hushweir-report-1-2.html, ")
    assert lines[1].endswith("1 clip of sound in it")
    assert [p.name for p in here.iterdir()] == ["hushweir-report-1-2.html"]
    # It holds a clip from somebody's living room.
    assert stat.S_IMODE((here / "hushweir-report-1-2.html").stat().st_mode) == 0o600
    assert sorted(p.name for p in path.parent.iterdir() if p.suffix == ".html") == []


def test_nothing_is_replaced_unless_asked(path: Path, here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    page = here / "page.html"
    page.write_text("mine")
    assert main(["report", "2", "--out", str(page), "--logbook", str(path)]) == 2
    assert "must be new: it is there already; --force replaces it" in capsys.readouterr().err
    assert page.read_text() == "mine"
    told(path, "2", "--out", str(page), "--force", "--no-clips")
    assert page.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    assert [p.name for p in here.iterdir()] == ["page.html"]


@pytest.mark.parametrize(("words", "said"), [
    (("7",), "session=7 must be the number of a session"),
    (("1", "2", "3"), "selections=3 must be at most 2"),
    (("1", "2", "--alone"), "--alone must come with one session's number"),
    (("2", "--out", "."), "must be a file: it is a folder"),
    (("2", "--out", "no/such/page.html"), "make no/such first"),
    (("2", "--out", "/proc/page.html"), "out=/proc/page.html cannot be written ("),
])
def test_wrong_use_is_one_line_and_code_2(
    path: Path, here: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], said: str
) -> None:
    assert main(["report", *words, "--logbook", str(path)]) == 2
    err = capsys.readouterr().err
    assert said in err
    assert err.count("\n") == 1
    assert list(here.iterdir()) == []


def test_a_logbook_that_is_not_there_is_named(tmp_path: Path, here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["report", "--logbook", str(tmp_path / "none.sqlite")]) == 2
    assert "none.sqlite" in capsys.readouterr().err
    assert list(here.iterdir()) == []


@pytest.mark.usefixtures("here")
def test_the_logbook_is_only_looked_at(path: Path) -> None:
    path.chmod(stat.S_IRUSR)
    before = path.read_bytes()
    told(path, "2")
    assert path.read_bytes() == before


def test_the_library_that_draws_says_nothing_to_the_keeper(path: Path, here: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "tuner", "report", "2", "--alone", "--logbook", str(path)], cwd=here, text=True,
        capture_output=True, env={**os.environ, "MPLCONFIGDIR": "/proc/none"}, check=True,
    )
    assert done.stderr == ""
    assert [p.name for p in here.iterdir()] == ["hushweir-report-2.html"]
