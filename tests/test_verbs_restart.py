from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from tests.desks import PaperDesk
from tuner.cli import main
from tuner.errors import LogbookError
from tuner.logbook.store import Logbook, Opening
from tuner.silence.restart import Start
from tuner.terms import Block
from tuner.verbs.opening import RELATIVE, Room
from tuner.verbs.restarting import LineTeller, Place, Restarting

START = Start(1.0, 5.0, 29.0, 60.0, 0.0, 90.0)


def test_what_was_found_is_said_even_when_the_logbook_cannot_take_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def full(*_: object, **__: object) -> int:
        raise LogbookError("logbook x cannot grow, because the disk is full: make room")

    monkeypatch.setattr(Restarting, "_one", lambda *_: START)
    monkeypatch.setattr(Logbook, "keep_proof", full)
    assert main(["restart", "--rehearsal", "7", "--logbook", str(tmp_path / "logbook.sqlite")]) == 2
    out, err = capsys.readouterr()
    assert "\nsays     " in out
    assert err.splitlines()[-1] == "hushweir: logbook x cannot grow, because the disk is full: make room"


def test_one_sound_of_the_drain_down_is_told_as_one() -> None:
    paper = PaperDesk()
    LineTeller(paper.desk, quiet=False).drained(1, 60.0)
    assert "drained for 1 min, 1 sound; switch the pumps ON now" in paper.out


def test_a_start_s_last_phases_are_told_only_where_they_last() -> None:
    names = [name for name, _, _ in Start(1.0, 5.0, 29.0, 29.25, 0.0, 90.0).phases]
    assert names[-2:] == ["air is driven out", "quiet"]


def test_the_seconds_of_stop_and_start_are_kept_one_after_the_other(tmp_path: Path) -> None:
    rate = 16_000
    noise = np.random.default_rng(5).normal(0.0, 0.01, (12, rate // 2)).astype(np.float32)
    blocks = [Block(samples, rate, (i + 4) * rate // 2) for i, samples in enumerate(noise)]
    with Logbook(tmp_path / "logbook.sqlite", clock=lambda: datetime(2026, 3, 1, tzinfo=UTC)) as logbook:
        entry = logbook.begin(Opening("restart", "a microphone", rate))
        place = Place("a microphone", rate, None, None, Room(None), RELATIVE, lambda _: None)  # type: ignore[arg-type]
        loop = Restarting(place, 60.0, 1, entry, LineTeller(PaperDesk().desk, quiet=True))
        for part in (blocks[:6], blocks[6:]):  # the ears are new for the start; the log goes on
            loop._begin()
            list(loop._heard(iter(part), 0.0))
        loop._begin()
        entry.close()
        assert logbook.seconds(entry.id).second.tolist() == list(range(2, 8))
