"""What the logbook knows of a microphone, used by every verb that listens: calibration, room, checks."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tuner.capture.source import Clip
from tuner.cli import main
from tuner.logbook.store import Logbook
from tuner.signatures.listener import measure_floor
from tuner.silence.chain import ChainReport
from tuner.terms import Floor, Samples
from tuner.verbs.mic_check import Delivery, with_rate

RATE = 16_000
HONEST = ChainReport((), True, 26.0, -70.0, -40.0, 5.4, 0.0, 0, 8000.0)


class Stub(Clip):
    """A microphone that hears what it is given."""

    def stop(self) -> None:
        pass


@pytest.fixture(autouse=True)
def _own_data_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("COLUMNS", "100")


def plug_in(monkeypatch: pytest.MonkeyPatch, samples: Samples, name: str = "USB mic") -> None:
    monkeypatch.setattr("tuner.capture.microphone.Microphone", lambda _device, _rate: Stub(samples, RATE, name))


def noise(seconds: float, level: float = 1e-3, seed: int = 1) -> Samples:
    return (level * np.random.default_rng(seed).standard_normal(round(seconds * RATE))).astype(np.float32)


def tone(amplitude: float = 0.1, seconds: float = 8.0) -> Samples:
    time = np.arange(round(seconds * RATE)) / RATE
    return (amplitude * np.sin(2 * np.pi * 1000.0 * time)).astype(np.float32)


def run(capsys: pytest.CaptureFixture[str], *words: str | Path) -> tuple[int, str, str]:
    capsys.readouterr()
    code = main([str(word) for word in words])
    out, err = capsys.readouterr()
    return code, out, err


def test_a_calibration_is_used_by_whoever_listens(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    plug_in(monkeypatch, noise(12.0))
    _, out, _ = run(capsys, "floor", "--seconds", "6")
    assert "re full scale" in out
    assert "relative to full scale, not calibrated" in out
    plug_in(monkeypatch, tone())
    # A sine of amplitude 0.1 has -23.0 dB re full scale: 94 dB are 117.0 dB more.
    code, out, _ = run(capsys, "mic", "calibrate", "--calibrator", "94")
    assert (code, "117.0 dB" in out) == (0, True)

    plug_in(monkeypatch, noise(40.0))
    _, out, _ = run(capsys, "floor", "--seconds", "6")
    assert "re full scale" not in out
    assert "re 20 µPa by calibrator, give or take 0.5 dB" in out
    with Logbook(tmp_path / "data/hushweir/logbook.sqlite", clock=lambda: datetime.now(UTC), look_only=True) as book:
        kept = book.latest_floor("USB mic", RATE)
    assert kept is not None
    # Kept re full scale, so that a later calibration holds for it too.
    assert not kept[1].levels.calibrated
    assert kept[1].levels.laeq_db < 0.0

    _, out, _ = run(capsys, "listen", "--seconds", "10", "--plain")
    assert "re full scale" not in out
    assert "over the room" in out or "under the room" in out
    _, out, _ = run(capsys, "confirm", "--seconds", "20", "--json")
    body = json.loads(out)
    assert body["calibration"].startswith("re 20 µPa by calibrator")
    assert body["levels"]["calibrated"] is True
    assert body["levels"]["laeq_db"] == pytest.approx(117.0 - 60.0, abs=3.0)
    # 57 dB(A) by a microphone in a room without pumps: nothing softer is heard by it.
    assert any("too noisy" in why for why in body["why"])

    soundfile.write(tmp_path / "clip.wav", noise(6.0), RATE, "FLOAT")
    assert json.loads(run(capsys, "analyse", tmp_path / "clip.wav", "--json")[1])["calibrated"] is False
    analysed = json.loads(run(capsys, "analyse", tmp_path / "clip.wav", "--json", "--device", "usb")[1])
    assert analysed["calibrated"] is True
    assert analysed["levels"]["laeq_db"] == pytest.approx(117.0 - 60.0, abs=3.0)
    code, _, err = run(capsys, "analyse", tmp_path / "clip.wav", "--device", "another")
    assert code == 2
    assert "device='another' must name one calibrated microphone ('USB mic')" in err


def test_a_floor_is_printed_with_its_units(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    plug_in(monkeypatch, noise(12.0))
    code, out, _ = run(capsys, "floor", "--seconds", "6", "--place", "on the sofa", "--json")
    body = json.loads(out)
    assert code == 0
    assert {"schema", "source", "sample_rate_hz", "duration_s", "clean_s", "left_out_s", "doubts"} <= set(body)
    assert {"laeq_db", "la90_db", "third_octave_hz", "third_octave_db"} <= set(body["levels"])
    assert (body["floor"], body["place"], body["calibrated"], body["rating"]) == (1, "on the sofa", False, "")


def test_a_room_that_has_become_louder_or_quieter_is_said(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    for level, says in ((1e-3, ""), (1.1e-3, ""), (3e-3, "8.7 dB louder than on")):
        plug_in(monkeypatch, noise(8.0, level))
        _, _, err = run(capsys, "floor", "--seconds", "6")
        assert (says in err) if says else ("than on" not in err)
    # The room in a moment when the pumps ran was quieter than what is taken for the room now.
    plug_in(monkeypatch, noise(10.0, 1e-3))
    _, _, err = run(capsys, "listen", "--seconds", "9", "--plain")
    assert "quieter than the room was" in err
    plug_in(monkeypatch, noise(8.0, 3e-3))
    _, _, err = run(capsys, "floor", "--seconds", "6")
    assert "quieter than the room was" in err


def test_a_shorter_room_that_takes_the_place_of_a_longer_one_is_said(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    for seconds, says in ((20, False), (18, False), (6, True)):
        plug_in(monkeypatch, noise(seconds + 1.0))
        code, _, err = run(capsys, "floor", "--seconds", str(seconds))
        assert (code, "it takes the place of floor 2, which had 18 s undisturbed" in err) == (0, says)


def test_a_level_that_no_calibrator_gives_is_refused_before_listening(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    plug_in(monkeypatch, tone())
    assert run(capsys, "mic", "calibrate", "--calibrator", "90") == (
        2, "", "hushweir: calibrator=90 must be 94 or 114 dB: read it off the calibrator\n",
    )
    code, out, err = run(capsys, "mic", "calibrate", "--meter", "3")
    assert (code, out, "meter=3 must be 20 to 130 dB(A)" in err) == (2, "", True)


def test_a_calibration_is_one_json_object_with_its_drift(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    plug_in(monkeypatch, tone())
    first = json.loads(run(capsys, "mic", "calibrate", "--calibrator", "94", "--json")[1])
    # A sine of amplitude 0.1 has -23.0 dB re full scale.
    assert first["offset_db"] == pytest.approx(117.0, abs=0.1)
    assert (first["method"], first["proof"], first["drift_db"]) == ("calibrator", 1, None)
    plug_in(monkeypatch, tone(0.2))
    _, out, err = run(capsys, "mic", "calibrate", "--calibrator", "94", "--json")
    # Twice the amplitude is 6.02 dB more.
    assert json.loads(out)["drift_db"] == pytest.approx(6.02, abs=0.05)
    assert "drifted by +6.0 dB" in err


def test_a_stale_room_is_doubted_when_listening(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    path = tmp_path / "book.sqlite"
    samples = noise(10.0)
    with Logbook(path, clock=lambda: datetime.now(UTC) - timedelta(days=20)) as book:
        book.keep_floor(Floor(measure_floor(samples, RATE).levels, 30.0, 30.0), "USB mic", RATE)
    plug_in(monkeypatch, samples)
    for verb in ("listen", "confirm"):
        plain = ["--plain"] if verb == "listen" else []
        _, _, err = run(capsys, verb, "--seconds", "8", *plain, "--logbook", path)
        assert err.count("measured 20 days ago") == 1


def test_a_rate_that_is_not_as_stated_is_a_fault() -> None:
    assert Delivery(0, 47_900.0, ()).keeps_rate(48_000) is True
    assert Delivery(0, None, ()).keeps_rate(48_000) is None
    assert with_rate(HONEST, Delivery(0, 47_900.0, ()), 48_000).honest
    wrong = with_rate(HONEST, Delivery(0, 44_100.0, ()), 48_000)
    assert not wrong.honest
    assert wrong.faults[0].seen == "44100 samples a second come where 48000 are stated"
