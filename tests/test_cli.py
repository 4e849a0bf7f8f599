from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tuner.cli import main

VERBS = ("demo", "listen", "tune", "analyse", "floor", "rig", "log", "mic")
RATE = 16_000


@pytest.fixture(autouse=True)
def _own_data_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("COLUMNS", "80")


@pytest.fixture
def recording(tmp_path: Path) -> Path:
    rng = np.random.default_rng(5)
    path = tmp_path / "a room.wav"
    soundfile.write(path, 0.02 * rng.standard_normal(6 * RATE), RATE)
    return path


def run(capsys: pytest.CaptureFixture[str], *words: str | Path) -> tuple[int, str, str]:
    capsys.readouterr()
    code = main([str(word) for word in words])
    out, err = capsys.readouterr()
    return code, out, err


def ends_with(capsys: pytest.CaptureFixture[str], *words: str | Path) -> tuple[object, str, str]:
    """Run a command line that argparse itself ends."""
    capsys.readouterr()
    with pytest.raises(SystemExit) as ended:
        main([str(word) for word in words])
    out, err = capsys.readouterr()
    return ended.value.code, out, err


@pytest.mark.parametrize("words", [(), *((verb,) for verb in VERBS), ("rig", "new"), ("rig", "check"),
                                   ("rig", "example"), ("log", "show")])
def test_everything_has_a_help(capsys: pytest.CaptureFixture[str], words: tuple[str, ...]) -> None:
    code, out, err = ends_with(capsys, *words, "--help")
    assert code == 0
    assert err == ""
    assert out.startswith("usage: hushweir")
    assert "None" not in out


def test_the_help_names_every_verb_and_the_caution(capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = ends_with(capsys, "--help")
    for verb in VERBS:
        assert f"\n    {verb} " in out
    assert "emergency pipe" in out


def test_hushweir_alone_greets(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.chdir(tmp_path)
    code, out, _ = run(capsys)
    assert code == 0
    assert "hushweir demo" in out
    assert "NEXT     hushweir rig new" in out


def test_the_version_is_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "--version")
    assert code == 0
    assert out.startswith("hushweir ")
    assert out.count("\n") == 1


@pytest.mark.parametrize("words", [["--help"], ["listen", "--help"], ["--version"]])
def test_the_help_imports_nothing_heavy(words: list[str]) -> None:
    code = (
        "import sys\nfrom tuner.cli import main\n"
        f"try:\n    main({words!r})\nexcept SystemExit:\n    pass\n"
        "heavy = {'numpy', 'scipy', 'librosa', 'soundfile', 'sounddevice', 'rich', 'sqlite3', 'tomlkit'}\n"
        "sys.stderr.write(' '.join(sorted(heavy & set(sys.modules))))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stderr == ""


@pytest.mark.parametrize("words", [[], ["log"], ["rig", "example"]])
def test_light_verbs_import_neither_scipy_signal_nor_librosa(words: list[str]) -> None:
    code = (
        f"import sys\nfrom tuner.cli import main\nmain({words!r})\n"
        "print(sorted({'scipy.signal', 'librosa', 'sounddevice'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


@pytest.mark.parametrize(("words", "says"), [
    (["analyse", "nowhere.wav"], "recording nowhere.wav does not exist"),
    (["listen", "--file", "nowhere.wav"], "recording nowhere.wav does not exist"),
    (["floor", "--file", "nowhere.wav"], "recording nowhere.wav does not exist"),
    (["analyse", "nowhere.wav", "--rig", "nowhere.toml"], "rig file nowhere.toml does not exist"),
    (["analyse", "nowhere.wav", "--floor", "room.wav"], "recording room.wav does not exist"),
    (["rig", "check", "nowhere.toml"], "rig file nowhere.toml does not exist"),
    (["log", "--logbook", "nowhere.sqlite"], "logbook nowhere.sqlite does not exist"),
    (["log", "show", "3", "--logbook", "nowhere.sqlite"], "logbook nowhere.sqlite does not exist"),
    (["tune", "--rehearsal", "1", "--logbook", "."], "logbook . is a folder"),
    (["listen", "--rehearsal", "1", "--fast"], "--fast must come with --seconds"),
])
def test_an_error_is_one_line_and_exit_code_2(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path, words: list[str], says: str
) -> None:
    monkeypatch.chdir(tmp_path)
    code, out, err = run(capsys, *words)
    assert code == 2
    assert out == ""
    assert err.startswith(f"hushweir: {says}")
    assert err.count("\n") == 1


@pytest.mark.parametrize(("words", "says"), [
    (["sing"], "invalid choice"), (["analyse"], "required: FILE"), (["listen", "--seconds", "-3"], "above 0"),
    (["listen", "--seconds", "nan"], "above 0"), (["tune", "--seconds", "1"], "at least 5 seconds"),
    (["tune", "--rehearsal", "1.5"], "whole number"), (["log", "show", "none"], "whole number"),
    (["rig"], "required: WHAT"),
])
def test_a_wrong_command_line_is_exit_code_2(capsys: pytest.CaptureFixture[str], words: list[str], says: str) -> None:
    code, _, err = ends_with(capsys, *words)
    assert code == 2
    assert says in err


def test_the_json_of_an_analysis_has_the_promised_keys(capsys: pytest.CaptureFixture[str], recording: Path) -> None:
    code, out, err = run(capsys, "analyse", "--json", recording, recording)
    assert (code, err) == (0, "")
    first, second = (json.loads(line) for line in out.splitlines())
    assert first == second
    assert {"schema", "file", "duration_s", "sample_rate_hz", "calibrated", "levels", "silent", "sounds", "causes",
            "next_step"} <= set(first)
    assert first["schema"] == 1
    assert first["file"] == str(recording)
    assert first["duration_s"] == 6.0
    assert first["sample_rate_hz"] == RATE
    assert first["calibrated"] is False
    levels = first["levels"]
    assert {"laeq_db", "la10_db", "la50_db", "la90_db", "third_octave_hz", "third_octave_db"} <= set(levels)
    assert len(levels["third_octave_hz"]) == len(levels["third_octave_db"]) > 20
    # White noise of 0.02 has -34.0 dB re full scale unweighted; the A-curve takes less than 3 dB off up to 8 kHz.
    assert -37.0 < levels["laeq_db"] < -33.0
    assert levels["la10_db"] >= levels["la50_db"] >= levels["la90_db"]
    for cause in first["causes"]:
        assert set(cause) == {"name", "probability", "because"}


def test_an_analysis_for_people_names_verdict_and_levels(capsys: pytest.CaptureFixture[str], recording: Path) -> None:
    code, out, _ = run(capsys, "analyse", recording)
    assert code == 0
    assert "a room.wav" in out
    assert "dB(A) re full scale" in out
    assert ("cause" in out) or ("verdict" in out)


def test_a_bad_file_does_not_keep_the_others_from_being_analysed(
    capsys: pytest.CaptureFixture[str], recording: Path, tmp_path: Path
) -> None:
    bad = tmp_path / "letter.wav"
    bad.write_text("Dear neighbour")
    code, out, err = run(capsys, "analyse", "--json", bad, recording, tmp_path / "none.wav")
    assert code == 2
    assert json.loads(out)["file"] == str(recording)
    assert [line.split(":")[0] for line in err.splitlines()] == ["hushweir", "hushweir"]


def test_listening_to_a_file_prints_lines_and_keeps_a_log(
    capsys: pytest.CaptureFixture[str], recording: Path, tmp_path: Path
) -> None:
    book = tmp_path / "book.sqlite"
    code, out, err = run(capsys, "listen", "--file", recording, "--fast", "--note", "at <night>", "--logbook", book)
    assert code == 0
    assert "the room with the pumps off is not known" in err
    assert [line[:5] for line in out.splitlines() if line.startswith("00:0") and " to " not in line] == [
        "00:01", "00:02", "00:03", "00:04", "00:05", "00:06",
    ]
    assert f"session 1 in {book}" in out
    code, out, _ = run(capsys, "log", "--logbook", book)
    assert code == 0
    assert "1 session in" in out
    code, out, _ = run(capsys, "log", "show", "1", "--logbook", book)
    assert "at <night>" in out
    code, out, _ = run(capsys, "log", "--logbook", book, "show", "1", "--json")
    page = json.loads(out)
    assert page["session"]["verb"] == "listen"
    assert len(page["readings"]) == 6
    assert page["session"]["ended"].endswith("Z")
    code, out, _ = run(capsys, "log", "--json", "--logbook", book)
    assert [s["id"] for s in json.loads(out)["sessions"]] == [1]


def test_listening_ends_after_the_seconds_that_were_asked_for(
    capsys: pytest.CaptureFixture[str], recording: Path
) -> None:
    code, out, _ = run(capsys, "listen", "--file", recording, "--fast", "--seconds", "3")
    assert code == 0
    assert "heard    3 s" in out


def test_a_session_that_is_not_there_is_said(capsys: pytest.CaptureFixture[str], recording: Path) -> None:
    run(capsys, "listen", "--file", recording, "--fast")
    code, _, err = run(capsys, "log", "show", "7")
    assert code == 2
    assert "session=7 must be the number of a session" in err


def test_the_room_is_measured_from_a_file(capsys: pytest.CaptureFixture[str], recording: Path) -> None:
    code, out, _ = run(capsys, "floor", "--file", recording)
    assert code == 0
    assert "6 s of 6 s undisturbed" in out
    code, out, _ = run(capsys, "analyse", recording, "--floor", recording)
    assert code == 0
    assert "0.0 dB over the room" in out


def test_the_example_is_a_rig_file_that_checks(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "my-rig.toml"
    path.write_text(run(capsys, "rig", "example")[1])
    code, out, _ = run(capsys, "rig", "check", path)
    assert code == 0
    assert "my tank" in out


def test_the_example_explains_every_field(capsys: pytest.CaptureFixture[str]) -> None:
    from tuner.rig import Rig, measures, walk
    from tuner.rigfile import key_of

    code, out, _ = run(capsys, "rig", "example")
    assert code == 0
    for name, part in walk(Rig()):
        for field, measure in measures(part).items():
            assert f"{key_of(field)} = " in out, name
            assert f"# {measure.how}" in out, name


def test_a_broken_rig_file_is_said_with_the_field(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "my-rig.toml"
    path.write_text(run(capsys, "rig", "example")[1].replace('"26.6 mm"', '"26.6"', 1))
    code, _, err = run(capsys, "rig", "check", path)
    assert code == 2
    assert "siphon.inner_diameter" in err


def spawn(*words: str, env: dict[str, str], piped_to: str = "cat") -> subprocess.CompletedProcess[bytes]:
    command = " ".join([f"'{sys.executable}' -m tuner", *words, "|", piped_to])
    return subprocess.run(["bash", "-c", f"set -o pipefail; {command}"], capture_output=True, check=False,
                          env={**os.environ, **env})


def test_an_ascii_pipe_shows_no_other_characters(recording: Path) -> None:
    done = spawn("analyse", f"'{recording}'", "--rig", "/dev/null", env={"PYTHONIOENCODING": "ascii"})
    assert b"Traceback" not in done.stderr
    done = spawn("analyse", f"'{recording}'", env={"PYTHONIOENCODING": "ascii", "LC_ALL": "C"})
    assert done.returncode == 0
    assert done.stdout.isascii()
    assert b"dB(A)" in done.stdout
    assert b"\x1b" not in done.stdout


def test_a_reader_who_leaves_early_is_no_error(recording: Path, tmp_path: Path) -> None:
    book = tmp_path / "book.sqlite"
    done = spawn("listen", "--fast", "--file", f"'{recording}'", "--logbook", str(book), env={}, piped_to="head -n 1")
    assert b"Traceback" not in done.stderr
    assert b"Error" not in done.stderr
    assert book.exists()
