"""The training's command: what it refuses before it renders anything."""

from __future__ import annotations

from pathlib import Path

import pytest

from tuner.training.__main__ import main


@pytest.mark.parametrize(
    "options",
    [
        ["--first-seed", "9000", "--scenes", "1001"],
        ["--elsewhere", "10001"],
        ["--rests", "80001"],
        ["--first-seed", "0"],
        ["--scenes", "-1"],
    ],
)
def test_seeds_that_would_draw_other_scenes_are_refused(
    options: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "model.json"
    assert main(["--out", str(out), *options]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "must stay between seeds 1 and" in said
    assert not out.exists()
