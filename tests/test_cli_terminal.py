from __future__ import annotations

import os
import signal
import sys
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pexpect
import pytest
import soundfile

from tuner.cli import main
from tuner.logbook.store import Logbook

RATE = 16_000
PATIENCE_S = 60
_SECOND_PAGE, _FIRST_PAGE = r"\x1b\[\?1049h", r"\x1b\[\?1049l"


def spawn(*words: str, rows: int = 24, columns: int = 80) -> pexpect.spawn[str]:
    env = {**os.environ, "TERM": "xterm-256color", "LANG": "C.UTF-8", "OMP_NUM_THREADS": "1"}
    return pexpect.spawn(
        sys.executable, ["-m", "tuner", *words], env=env, encoding="utf-8", dimensions=(rows, columns),
        timeout=PATIENCE_S,
    )


@pytest.fixture
def recording(tmp_path: Path) -> str:
    rng = np.random.default_rng(5)
    soundfile.write(tmp_path / "noise.wav", 0.02 * rng.standard_normal(60 * RATE), RATE)
    return str(tmp_path / "noise.wav")


def look_into(path: Path) -> Logbook:
    return Logbook(path, clock=lambda: datetime.now(UTC), look_only=True)


@pytest.mark.parametrize(("send", "code"), [("\x03", 130), ("q", 0)])
def test_listening_on_a_terminal_ends_cleanly(recording: str, tmp_path: Path, send: str, code: int) -> None:
    book = tmp_path / "book.sqlite"
    child = spawn("listen", "--file", recording, "--logbook", str(book))
    child.expect(_SECOND_PAGE)
    child.expect("hears")
    child.expect("00:0[12]")
    child.send(send)
    child.expect(_FIRST_PAGE)
    child.expect("session 1 in")
    child.expect(pexpect.EOF)
    child.close()
    assert child.exitstatus == code
    with look_into(book) as logbook:
        assert logbook.session(1).ended is not None
        assert logbook.session(1).seconds >= 1


def test_a_listening_that_is_told_to_end_ends_as_by_ctrl_c(recording: str, tmp_path: Path) -> None:
    book = tmp_path / "book.sqlite"
    child = spawn("listen", "--file", recording, "--logbook", str(book))
    child.expect("00:0[12]")
    child.kill(signal.SIGTERM)
    child.expect(_FIRST_PAGE)
    child.expect("session 1 in")
    child.expect(pexpect.EOF)
    child.close()
    assert child.exitstatus == 130


def test_a_fault_of_the_drawing_leaves_terminal_and_log_as_they_should_be(recording: str, tmp_path: Path) -> None:
    book = tmp_path / "book.sqlite"
    code = (
        "import sys, tuner.verbs.listenscreen as screen\n"
        "def broken(shot, canvas, rows): raise ZeroDivisionError('a fault in the drawing')\n"
        "screen.listen_page = broken\n"
        "from tuner.cli import main\n"
        f"sys.exit(main(['listen', '--file', {recording!r}, '--logbook', {str(book)!r}]))"
    )
    env = {**os.environ, "TERM": "xterm-256color", "LANG": "C.UTF-8", "OMP_NUM_THREADS": "1"}
    child = pexpect.spawn(sys.executable, ["-c", code], env=env, encoding="utf-8", timeout=PATIENCE_S)
    child.expect(_SECOND_PAGE)
    child.expect(_FIRST_PAGE)
    child.expect("ZeroDivisionError: a fault in the drawing")
    child.expect(pexpect.EOF)
    child.close()
    assert child.exitstatus == 1
    with look_into(book) as logbook:
        assert logbook.session(1).ended is not None


def test_a_tuning_is_driven_by_keys(tmp_path: Path) -> None:
    book = tmp_path / "book.sqlite"
    child = spawn("tune", "--rehearsal", "108", "--ask", "--fast", "--logbook", str(book), rows=40, columns=120)
    child.expect(_SECOND_PAGE)
    child.expect("expect")
    child.send("+")
    child.expect("How far was it turned")
    child.send("1/x\r")
    child.expect("answer=")
    child.send("\r")
    child.expect("1  (open|close|slow|speed|by hand)")
    child.send("q")
    child.expect(_FIRST_PAGE)
    child.expect("session 1 in")
    child.expect(pexpect.EOF)
    child.close()
    assert child.exitstatus == 0
    with look_into(book) as logbook:
        moves = logbook.moves(1)
        assert moves[0].done == moves[0].amount


def test_ctrl_c_leaves_a_tuning_with_its_log_and_the_terminal_as_it_was(tmp_path: Path) -> None:
    book = tmp_path / "book.sqlite"
    child = spawn("tune", "--rehearsal", "108", "--ask", "--fast", "--logbook", str(book))
    child.expect(_SECOND_PAGE)
    child.expect("expect")
    child.send("\x03")
    child.expect(_FIRST_PAGE)
    child.expect("session 1 in")
    child.expect(pexpect.EOF)
    child.close()
    assert child.exitstatus == 130
    with look_into(book) as logbook:
        assert logbook.session(1).outcome == "stopped"
        assert logbook.session(1).seconds >= 19


@pytest.mark.parametrize(("send", "code"), [("\x03", 130), ("q", 3)])
def test_a_confirmation_on_a_terminal_ends_with_its_certificate(tmp_path: Path, send: str, code: int) -> None:
    book = tmp_path / "book.sqlite"
    child = spawn("confirm", "--rehearsal", "108", "--overnight", "--logbook", str(book))
    child.expect(_SECOND_PAGE)
    child.expect("[0-9]+ s undisturbed")
    child.send(send)
    child.expect(_FIRST_PAGE)
    child.expect("CONFIRMATION OF SILENCE")
    child.expect(pexpect.EOF)
    child.close()
    assert child.exitstatus == code
    with look_into(book) as logbook:
        assert logbook.session(1).outcome == "not shown"
        assert len(logbook.proofs("confirmation")) == 1


def test_a_restart_on_a_terminal_is_begun_by_a_key_and_says_to_switch_on_when_left(tmp_path: Path) -> None:
    book = tmp_path / "book.sqlite"
    child = spawn("restart", "--rehearsal", "108", "--logbook", str(book))
    child.expect(_SECOND_PAGE)
    child.expect("go to the pumps' switch")
    child.send("\r")
    child.expect("switch the pumps OFF")
    child.send("\x03")
    child.expect(_FIRST_PAGE)
    child.expect("switch the pumps ON if they are off")
    child.expect("nothing was heard to the end")
    child.expect(pexpect.EOF)
    child.close()
    assert child.exitstatus == 130
    with look_into(book) as logbook:
        assert logbook.session(1).outcome == "restart not shown"


def test_a_dumb_terminal_gets_lines(recording: str, tmp_path: Path) -> None:
    child = pexpect.spawn(
        sys.executable, ["-m", "tuner", "listen", "--fast", "--file", recording, "--seconds", "4", "--logbook",
                         str(tmp_path / "book.sqlite")],
        env={**os.environ, "TERM": "dumb", "LANG": "C"}, encoding="utf-8", timeout=PATIENCE_S,
    )
    child.expect(pexpect.EOF)
    text = child.before or ""
    child.close()
    assert child.exitstatus == 0
    assert "\x1b" not in text
    assert "00:03" in text


def test_the_demo_tunes_to_silence_without_a_terminal(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    book = tmp_path / "demo.sqlite"
    assert main(["demo", "--logbook", str(book)]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    assert "\x1b" not in out
    wanted = ["Kelpie", "listening for 20 s", "cause", "because", "move", "why", "before", "after", "quieter",
              f"session 1 in {book}"]
    at = -1
    for words in wanted:
        at = out.find(words, at + 1)
        assert at >= 0, words
    with look_into(book) as logbook:
        session = logbook.session(1)
        assert (session.outcome, session.last_silent, session.rig_name) == ("silent", True, "Kelpie")
        assert session.moves >= 1


def test_answers_can_be_piped_in(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    reader, writer = os.pipe()
    os.write(writer, b"\nq\n")
    os.close(writer)
    book = tmp_path / "book.sqlite"
    with os.fdopen(reader) as lines:
        monkeypatch.setattr(sys, "stdin", lines)
        assert main(["tune", "--rehearsal", "108", "--ask", "--logbook", str(book)]) == 0
    out, _ = capsys.readouterr()
    assert "done" in out
    with look_into(book) as logbook:
        assert logbook.moves(1)[0].done == logbook.moves(1)[0].amount
        assert logbook.session(1).outcome == "stopped"
