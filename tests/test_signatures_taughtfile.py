"""The file of templates: what is written comes back, and what is broken is said in one line."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

import tuner
from tuner.errors import ConfigError
from tuner.signatures.taught import Part, Templates
from tuner.signatures.taughtfile import Notebook, load_notebook, save_notebook, taught_path


def notebook() -> Notebook:
    rng = np.random.default_rng(1)
    parts = {n: Part(rng.normal(size=(3, 2)), rng.random((3, 2)), (10, 10, 9)) for n in ("quiet", "gurgle")}
    return Notebook(Templates(("tilt", "slope"), parts, "mic", 48_000, {"quiet": "2026-01-01"}), -0.125)  # type: ignore[arg-type]


def test_what_is_written_comes_back(tmp_path: Path) -> None:
    path = taught_path(tmp_path / "my-rig.toml")
    assert path.name == "my-rig.taught.json"
    save_notebook(notebook(), path)
    back = load_notebook(path)
    assert back is not None
    assert (back.valve_away, back.templates.device, back.templates.sample_rate) == (-0.125, "mic", 48_000)
    assert back.templates.features == ("tilt", "slope")
    for name, part in notebook().templates.parts.items():
        assert back.templates.parts[name].looks == part.looks
        assert back.templates.parts[name].middle == pytest.approx(part.middle, rel=1e-4)
        assert back.templates.parts[name].spread == pytest.approx(part.spread, rel=1e-4)
    assert back.templates.made["quiet"] == "2026-01-01"
    assert [p.name for p in tmp_path.iterdir()] == ["my-rig.taught.json"]
    loaded = tuner.load_templates(tmp_path / "my-rig.toml")
    assert loaded is not None
    assert loaded.missing == ("slurp",)


def test_it_holds_numbers_by_name_and_says_so(tmp_path: Path) -> None:
    save_notebook(notebook(), tmp_path / "a.taught.json")
    table = json.loads((tmp_path / "a.taught.json").read_text())
    assert "No audio is in it" in table["about"]
    assert set(table) == {
        "schema", "about", "device", "sample_rate_hz", "valve_away", "features", "parts",
    }  # fmt: skip
    assert set(table["parts"]["quiet"]) == {"made", "looks", "middle", "spread"}


def test_no_file_is_no_error(tmp_path: Path) -> None:
    assert load_notebook(tmp_path / "none.taught.json") is None
    assert tuner.load_templates(tmp_path / "none.toml") is None


@pytest.mark.parametrize(("change", "words"), [
    ({"schema": 99}, "written by a newer hushweir .form 99; this one knows 1.: update"),
    ({"schema": "x"}, "schema='x' must be 1: 'hushweir teach --forget'"),
    ({"parts": {"quiet": {"made": "", "looks": [10], "middle": [[1.0]], "spread": [[1.0]]}}}, "another number"),
    ({"parts": {"quiet": {"made": "", "looks": [1], "middle": [[1.0, 2.0]], "spread": [[1.0, -2.0]]}}}, "no numbers"),
    ({"parts": {"quiet": {"looks": [1]}}}, "are damaged .*middle.*: 'hushweir teach --forget' deletes"),
    ({"parts": 3}, "are damaged"),
    ({"sample_rate_hz": 0}, "are impossible"),
])
def test_what_is_broken_is_said_with_its_mending(tmp_path: Path, change: dict[str, object], words: str) -> None:
    path = tmp_path / "a.taught.json"
    save_notebook(notebook(), path)
    path.write_text(json.dumps({**json.loads(path.read_text()), **change}))
    with pytest.raises(ConfigError, match=words):
        load_notebook(path)


@pytest.mark.parametrize("text", ["", "[1, 2]", "{", "\x00\xff"])
def test_a_file_that_is_none_of_ours_is_refused(tmp_path: Path, text: str) -> None:
    path = tmp_path / "a.taught.json"
    path.write_text(text)
    with pytest.raises(ConfigError, match=r"templates .*: 'hushweir teach --forget'"):
        load_notebook(path)


def test_a_folder_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match=r"cannot be written .No such file"):
        save_notebook(notebook(), tmp_path / "none" / "a.taught.json")
