from __future__ import annotations

import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.test_coach_coach import heard_as, next_step
from tuner.cli import main
from tuner.coach import Coach
from tuner.errors import ConfigError
from tuner.logbook.store import Logbook
from tuner.rig import Rig
from tuner.verbs.goingon import keep_coach, kept_coach

KELPIE = Rig(name="Kelpie")


def opened(book: Path) -> Logbook:
    return Logbook(book, clock=lambda: datetime(2026, 3, 1, tzinfo=UTC))


def left_after_one_move(book: Path) -> Coach:
    coach = Coach(KELPIE)
    step = next_step(coach, heard_as({"gurgle": 0.9}))
    assert step is not None
    coach.did(step)
    with opened(book) as logbook:
        keep_coach(logbook, coach, "a microphone", 48000, None)
    return coach


def test_a_tuning_that_was_left_is_taken_up_where_it_was(tmp_path: Path) -> None:
    book = tmp_path / "book.sqlite"
    coach = left_after_one_move(book)
    with opened(book) as logbook:
        again, session = kept_coach(logbook, KELPIE, None)
    assert session is None
    assert again.state == coach.state
    assert again.summary().moves == 1
    assert next_step(again, heard_as({"gurgle": 0.6})) == next_step(coach, heard_as({"gurgle": 0.6}))


def test_nothing_to_go_on_with_and_a_changed_description_are_said(tmp_path: Path) -> None:
    book = tmp_path / "book.sqlite"
    left_after_one_move(book)
    with opened(book) as logbook:
        with pytest.raises(ConfigError, match="begin one with 'hushweir tune'"):
            kept_coach(logbook, Rig(name="another"), None)
        with pytest.raises(ConfigError, match="description has changed"):
            kept_coach(logbook, Rig(name="Kelpie", assumed=frozenset({"box.length_m"})), None)


def test_a_rehearsal_is_not_gone_on_with(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    assert main(["tune", "--rehearsal", "7", "--go-on", "--logbook", str(tmp_path / "b.sqlite")]) == 2
    assert "without --rehearsal" in capsys.readouterr().err
