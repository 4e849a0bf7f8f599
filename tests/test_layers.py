"""Imports go downwards only, and the light path stays light."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[1] / "tuner"
FLOORS: dict[str, int] = {
    "errors": 0, "plain": 0, "saying": 0, "terms": 0,
    "places": 0, "units": 0, "rig": 0, "rigfile": 0, "rigdefaults": 0, "rigdraft": 0,
    "bounds": 1, "sound": 1, "water": 1, "capture": 1,
    "signatures": 2, "rehearsal": 2,
    "causes": 3, "logbook": 3,
    "coach": 4, "report": 4, "silence": 4, "training": 4,
    "cli": 5, "clihistory": 5, "clilog": 5, "clinumbers": 5, "clioptions": 5, "verbs": 5, "screens": 5, "__main__": 5,
}
# Within floor 0 the installation builds on units, errors and values; the screen floor is one team.
BESIDE: set[tuple[str, str]] = {
    ("cli", "clihistory"), ("clihistory", "clioptions"), ("cli", "clilog"), ("clilog", "clinumbers"),
    ("cli", "clinumbers"), ("cli", "clioptions"), ("clioptions", "clinumbers"), ("cli", "verbs"),
    ("verbs", "screens"), ("verbs", "cli"), ("__main__", "cli"),
}
HEAVY = ("scipy.signal", "librosa", "soundfile", "sounddevice", "numba", "matplotlib", "jinja2", "textual")


def room_of(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imports() -> Iterator[tuple[Path, str]]:
    for path in sorted(PACKAGE.rglob("*.py")):
        if path == PACKAGE / "__init__.py":
            continue  # the public face, loaded lazily
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names: list[str] = []
            if isinstance(node, ast.ImportFrom) and node.module:
                assert node.level == 0, f"{path}: write imports from the top"
                names = [node.module] if node.module != "tuner" else [f"tuner.{a.name}" for a in node.names]
            elif isinstance(node, ast.Import):
                names = [a.name for a in node.names]
            for name in names:
                if name.startswith("tuner."):
                    yield path, name.split(".")[1]


def test_every_room_has_a_floor() -> None:
    assert {room_of(p) for p in PACKAGE.rglob("*.py")} - {"__init__", "_share"} <= set(FLOORS)


def test_imports_go_downwards_only() -> None:
    wrong = [
        f"{path.relative_to(PACKAGE)} imports tuner.{target}"
        for path, target in imports()
        if (room := room_of(path)) != target
        and FLOORS[room] > 0
        and not FLOORS[target] < FLOORS[room]
        and (room, target) not in BESIDE
    ]
    assert wrong == []


def test_floor_0_rests_on_nothing_above() -> None:
    assert [f"{p.name} imports {t}" for p, t in imports() if FLOORS[room_of(p)] == 0 and FLOORS[t] > 0] == []


def test_no_file_is_too_long() -> None:
    assert [p.name for p in PACKAGE.rglob("*.py") if len(p.read_text(encoding="utf-8").splitlines()) > 400] == []


@pytest.mark.parametrize("code", [
    "import tuner; tuner.load_rig, tuner.Listener, tuner.Coach, tuner.measure_floor, tuner.diagnose",
    "import sys; sys.argv=['hushweir','--help']\nfrom tuner.cli import main\ntry: main()\nexcept SystemExit: pass",
], ids=["the seam", "--help"])
def test_slow_imports_stay_out_of_the_light_path(code: str) -> None:
    check = f"{code}\nimport sys\nprint([m for m in {HEAVY!r} if m in sys.modules], file=sys.stderr)"
    done = subprocess.run([sys.executable, "-c", check], capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "[]"
