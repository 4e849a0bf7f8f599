from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.desks import PaperDesk
from tests.test_logbook_choosing import Days
from tuner.cli import build_parser, main
from tuner.verbs import compare


@pytest.fixture
def path(tmp_path: Path) -> Path:
    days = Days(tmp_path / "logbook.sqlite")
    days.session(silent=True)
    days.session(120, verb="tune", moves=(40.0,))
    days.session(device="another one")
    days.logbook.close()
    return tmp_path / "logbook.sqlite"


def page(path: Path, *words: str, width: int = 80, ascii_only: bool = False) -> list[str]:
    paper = PaperDesk(width=width, ascii_only=ascii_only)
    assert compare.run(build_parser().parse_args(["compare", *words, "--logbook", str(path)]), paper.desk) == 0
    return paper.lines


def test_the_sentence_comes_first_and_every_part_follows(path: Path) -> None:
    lines = page(path, "1", "2")
    assert " ".join(lines[:3]).startswith("No change of level can be shown: 0.0 dB(A) louder, between 0.0")
    text = "\n".join(lines)
    for part in ("before   session 1, listen", "after    session 2, tune", "level    40.0 dB(A) re full scale before",
                 "bands       100 Hz", "causes   1 of 1 window silent before", "between  02 Mar 2026  siphon valve",
                 "mind     not calibrated"):
        assert part in text


def test_a_refusal_names_what_can_still_be_said(path: Path) -> None:
    text = "\n".join(page(path, "1", "3"))
    assert text.startswith("Levels cannot be compared (another microphone); no sound")
    assert "refused  another microphone: 'a microphone' before, 'another one' after" in text
    assert "it needs no common scale" in text
    assert "bands" not in text
    assert "bands" in "\n".join(page(path, "1", "3", "--same-setup"))


@pytest.mark.parametrize("width", [60, 80, 120])
def test_the_page_keeps_its_width_and_its_alphabet(path: Path, width: int) -> None:
    lines = page(path, "2", width=width, ascii_only=True)
    assert max(map(len, lines)) <= width
    assert all(line.isascii() for line in lines)


def test_json_has_units_and_no_infinities(path: Path) -> None:
    paper = PaperDesk()
    compare.run(build_parser().parse_args(["compare", "1", "2", "--json", "--logbook", str(path)]), paper.desk)
    found = json.loads(paper.out)
    assert found["schema"] == 1
    assert found["sentence"].startswith("no change")
    assert set(found["level"]) == {"hz", "before_db", "after_db", "change_db", "low_db", "high_db"}
    assert found["before"]["began"] == "2026-03-01T18:00:00.000Z"


@pytest.mark.parametrize(("words", "said"), [
    (("1", "2", "3"), "selections=3 must be at most 2"),
    (("1", "--before", "2"), "--before 2 must not be given together with '1'"),
    (("7", "1"), "session=7 must be the number of a session"),
])
def test_wrong_use_is_one_line_and_code_2(
    path: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], said: str
) -> None:
    assert main(["compare", *words, "--logbook", str(path)]) == 2
    err = capsys.readouterr().err
    assert said in err
    assert err.count("\n") == 1
