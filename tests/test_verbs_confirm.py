from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tests.chains import draw_chain
from tuner.cli import main
from tuner.silence.certificate import COLUMNS, LINES
from tuner.silence.room import room_doubts
from tuner.silence.steps import steps_to_play
from tuner.sound.levels import measure_levels
from tuner.terms import Floor

RATE = 16_000


@pytest.fixture(autouse=True)
def _own_data_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("COLUMNS", "90")


def run(capsys: pytest.CaptureFixture[str], *words: str | Path) -> tuple[int, str, str]:
    capsys.readouterr()
    code = main([str(word) for word in words])
    out, err = capsys.readouterr()
    return code, out, err


def quiet(path: Path, seconds: float, seed: int) -> Path:
    soundfile.write(path, 1e-3 * np.random.default_rng(seed).standard_normal(round(seconds * RATE)), RATE, "FLOAT")
    return path


def through(path: Path, fault: str | None) -> Path:
    soundfile.write(path, draw_chain(fault, 100_301, RATE), RATE, "FLOAT")
    return path


def test_a_recording_of_the_trial_is_acquitted_or_convicted(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    code, out, err = run(capsys, "mic", "check", "--file", through(tmp_path / "good.wav", None))
    assert (code, err) == (0, "")
    assert "verdict  honest" in out
    code, out, _ = run(capsys, "mic", "check", "--file", through(tmp_path / "bad.wav", "gain control"), "--json")
    assert code == 1
    body = json.loads(out)
    assert body["honest"] is False
    assert "gain control" in [fault["fault"] for fault in body["chain"]["faults"]]


@pytest.mark.parametrize("mains_hz", [None, 100.0, 120.0])
def test_a_mains_line_of_the_quiet_is_seen_beside_the_loud_stretch(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, mains_hz: float | None
) -> None:
    # Noise at -74 dB re full scale, 50 dB louder in the middle; a line of -75 dB: 38 dB over a band of 1 Hz of the soft
    # noise (-74 - 10 lg 8000 = -113 dB), 12 dB under one of the loud.
    rng = np.random.default_rng(5)
    sound = 2e-4 * rng.standard_normal(26 * RATE)
    sound[8 * RATE : 16 * RATE] *= 10.0 ** (50.0 / 20.0)
    if mains_hz is not None:
        sound += 10.0 ** (-72.0 / 20.0) * np.sin(2.0 * np.pi * mains_hz * np.arange(sound.size) / RATE)
    soundfile.write(tmp_path / "trial.wav", sound.astype(np.float32), RATE, "FLOAT")
    _, out, _ = run(capsys, "mic", "check", "--file", tmp_path / "trial.wav", "--json")
    assert json.loads(out)["mains_lines_hz"] == ([] if mains_hz is None else [mains_hz])


def test_steps_that_are_not_followed_convict(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    good = through(tmp_path / "good.wav", None)
    sound = steps_to_play(RATE, 0.3)
    for power, code in ((1.0, 0), (0.8, 1)):
        soundfile.write(tmp_path / "steps.wav", np.sign(sound) * np.abs(sound) ** power, RATE, "FLOAT")
        found, out, _ = run(capsys, "mic", "check", "--file", good, "--steps", tmp_path / "steps.wav")
        assert found == code
        assert ("steps of 10 dB are read as 8.0 and 8.0 dB" in out) == bool(code)


def test_a_calibrators_recording_gives_the_offset(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    time = np.arange(5 * RATE) / RATE
    soundfile.write(tmp_path / "cal.wav", 0.1 * np.sin(2 * np.pi * 1000.0 * time), RATE, "FLOAT")
    code, out, err = run(capsys, "mic", "calibrate", "--calibrator", "94", "--file", tmp_path / "cal.wav")
    assert (code, err) == (0, "")
    # A sine of amplitude 0.1 has -23.0 dB re full scale.
    assert "0 dB re full scale is 117.0 dB" in out
    code, _, err = run(capsys, "mic", "calibrate", "--file", tmp_path / "cal.wav")
    assert code == 2
    assert "one of --calibrator 94 and --meter LEVEL must be given" in err


def test_confirming_a_recording_needs_the_room_and_the_trial(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    sound, floor = quiet(tmp_path / "on.wav", 64.0, 2), quiet(tmp_path / "off.wav", 30.0, 3)
    code, out, err = run(
        capsys, "confirm", "--file", sound, "--floor", floor, "--check", through(tmp_path / "trial.wav", None),
        "--certificate", tmp_path / "page.txt", "--note", "after cleaning",
    )
    page = (tmp_path / "page.txt").read_text(encoding="utf-8")
    lines = page.splitlines()
    assert len(lines) <= LINES
    assert max(map(len, lines)) <= COLUMNS
    assert page in out
    for words in ("cannot show", "rests on", "to claim more", "after cleaning", "not calibrated"):
        assert words in page
    # White noise is nothing that the ears were taught; whatever they say, nothing but the room is there.
    assert "at most" in page
    assert (code, err) in {(0, ""), (1, ""), (3, "")}
    assert out.count("unmasked") > 5


def test_without_the_trial_nothing_is_shown_and_the_json_says_why(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    code, out, _ = run(capsys, "confirm", "--file", quiet(tmp_path / "on.wav", 20.0, 2), "--json")
    body = json.loads(out)
    assert code == 3
    assert body["outcome"] == "not shown"
    assert any("never tried" in why for why in body["why"])
    assert any("pumps off is not known" in why for why in body["why"])
    assert {"schema", "confidence", "heard_s", "clean_s", "per_hour_at_most", "bands", "cannot_show"} <= set(body)
    assert datetime.fromisoformat(body["made"]).tzinfo is not None


def test_a_room_grows_stale_is_disturbed_or_changes() -> None:
    noise = (1e-3 * np.random.default_rng(1).standard_normal(4 * RATE)).astype(np.float32)
    floor = Floor(measure_levels(noise, RATE), 30.0, 30.0)
    now = datetime(2026, 3, 20, 12, tzinfo=UTC)
    assert room_doubts(floor, now - timedelta(days=1), now, floor.levels.la90_db) == ()
    assert "10 days ago" in room_doubts(floor, now - timedelta(days=10), now, None)[0]
    assert "40% of the time" in room_doubts(Floor(floor.levels, 30.0, 18.0), now, now, None)[0]
    assert "3.0 dB quieter" in room_doubts(floor, now, now, floor.levels.la90_db - 3.0)[0]
