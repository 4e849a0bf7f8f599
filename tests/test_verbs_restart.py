from __future__ import annotations

from pathlib import Path

import pytest

from tuner.cli import main
from tuner.errors import LogbookError
from tuner.logbook.store import Logbook
from tuner.silence.restart import Start
from tuner.verbs.restarting import Restarting

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
