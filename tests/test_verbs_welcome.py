"""``hushweir`` alone: what it says in each state of an installation, and that it never fails."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.desks import PaperDesk
from tuner.logbook.file import default_path
from tuner.logbook.store import Logbook, Opening
from tuner.screens.welcomepage import WelcomePage, items_of, next_of
from tuner.terms import Cause, Diagnosis, Floor, Levels, Reading
from tuner.verbs.welcome import known_of, rig_in

RIG = """
name = "Kelpie"
[siphon]
inner_diameter = "26.6 mm"
drop = "90 cm"
[siphon.valve]
kind = "gate"
[[pump]]
flow = "4200 L/h"
"""
NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
LEVELS = Levels(-62.0, -60.0, -62.5, -64.0, -58.0, (1000.0,), (-70.0,))


@pytest.fixture(autouse=True)
def _own_data_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "here"
    made.mkdir()
    return made


class Clock:
    """A clock that goes on by a minute at every look."""

    def __init__(self) -> None:
        self.now = NOON

    def __call__(self) -> datetime:
        self.now += timedelta(minutes=1)
        return self.now


def page(folder: Path, *, width: int = 80, ascii_only: bool = False) -> str:
    desk = PaperDesk(width=width, ascii_only=ascii_only)
    desk.desk.page(WelcomePage(known_of(folder, desk.desk)))
    return desk.out


def following(folder: Path) -> str:
    return next_of(items_of(known_of(folder, PaperDesk().desk)))[0]


def states(folder: Path) -> list[str]:
    return [item.state for item in items_of(known_of(folder, PaperDesk().desk))]


def tune(logbook: Logbook, device: str = "a microphone", *, silent: bool = True) -> None:
    reading = Reading(20.0, 19.0, LEVELS, (), (), 0.0, 0.0)
    causes = () if silent else (Cause("siphon over-closed", 0.8, ()),)
    with logbook.begin(Opening("tune", device, 48_000, rig_name="Kelpie", rig_text=RIG)) as entry:
        entry.diagnosis(Diagnosis(silent, (), causes, reading), 20.0)
        entry.close("silent" if silent else "stopped")


def keep(logbook: Logbook, kind: Any, device: str = "a microphone", **body: object) -> None:
    logbook.keep_proof(kind, device, 48_000, body)


def test_nothing_is_there(folder: Path) -> None:
    text = page(folder)
    assert text.count("[ ]") == 6
    assert "NEXT     hushweir rig new\n" in text
    assert "hushweir demo" in text
    assert "hushweir listen" in text
    assert "pump is plugged in" in text
    assert len(text.splitlines()) <= 24


def test_an_interview_that_was_left_goes_on(folder: Path) -> None:
    (folder / "my-rig.toml").write_text('name = "Kelpie"\n[siphon]\ninner_diameter = "26.6 mm"\n')
    assert "[~]      rig         my-rig.toml begun: 2 of" in page(folder)
    assert following(folder) == "hushweir rig new my-rig.toml"


def test_a_described_rig_asks_for_the_microphone(folder: Path) -> None:
    (folder / "my reef.toml").write_text(RIG)
    assert "[x]      rig         'Kelpie' in my reef.toml" in page(folder)
    assert following(folder) == "hushweir mic check"


def test_step_by_step_to_the_end(folder: Path) -> None:
    (folder / "my reef.toml").write_text(RIG)
    with Logbook(default_path(), clock=Clock()) as logbook:
        keep(logbook, "microphone check", honest=False, chain={"faults": [{"fault": "gain control", "seen": "x"}]})
        assert "[!]      microphone  not to be trusted (1 March 2026): gain control" in page(folder)
        assert following(folder) == "hushweir mic check"
        keep(logbook, "microphone check", honest=True, chain={"faults": []})
        assert following(folder) == "hushweir floor"
        logbook.keep_floor(Floor(LEVELS, 30.0, 30.0), "another", 48_000)
        assert following(folder) == "hushweir floor"  # what another microphone heard says nothing of this one
        logbook.keep_floor(Floor(LEVELS, 30.0, 30.0), "a microphone", 48_000)
        assert "room        -62.0 dB(A) re full scale" in page(folder)
        assert following(folder) == "hushweir tune --rig 'my reef.toml'"
        tune(logbook, "rehearsal 7")
        assert states(folder)[3] == "open"  # practice is no tuning
        tune(logbook, silent=False)
        assert "[~]      tuning      stopped" in page(folder)
        tune(logbook)
        assert following(folder) == "hushweir confirm --rig 'my reef.toml'"
        keep(logbook, "confirmation", outcome="not shown")
        assert "[~]      silence     not shown" in page(folder)
        keep(logbook, "confirmation", "rehearsal 7", outcome="silent")
        assert following(folder) == "hushweir confirm --rig 'my reef.toml'"
        keep(logbook, "confirmation", outcome="silent")
        assert following(folder) == "hushweir restart --rig 'my reef.toml'"
        keep(logbook, "restart", restarts_by_itself=True)
        assert states(folder) == ["done"] * 6
        assert following(folder) == "hushweir listen"
        assert len(page(folder).splitlines()) <= 24
        tune(logbook)
        assert states(folder)[4:] == ["open", "open"]  # what was proven before a turn is not proven after it


def test_a_rig_known_from_the_logbook_only(folder: Path) -> None:
    with Logbook(default_path(), clock=Clock()) as logbook:
        tune(logbook)
    assert "'Kelpie' in the logbook" in page(folder)
    assert following(folder) == "hushweir mic check"


@pytest.mark.parametrize(("name", "text", "found"), [
    ("my-rig.toml", RIG, "my-rig.toml"),
    ("reef.toml", RIG, "reef.toml"),
    ("pyproject.toml", "[project]\nname = 'x'\n", None),
    ("other.toml", "= broken", None),
    ("only-a-name.toml", "name = 'x'\n", None),
])
def test_which_file_is_taken_for_a_rig(folder: Path, name: str, text: str, found: str | None) -> None:
    (folder / name).write_text(text)
    rig = rig_in(folder)
    assert (rig.file if rig is not None else None) == found


def test_the_usual_name_goes_first(folder: Path) -> None:
    (folder / "my-rig.toml").write_text(RIG)
    (folder / "newer.toml").write_text(RIG)
    rig = rig_in(folder)
    assert rig is not None
    assert rig.file == "my-rig.toml"


@pytest.mark.parametrize("text", ["= broken", RIG.replace("90 cm", "90 m")])
def test_a_rig_file_that_cannot_be_used_is_said(folder: Path, text: str) -> None:
    (folder / "my-rig.toml").write_text(text)
    assert "[!]      rig         my-rig.toml cannot be used" in page(folder)
    assert following(folder) == "hushweir rig check my-rig.toml"


def test_a_logbook_that_cannot_be_read_is_said(folder: Path) -> None:
    default_path().parent.mkdir(parents=True)
    default_path().write_bytes(b"no logbook at all" * 100)
    text = page(folder)
    assert "is damaged or is not a logbook" in " ".join(text.split())
    assert "NEXT     hushweir rig new" in text


def test_narrow_and_ascii(folder: Path) -> None:
    assert all(len(line) <= 39 for line in page(folder, width=40).splitlines() if "hushweir" not in line)
    assert page(folder, ascii_only=True).isascii()
