"""What a listening session keeps beside its log: clips, when asked; and that a full disk does not end it."""

from __future__ import annotations

from pathlib import Path

import pytest
import soundfile

from tests.desks import PaperDesk
from tuner.cli import build_parser
from tuner.errors import LogbookError
from tuner.logbook.entry import Entry
from tuner.logbook.store import Logbook
from tuner.verbs import confirm, listen

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
