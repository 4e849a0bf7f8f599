from __future__ import annotations

import stat
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tuner.logbook.clipfolder import ClipFolder
from tuner.logbook.entry import Entry
from tuner.logbook.store import Logbook, Opening
from tuner.terms import Block, Moment, Sound
from tuner.verbs import clipping
from tuner.verbs.clipping import MOST_A_SESSION, MOST_OF_A_KIND, ClipKeeper

RATE = 8_000


@pytest.fixture
def log(tmp_path: Path) -> Iterator[tuple[Entry, ClipFolder, Logbook]]:
    with Logbook(tmp_path / "log.sqlite", clock=lambda: datetime(2026, 3, 1, tzinfo=UTC)) as logbook:
        entry = logbook.begin(Opening("listen", "a microphone", RATE))
        yield entry, logbook.clip_folder, logbook
        entry.close()


def sample(at: int) -> float:
    return (at % 1000) / 2000.0


def play(
    keeper: ClipKeeper, sounds: dict[float, Sound], seconds: float = 30.0, talk: tuple[float, float] = (99.0, 99.0),
    gap_s: float = -1.0, from_s: float = 0.0,
) -> None:
    """Hear silence with sounds that the ears report at given times, speech between two times, and a gap."""
    step = RATE // 2
    for i in range(int(2 * from_s), int(2 * (from_s + seconds))):
        at_s = i / 2
        block = Block(
            (np.arange(i * step, (i + 1) * step) % 1000 / 2000.0).astype(np.float32), RATE, i * step,
            dropped=10 if at_s == gap_s else 0,
        )
        keeper.hear(block)
        keeper.sounded([sounds[at_s]] if at_s in sounds else [])
        outside = 0.5 if talk[0] < at_s + 0.5 and at_s < talk[1] else 0.0
        keeper.moments([Moment(at_s, at_s + 0.5, -40.0, (), (), {}, outside)])


def gulp(start_s: float, length_s: float = 1.5, kind: str = "slurp", sure: float = 0.9) -> Sound:
    return Sound(kind, start_s, start_s + length_s, -40.0, sure)  # type: ignore[arg-type]


def test_a_clip_is_the_sound_with_its_onset_and_is_the_owners_alone(log: tuple[Entry, ClipFolder, Logbook]) -> None:
    entry, folder, logbook = log
    play(ClipKeeper(folder, entry), {14.0: gulp(10.0)})
    (clip,) = logbook.clips(entry.id)
    assert (clip.kind, clip.start_s, clip.length_s) == ("slurp", 9.5, 2.5)
    file = folder.path / clip.file
    samples, rate = soundfile.read(file, dtype="float32")
    assert (rate, samples.size, file.stat().st_size) == (RATE, 20_000, clip.size)
    assert samples[0] == pytest.approx(sample(round(9.5 * RATE)), abs=1e-4)
    assert soundfile.info(file).format == "FLAC"
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert stat.S_IMODE(folder.path.stat().st_mode) == 0o700


@pytest.mark.parametrize("talk", [(0.0, 30.0), (10.5, 10.6), (9.2, 9.4), (12.5, 13.0)])
def test_nothing_is_kept_while_or_near_where_somebody_speaks(
    log: tuple[Entry, ClipFolder, Logbook], talk: tuple[float, float]
) -> None:
    entry, folder, logbook = log
    play(ClipKeeper(folder, entry), {12.0: gulp(10.0)}, talk=talk)
    assert logbook.clips() == ()
    assert not folder.path.exists()


def test_speech_far_from_the_sound_does_not_matter(log: tuple[Entry, ClipFolder, Logbook]) -> None:
    entry, folder, logbook = log
    play(ClipKeeper(folder, entry), {12.0: gulp(10.0)}, talk=(20.0, 25.0))
    assert len(logbook.clips()) == 1


def test_nothing_is_glued_over_a_gap(log: tuple[Entry, ClipFolder, Logbook]) -> None:
    entry, folder, logbook = log
    play(ClipKeeper(folder, entry), {12.0: gulp(10.0)}, gap_s=10.5)
    assert logbook.clips() == ()


@pytest.mark.parametrize("sound", [gulp(10.0, sure=0.4), gulp(10.0, kind="hum"), gulp(10.0, -0.5)])
def test_what_is_not_sure_not_short_or_a_mere_tone_is_not_kept(
    log: tuple[Entry, ClipFolder, Logbook], sound: Sound
) -> None:
    entry, folder, logbook = log
    play(ClipKeeper(folder, entry), {12.0: sound})
    assert logbook.clips() == ()


def test_clips_are_short_and_few(log: tuple[Entry, ClipFolder, Logbook]) -> None:
    entry, folder, logbook = log
    kinds = ("gurgle", "slurp", "trickle", "splash", "hiss", "flush")
    keeper = ClipKeeper(folder, entry)
    play(keeper, {4.0 + i / 2: gulp(3.0, 20.0, kinds[i // 4 % 6]) for i in range(40)}, seconds=60.0)
    clips = logbook.clips()
    assert len(clips) == keeper.kept == MOST_A_SESSION
    assert {c.length_s for c in clips} == {clipping.LONGEST_S}
    assert max(sum(c.kind == kind for c in clips) for kind in kinds) == MOST_OF_A_KIND


def test_a_full_folder_takes_no_more_and_says_so(
    log: tuple[Entry, ClipFolder, Logbook], monkeypatch: pytest.MonkeyPatch
) -> None:
    entry, folder, logbook = log
    monkeypatch.setattr(clipping, "MOST_BYTES", 90_000)
    keeper = ClipKeeper(folder, entry)
    play(keeper, {12.0: gulp(10.0), 22.0: gulp(20.0)})
    assert len(logbook.clips()) == 1
    assert "no more are kept" in keeper.trouble


def test_a_folder_that_cannot_be_written_ends_the_clips_and_not_the_session(
    log: tuple[Entry, ClipFolder, Logbook]
) -> None:
    entry, folder, logbook = log
    folder.path.write_text("a file in its place")
    keeper = ClipKeeper(folder, entry)
    play(keeper, {12.0: gulp(10.0)})
    assert "the logbook goes on without clips" in keeper.trouble
    assert logbook.clips() == ()


def test_memory_does_not_grow(log: tuple[Entry, ClipFolder, Logbook]) -> None:
    entry, folder, _ = log
    keeper = ClipKeeper(folder, entry)
    play(keeper, {}, seconds=50.0)
    held = len(keeper._blocks), len(keeper._moments)
    play(keeper, {}, seconds=50.0, from_s=50.0)
    assert (len(keeper._blocks), len(keeper._moments)) == held


@pytest.mark.parametrize("name", ["../x.flac", "/etc/x.flac", "x.wav", "a/b.flac", "", "X.flac", "x.flac\n"])
def test_names_that_are_not_ours_are_no_clips(tmp_path: Path, name: str) -> None:
    (tmp_path / "x.flac").write_bytes(b"x")
    folder = ClipFolder(tmp_path / "clips")
    folder.put(1, "slurp", 1.0, b"y")
    assert folder.file(name) is None
    assert not folder.delete(name)
    assert (tmp_path / "x.flac").exists()
