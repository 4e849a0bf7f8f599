"""The room as a whole: what importing it costs, and which way its imports point."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import tuner.water

ROOM = Path(tuner.water.__file__).parent
BELOW = {"tuner.errors", "tuner.terms", "tuner.places", "tuner.units", "tuner.rig", "tuner.rigfile"}


def test_the_balance_imports_no_slow_library() -> None:
    slow = "('scipy', 'fluids', 'gsw', 'librosa')"
    code = f"import sys, tuner.water.balance; print([m for m in {slow} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOM.parents[1])
    assert done.stdout.strip() == "[]"


def test_imports_point_down() -> None:
    for path in ROOM.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("tuner"):
                assert node.module in BELOW or (node.module or "").startswith("tuner.water"), (path.name, node.module)
