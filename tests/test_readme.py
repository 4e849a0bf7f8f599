"""The README tells the truth: its commands exist and run, its rig file loads, its outputs are those of the program."""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import tuner
from tuner.rigfile import load_rig

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
COMMANDS = sorted({
    line.split("#")[0].strip()
    for line in re.findall(r"^    (hushweir .+)$", README, flags=re.MULTILINE)
})
NEED_A_PERSON_OR_A_MICROPHONE = (
    "floor", "listen", "locate", "teach", "tune", "rig new", "log show", "confirm", "restart", "mic", "compare",
    "log trend", "report",
)


def hushweir(*arguments: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "tuner", *arguments], cwd=cwd, capture_output=True, text=True, timeout=300,
        stdin=subprocess.DEVNULL,
    )


def toml_block() -> str:
    found = re.search(r"```toml\n(.*?)```", README, flags=re.DOTALL)
    assert found is not None
    return found[1]


@pytest.fixture
def desk(tmp_path: Path) -> Path:
    """A folder as the reader's: the rig file of the README and the sample recordings."""
    (tmp_path / "my-rig.toml").write_text(toml_block(), encoding="utf-8")
    (tmp_path / "sample_audio").symlink_to(ROOT / "sample_audio")
    return tmp_path


def test_the_job_comes_first_then_the_two_commands() -> None:
    body = README.split("\n\n")
    assert body[0] == "# Hushweir"
    assert len(body[1].split()) > 60
    assert body[2] == "## Two commands"
    assert README.index("make demo") < README.index("make test") < README.index("## A tour")


def test_the_rig_file_of_the_readme_loads(desk: Path) -> None:
    rig = load_rig(desk / "my-rig.toml")
    assert rig.name == "Kelpie"
    assert rig.siphon.valve.setting == 1.25
    assert "siphon.drop_m" not in rig.assumed
    tomllib.loads(toml_block())


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_of_the_readme_exists(command: str, tmp_path: Path) -> None:
    words = [w for w in shlex.split(command)[1:3] if not w.startswith("-") and "." not in w and not w.isdigit()]
    done = hushweir(*words, "--help", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    for option in re.findall(r"--[a-z-]+", command):
        assert option in done.stdout


@pytest.mark.parametrize(
    "command",
    [c for c in COMMANDS if not c.removeprefix("hushweir ").startswith((*NEED_A_PERSON_OR_A_MICROPHONE, "demo"))],
)
def test_commands_that_need_nobody_run(command: str, desk: Path) -> None:
    words = shlex.split(command)[1:]
    if words[0] == "log":
        words += ["--logbook", str(desk / "log.sqlite")]
        listened = hushweir(
            "listen", "--file", "sample_audio/hum.flac", "--fast", "--seconds", "3", "--plain", *words[1:], cwd=desk
        )
        assert listened.returncode == 0, listened.stderr
    done = hushweir(*words, cwd=desk)
    assert done.returncode == 0, done.stderr
    assert "Traceback" not in done.stderr


def test_every_verb_is_told_of(tmp_path: Path) -> None:
    listed = re.findall(r"^    ([a-z]+)  ", hushweir("--help", cwd=tmp_path).stdout, flags=re.MULTILINE)
    assert listed
    assert [verb for verb in listed if f"hushweir {verb}" not in README] == []


def test_names_of_the_python_example_exist() -> None:
    for name in re.findall(r"tuner\.([A-Za-z_]+)\(", README):
        assert name in tuner.__all__


def test_makefile_has_the_targets_that_are_promised() -> None:
    makefile = (ROOT / "Makefile").read_text(encoding="utf-8")
    told = README + (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    for target in set(re.findall(r"(?:^    |`)make ([a-z]+)", told, re.MULTILINE)):
        assert re.search(rf"^{target}:", makefile, flags=re.MULTILINE), target
