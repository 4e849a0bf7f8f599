"""What a listening session keeps beside its log: clips, when asked; and that a full disk does not end it."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tests.desks import PaperDesk
from tuner.cli import build_parser
from tuner.errors import LogbookError
from tuner.logbook.entry import Entry
from tuner.logbook.store import Logbook, Opening
from tuner.screens.snapshot import Snapshot
from tuner.sound.quick import QuickLevel
from tuner.terms import Block, Moment
from tuner.verbs import confirm, listen
from tuner.verbs.hearing import Hearing

ROOT = Path(__file__).resolve().parents[1]


@pytest.fixture
def recording() -> Path:
    return ROOT / "sample_audio" / "trickle.flac"


def hear(path: Path, log: Path, *words: str) -> PaperDesk:
    paper = PaperDesk()
    args = build_parser().parse_args(
        ["listen", "--file", str(path), "--fast", "--plain", "--logbook", str(log), *words]
    )
    assert listen.run(args, paper.desk) == 0
    return paper


def test_no_audio_is_kept_unless_asked_for(recording: Path, tmp_path: Path) -> None:
    hear(recording, tmp_path / "a" / "log.sqlite")
    assert [p.name for p in (tmp_path / "a").iterdir()] == ["log.sqlite"]


def test_clips_are_of_what_the_log_heard(recording: Path, tmp_path: Path) -> None:
    log = tmp_path / "log.sqlite"
    hear(recording, log, "--keep-clips", "--place", "sofa", "--gain", "60 %", "--tag", "before", "--tag", "loud")
    original, rate = soundfile.read(recording, dtype="float32")
    with Logbook(log, clock=lambda: None, look_only=True) as logbook:  # type: ignore[arg-type, return-value]
        session = logbook.session(1)
        assert (session.place, session.gain, session.tags) == ("sofa", "60 %", ("before", "loud"))
        (clip,) = logbook.clips()
        assert session.clips == 1
        assert clip.kind == "trickle"
        samples, _ = soundfile.read(logbook.clip_folder.path / clip.file, dtype="float32")
        first = round(clip.start_s * rate)
        assert samples == pytest.approx(original[first : first + samples.size], abs=1e-4)


def test_confirm_logs_its_sounds_and_keeps_clips_too(recording: Path, tmp_path: Path) -> None:
    log = tmp_path / "log.sqlite"
    args = build_parser().parse_args(["confirm", "--file", str(recording), "--logbook", str(log), "--keep-clips"])
    confirm.run(args, PaperDesk().desk)
    with Logbook(log, clock=lambda: None, look_only=True) as logbook:  # type: ignore[arg-type, return-value]
        assert {s.kind for s in logbook.sounds(1)} == {"trickle"}
        assert [c.kind for c in logbook.clips()] == ["trickle"]
        (proof,) = logbook.session_proofs(1)
        assert proof.kind == "confirmation"


def test_listening_goes_on_when_the_logbook_cannot_be_written(
    recording: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(self: Entry) -> None:
        self.trouble = "logbook x cannot grow, because the disk is full"
        raise LogbookError(self.trouble)

    monkeypatch.setattr(Entry, "commit", full)
    paper = PaperDesk()
    args = build_parser().parse_args(
        ["listen", "--file", str(recording), "--fast", "--plain", "--logbook", str(tmp_path / "log.sqlite")]
    )
    with pytest.raises(LogbookError, match=r"the disk is full; the last \d+ rows of session 1 are lost"):
        listen.run(args, paper.desk)
    assert "! logbook x cannot grow, because the disk is full" in paper.out
    assert "log      session 1" in paper.out  # the page is printed all the same


class Glancing:
    """Ears that tell a moment every fifth block, and between them what they were given to glance."""

    def __init__(self, shares: list[float]) -> None:
        self.shares = shares
        self.number = 0
        self.glances = 0

    def reset(self) -> None:
        self.number = 0

    def feed(self, _samples: object) -> tuple[()]:
        self.number += 1
        return ()

    def moments(self) -> tuple[Moment, ...]:
        if self.number % 5:
            return ()
        end_s = self.number / 10
        return (Moment(end_s - 0.5, end_s, 40.0, (), (), {"trickle": self.shares[self.number - 1], "hum": 0.1}, 0.0),)

    def glance(self) -> dict[str, float]:
        self.glances += 1
        return {"trickle": self.shares[self.number - 1], "hum": 0.1}


def shown(shares: list[float], tmp_path: Path, *, living: bool) -> tuple[list[Snapshot], Glancing]:
    class Nobody:
        def show(self, snapshot: Snapshot, /) -> None:
            pass

    ears, rate = Glancing(shares), 8000
    last: list[Snapshot] = []
    with (
        Logbook(tmp_path / "log.sqlite", clock=lambda: datetime(2026, 3, 1, tzinfo=UTC)) as logbook,
        logbook.begin(Opening("listen", "a tape", rate)) as entry,
    ):
        face = Snapshot("listen", "a tape", "listening", 0.0, False)
        hearing = Hearing(ears, entry, Nobody(), face, QuickLevel(rate) if living else None)  # type: ignore[arg-type]
        hearing.begin_window()
        for number in range(len(shares)):
            hearing.take(Block(np.full(rate // 10, 0.1, np.float32), rate, number * rate // 10))
            last.append(hearing.shot)
    return last, ears


def test_a_kind_is_glimpsed_until_a_moment_tells_it_where_somebody_looks(tmp_path: Path) -> None:
    #          moment ...           v                        v
    shares = [0.1, 0.1, 0.1, 0.9, 0.4, 0.9, 0.7, 0.7, 0.55, 0.8, 0.8, 0.8, 0.8, 0.8, 0.3, 0.3, 0.3, 0.3, 0.3, 0.3]
    shots, ears = shown(shares, tmp_path, living=True)
    glimpses = [shot.glimpse for shot in shots]
    assert glimpses[:3] == [None] * 3
    assert glimpses[3] == glimpses[4] == ("trickle", 0.9)  # a moment that does not tell it leaves it
    assert glimpses[7] == glimpses[8] == ("trickle", 0.7)  # every second block
    assert glimpses[9:] == [None] * 11  # told, then heard already, then gone
    assert shots[9].heard[0] == ("trickle", 0.8)
    assert ears.glances == 10


def test_a_glimpse_that_would_do_for_a_moment_does_not_for_a_glance(tmp_path: Path) -> None:
    shots, _ = shown([0.55] * 4, tmp_path, living=True)
    assert [shot.glimpse for shot in shots] == [None] * 4


def test_nobody_glances_where_nobody_looks(tmp_path: Path) -> None:
    shots, ears = shown([0.9] * 12, tmp_path, living=False)
    assert ears.glances == 0
    assert all(shot.glimpse is None for shot in shots)
