from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.desks import PaperDesk
from tests.test_logbook_trend import logbook_of_days
from tuner.cli import build_parser, main
from tuner.verbs import trend


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("trend") / "log.sqlite"
    logbook_of_days(path).close()
    return path


def out(path: Path, *words: str, width: int = 80, ascii_only: bool = False) -> PaperDesk:
    paper = PaperDesk(width=width, ascii_only=ascii_only)
    assert trend.run(build_parser().parse_args(["log", "trend", *words, "--logbook", str(path)]), paper.desk) == 0
    return paper


def test_the_page_names_what_comes_first(path: Path) -> None:
    lines = out(path).lines
    assert "load falls by 1.5 % of flow a month: at this pace the open channel will run dry" in " ".join(lines[:4])
    text = "\n".join(lines)
    for part in ("system   Kelpie, a microphone", "heard    40 sessions, 01 Jan 2026 to 09 Feb 2026",
                 "slurp period: 40 values, 16.1 to 20.0 s, latest 16.1", "restart time: 40 values"):
        assert part in text


@pytest.mark.parametrize("width", [60, 100])
def test_the_page_keeps_its_width_and_its_alphabet(path: Path, width: int) -> None:
    lines = out(path, width=width, ascii_only=True).lines
    assert max(map(len, lines)) <= width
    assert all(line.isascii() for line in lines)


def test_json_holds_every_course_with_its_unit(path: Path) -> None:
    found = json.loads(out(path, "--json").out)
    assert found["schema"] == 1
    assert {c["name"]: c["unit"] for c in found["courses"]}["restart time"] == "s"
    assert found["courses"][0]["points"][0]["when"].startswith("2026-01-01T18:00")


def test_an_unknown_system_is_one_line(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["log", "trend", "--rig", "Krill", "--logbook", str(path)]) == 2
    err = capsys.readouterr().err
    assert "rig='Krill' must be that of a session" in err
    assert "there are Kelpie" in err
    assert err.count("\n") == 1
