"""The loop of ``listen``: windows, lost sound, notes from the screen."""

from __future__ import annotations

import queue
import threading
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from tuner.cli import main
from tuner.logbook.store import Logbook, Opening
from tuner.screens.snapshot import Snapshot
from tuner.signatures.listener import Listener
from tuner.terms import Block
from tuner.verbs.hearing import Hearing
from tuner.verbs.listen import WINDOW_S, Listening

RATE = 16_000
BLOCK = RATE // 10


class Shown:
    """Keeps the newest state."""

    def __init__(self) -> None:
        self.shot: Snapshot | None = None

    def show(self, snapshot: Snapshot, /) -> None:
        self.shot = snapshot


@pytest.fixture
def logbook(tmp_path: Path) -> Iterator[Logbook]:
    with Logbook(tmp_path / "log.sqlite", clock=lambda: datetime(2026, 3, 1, tzinfo=UTC)) as opened:
        yield opened


def blocks(seconds: float, lost_s: float = 0.0, begun_s: float = 0.0) -> Iterator[Block]:
    """Give tenths of a second of noise, each after ``lost_s`` seconds that were lost."""
    rng = np.random.default_rng(4)
    lost, at = round(lost_s * RATE), round(begun_s * RATE)
    while at < (begun_s + seconds) * RATE:
        at += lost
        yield Block((0.01 * rng.standard_normal(BLOCK)).astype(np.float32), RATE, at, dropped=lost)
        at += BLOCK


def listen(logbook: Logbook, heard: Iterator[Block], *words: str) -> tuple[Listening, Snapshot]:
    shown = Shown()
    notes: queue.SimpleQueue[str] = queue.SimpleQueue()
    for word in words:
        notes.put(word)
    with logbook.begin(Opening("listen", "a microphone", RATE)) as entry:
        face = Snapshot("listen", "a microphone", "listening", 0.0, False, session=entry.id)
        loop = Listening(Hearing(Listener(RATE), entry, shown, face), None, None, threading.Event(), notes)
        loop.hear(heard)
    assert shown.shot is not None
    return loop, shown.shot


def test_each_window_comes_to_a_verdict(logbook: Logbook) -> None:
    loop, shot = listen(logbook, blocks(2 * WINDOW_S + 1.0))
    assert len(loop.diagnoses) == 2
    assert shot.window == 2
    assert shot.diagnosis is loop.diagnoses[-1]


def test_the_past_is_kept_in_half_seconds(logbook: Logbook) -> None:
    _, shot = listen(logbook, blocks(10.0))
    assert len(shot.slices) in (19, 20)  # the last may wait for the sound after it
    assert {len(s.bands_db) for s in shot.slices} == {len(shot.bands_hz)}


def test_a_window_of_which_nothing_is_left_is_passed_over(logbook: Logbook) -> None:
    loop, shot = listen(logbook, blocks(WINDOW_S + 12.0, lost_s=0.2))
    assert loop.diagnoses == []
    assert loop.outcome == "nothing heard"
    assert shot.diagnosis is None
    assert not any(s.bands_db for s in shot.slices)
    assert len(logbook.gaps(1)) > 100


def test_listening_goes_on_when_sound_comes_back(logbook: Logbook) -> None:
    def both() -> Iterator[Block]:
        yield from blocks(12.0, lost_s=0.2)
        yield from blocks(WINDOW_S + 10.0, begun_s=12.3)

    loop, shot = listen(logbook, both())
    assert loop.diagnoses
    assert shot.diagnosis is not None


def test_a_long_loss_leaves_as_long_a_gap_in_the_picture(logbook: Logbook) -> None:
    lost = Block(np.zeros(BLOCK, np.float32), RATE, round(6.0 * RATE), dropped=4 * RATE, note="lost")

    def heard() -> Iterator[Block]:
        yield from blocks(2.0)
        yield lost
        yield from blocks(3.0, begun_s=6.1)

    _, shot = listen(logbook, heard())
    assert sum(not s.bands_db for s in shot.slices) == 8


def test_words_from_the_screen_go_into_the_log(logbook: Logbook) -> None:
    listen(logbook, blocks(3.0), "valve touched", "again")
    assert [note.text for note in logbook.notes(1)] == ["00:00 valve touched", "00:00 again"]


def test_a_rehearsal_knows_its_scale_its_room_and_its_rig(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr("tuner.verbs.subjects.SAMPLE_RATE", RATE)
    words = ["listen", "--rehearsal", "108", "--fast", "--seconds", "4", "--plain", "--logbook", str(tmp_path / "log")]
    assert main(words) == 0
    out, err = capsys.readouterr()
    assert "dB(A)" in out
    assert "is not known" not in err
    with Logbook(tmp_path / "log", clock=lambda: datetime.now(UTC), look_only=True) as logbook:
        (session,) = logbook.sessions()
    assert session.calibrated
    assert session.rig_name
    assert session.floor_id is not None
