"""``hushweir teach`` as a keeper uses it: from recordings, guided, left and resumed, shown, forgotten, used."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tests.desks import PaperDesk
from tests.test_signatures_listener import RATE, voice
from tuner.cli import build_parser, main
from tuner.rehearsal.cases import draw_case
from tuner.rigfile import save_rig, typical_rig
from tuner.signatures.listener import measure_floor
from tuner.signatures.taughtfile import load_notebook, taught_path
from tuner.terms import Block, Step
from tuner.verbs import teach
from tuner.verbs.ears import RehearsalEars
from tuner.verbs.opening import Room


@pytest.fixture(autouse=True)
def _own_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.chdir(tmp_path)
    rng = np.random.default_rng(1)
    soundfile.write("quiet.flac", 1e-3 * rng.standard_normal(15 * RATE), RATE)
    soundfile.write("gurgle.flac", voice("gurgle", 15.0, 3), RATE)
    save_rig(typical_rig(), "my-rig.toml")


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    capsys.readouterr()
    code = main([str(word) for word in words])
    out, err = capsys.readouterr()
    return code, out, err


def test_recordings_teach_are_shown_used_and_forgotten(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    rig = ("--rig", "my-rig.toml")
    code, out, err = run(capsys, "teach", *rig, "--gurgle", "gurgle.flac", "--quiet", "quiet.flac")
    assert (code, err) == (0, "")
    assert "learnt   quiet: 14.5 s of 14.5 s" in out
    assert "known rightly:" in out
    assert "slurp    missing" in out
    assert "nothing from which speech could be rebuilt" in out
    _, shown, _ = run(capsys, "teach", *rig, "--show", "--json")
    body = json.loads(shown)
    assert body["missing"] == ["slurp"]
    assert body["usable"] is True
    assert body["parts"]["gurgle"]["trust"] > 0.5
    assert len(body["parts"]["gurgle"]["marks"]) == 4
    code, out, err = run(capsys, "analyse", "gurgle.flac", *rig)
    assert code == 0
    assert "hearing by what was taught of this rig (quiet " in err
    code, out, err = run(capsys, "confirm", "--file", "quiet.flac", "--seconds", "6", *rig)
    assert "hearing by what was taught" in err
    assert "forgotten my-rig.taught.json" in run(capsys, "teach", *rig, "--forget")[1]
    assert not (tmp_path / "my-rig.taught.json").exists()
    assert run(capsys, "teach", *rig, "--forget")[0] == 0
    assert "nothing was taught yet" in run(capsys, "teach", *rig, "--show")[1]


def test_a_slurp_that_is_none_is_refused_and_what_was_learnt_stays(capsys: pytest.CaptureFixture[str]) -> None:
    rng = np.random.default_rng(2)
    soundfile.write("slurp.flac", 1e-3 * rng.standard_normal(15 * RATE), RATE)
    code, out, err = run(
        capsys, "teach", "--rig", "my-rig.toml", "--quiet", "quiet.flac", "--slurp", "slurp.flac"
    )
    assert code == 2
    assert "unlike the quiet: no slurp was there" in err
    assert "not used yet: the quiet and one sound at least must be taught" in out
    kept = load_notebook(taught_path("my-rig.toml"))
    assert kept is not None
    assert tuple(kept.templates.parts) == ("quiet",)


def test_a_damaged_file_is_no_hindrance_to_listening(capsys: pytest.CaptureFixture[str]) -> None:
    Path("my-rig.taught.json").write_text("{")
    code, _, err = run(capsys, "analyse", "quiet.flac", "--rig", "my-rig.toml")
    assert code == 0
    assert "hearing without what was taught: templates my-rig.taught.json cannot be read" in err
    code, _, err = run(capsys, "teach", "--rig", "my-rig.toml", "--show")
    assert code == 2
    assert "teach --forget" in err
    assert run(capsys, "teach", "--rig", "my-rig.toml", "--forget")[0] == 0


def test_parts_by_another_recorder_are_not_mixed(capsys: pytest.CaptureFixture[str]) -> None:
    run(capsys, "teach", "--rig", "my-rig.toml", "--quiet", "quiet.flac")
    soundfile.write("fast.flac", 1e-3 * np.random.default_rng(3).standard_normal(15 * 32_000), 32_000)
    code, _, err = run(capsys, "teach", "--rig", "my-rig.toml", "--gurgle", "fast.flac")
    assert code == 2
    assert "a recording at 32000 Hz, the parts taught before are by recordings at 16000 Hz" in err


@pytest.mark.parametrize(("words", "text"), [
    (("--show",), "--rig FILE must be given"),
    (("--rehearsal", "1", "--quiet", "quiet.flac"), "must come alone"),
    (("--rig", "none.toml"), "hushweir rig new"),
])
def test_wrong_use_is_said_in_one_line(capsys: pytest.CaptureFixture[str], words: tuple[str, ...], text: str) -> None:
    code, _, err = run(capsys, "teach", *words)
    assert code == 2
    assert text in err
    assert len(err.strip().splitlines()) == 1


def guided(typed: str, words: tuple[str, ...]) -> tuple[int, PaperDesk]:
    desk = PaperDesk(typed)
    args = build_parser().parse_args(["teach", *words, "--logbook", "log.sqlite"])
    return teach.run(args, desk.desk), desk


def test_a_rehearsal_teaches_what_it_finds_and_goes_back(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(teach, "SAMPLE_RATE", RATE)
    code, desk = guided("", ("--rehearsal", "7"))
    assert "CAUTION" in desk.out
    assert [desk.out.count(f"learnt   {part}") for part in ("quiet", "slurp")] == [1, 1], desk.out
    # nobody there to ask whether an unclear sound is the gurgle: it may be left untaught, and then the code says so
    assert ("learnt   gurgle" in desk.out) == (code == 0)
    assert "OPEN SIPHON" not in desk.out  # drawn in large letters
    assert "open the siphon valve by" in desk.out
    assert "Back to where the valve was found." in desk.out
    assert "the siphon valve stands" not in desk.out
    assert "nowhere: it was a rehearsal" in desk.out


def test_it_can_be_left_with_the_valve_away_and_resumed(monkeypatch: pytest.MonkeyPatch) -> None:
    rehearsal = draw_case(None, 7, sample_rate=RATE)
    save_rig(rehearsal.rig, "my-rig.toml")
    floor = measure_floor(rehearsal.floor(10.0), RATE)

    def simulated(*_: object) -> tuple[RehearsalEars, Room, int, str]:
        return RehearsalEars(rehearsal, None, lambda _: None), Room(floor), RATE, "a microphone"

    monkeypatch.setattr(teach, "_microphone", simulated)
    code, desk = guided("\nq\n", ("--rig", "my-rig.toml"))
    assert code == 0
    assert "learnt   quiet" in desk.out
    assert "what was learnt is kept" in desk.out
    kept = load_notebook(taught_path("my-rig.toml"))
    assert kept is not None
    assert kept.valve_away > 0
    assert "further open than it was found: close it by as much" in desk.desk.errors.getvalue()  # type: ignore[attr-defined]
    code, desk = guided("\n" * 60, ("--rig", "my-rig.toml"))
    assert desk.out.index("Back to where") < desk.out.index("part     slurp")
    assert "part     quiet" not in desk.out
    kept = load_notebook(taught_path("my-rig.toml"))
    assert kept is not None
    assert kept.valve_away == pytest.approx(0.0)


class _Script:
    """Ears that play given sounds, one a call: what is listened to and what settles come from one row."""

    def __init__(self, *sounds: np.ndarray) -> None:
        self._sounds = list(sounds)
        self.moves: list[float] = []
        self._at = 0

    def _next(self, seconds: float) -> Iterator[Block]:
        sound = self._sounds.pop(0) if len(self._sounds) > 1 else self._sounds[0]
        samples = np.resize(sound, round(seconds * RATE)).astype(np.float32)
        for start in range(0, samples.size, RATE):
            block = Block(samples[start : start + RATE], RATE, self._at)
            self._at += block.samples.size
            yield block

    def listen(self, duration_s: float) -> Iterator[Block]:
        return self._next(duration_s)

    def settle(self, duration_s: float) -> Iterator[Block]:
        return self._next(duration_s)

    def idle(self) -> Iterator[Block]:
        return iter(())

    def moved(self, step: Step, amount: float) -> None:
        assert step.control == "siphon valve"
        self.moves.append(amount)


def test_a_roar_while_the_water_settles_opens_the_siphon_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    still = (1e-3 * np.random.default_rng(5).standard_normal(20 * RATE)).astype(np.float32)
    ears = _Script(still, still, voice("roar", 12.0, 3), still)
    monkeypatch.setattr(teach, "_microphone", lambda *_: (ears, Room(None), RATE, "a microphone"))
    monkeypatch.setattr(teach, "_wanted", lambda *_: ("quiet", "gurgle"))
    code, desk = guided("\n" * 20, ("--rig", "my-rig.toml"))
    assert code == 1
    assert "STOP     a roar is heard" in desk.out
    assert desk.out.index("STOP") < desk.out.index("open the siphon again at once")
    assert ears.moves[0] < 0
    assert ears.moves[1:] == [-ears.moves[0]]
    assert "learnt   gurgle" not in desk.out
