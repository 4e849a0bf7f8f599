from __future__ import annotations

import os
import signal
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from tuner.capture.microphone import BACK, LOST
from tuner.cli import main
from tuner.logbook.store import Logbook
from tuner.rehearsal.cases import draw_case

if TYPE_CHECKING:
    from tests.virtual_microphone import VirtualMicrophone

pytest_plugins = ("tests.virtual_microphone",)
pytestmark = pytest.mark.device

RATE = 48_000


def look_into(path: Path) -> Logbook:
    return Logbook(path, clock=lambda: datetime.now(UTC), look_only=True)


def test_listening_names_the_cause_of_what_the_microphone_hears(
    virtual_microphone: VirtualMicrophone, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    # a draw whose gurgle is plain from any moment on: what is tried here is the way through the device
    virtual_microphone.play(draw_case("siphon over-closed", 20, sample_rate=RATE).listen(20.0))
    book = tmp_path / "book.sqlite"
    code = main(["listen", "--device", virtual_microphone.device, "--seconds", "12", "--logbook", str(book)])
    out, _ = capsys.readouterr()
    assert code == 0
    assert "cause    siphon over-closed" in out
    with look_into(book) as logbook:
        assert logbook.session(1).last_cause == "siphon over-closed"
        assert logbook.session(1).device == "pulse"


def test_a_tone_is_logged_at_its_level(
    virtual_microphone: VirtualMicrophone, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    # 1 kHz, where the A-weighting is 0 dB; an amplitude of 0.1 has a mean square of -23.01 dB re full scale.
    virtual_microphone.play((0.1 * np.sin(2 * np.pi * 1000 * np.arange(10 * RATE) / RATE)).astype(np.float32))
    book = tmp_path / "book.sqlite"
    assert main(["listen", "--device", virtual_microphone.device, "--seconds", "6", "--logbook", str(book)]) == 0
    with look_into(book) as logbook:
        levels = [r.level_db for r in logbook.readings(1) if r.level_db is not None]
    # The first second may hold the beginning of the tone.
    assert levels[2:5] == pytest.approx([-23.01] * 3, abs=0.1)
    capsys.readouterr()


def test_a_vanished_microphone_is_said_logged_and_taken_up_again(
    virtual_microphone: VirtualMicrophone, tmp_path: Path
) -> None:
    book = tmp_path / "book.sqlite"
    command = [sys.executable, "-m", "tuner", "listen", "--device", "pulse", "--logbook", str(book)]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env={**os.environ, "PYTHONUNBUFFERED": "1"}
    ) as child:
        assert child.stdout is not None
        assert child.stderr is not None
        lines = iter(child.stdout.readline, "")
        assert any("re full scale" in line for line in lines)
        virtual_microphone.stop()
        assert any(LOST in line for line in lines)
        virtual_microphone.start()
        assert any(BACK in line for line in lines)
        assert any("re full scale" in line for line in lines)
        child.send_signal(signal.SIGINT)
        rest = "".join(lines)
        assert "log      session 1" in rest
        errors = child.stderr.read()
        assert "Traceback" not in errors
        assert child.wait(timeout=20) == 130, errors
    with look_into(book) as logbook:
        gaps = logbook.gaps(1)
        assert [gap.note.split(";")[0] for gap in gaps] == [LOST, BACK]
        assert gaps[1].length_s > 0.0
        assert logbook.session(1).ended is not None
