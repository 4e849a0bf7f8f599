"""Gathering: what of a package is kept, as water or as confuser, and what is said without Debian's tools."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tuner.training import gather
from tuner.training.recordings import MAY_BE, load_clips


def sound(path: Path, seconds: float) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    soundfile.write(path, 0.1 * np.random.default_rng(0).standard_normal(round(16000 * seconds)), 16000)


@pytest.fixture
def package(tmp_path: Path) -> Path:
    unpacked = tmp_path / "unpacked"
    for name, seconds in (
        ("sounds/splash.wav", 1.5), ("sounds/waterfall.wav", 2.0), ("sounds/rain.wav", 3.0), ("sounds/door.wav", 1.2),
        ("sounds/door2.wav", 1.2), ("sounds/click.wav", 0.3), ("music/theme.wav", 4.0),
    ):
        sound(unpacked / name, seconds)
    (unpacked / "sounds/broken.wav").write_bytes(b"no sound")
    return unpacked


def test_water_is_named_and_the_rest_is_household(package: Path, tmp_path: Path) -> None:
    kept = tmp_path / "kept"
    kept.mkdir()
    rows = gather.kept_of("supertux-data", package, kept)
    assert {(family, kind) for _, family, kind, _ in rows} == {
        ("water", "splash"), ("water", "waterfall"), ("household", "sounds")
    }
    assert {r[3] for r in rows if r[1] == "household"} == {"supertux-data/door"}, "takes of one sound share a group"
    assert sorted(p.name for p in kept.iterdir()) == sorted(r[0] for r in rows)


def test_only_so_many_confusers_of_a_package(tmp_path: Path) -> None:
    for i in range(gather.MOST_OF_EACH + 9):
        sound(tmp_path / "unpacked" / f"knock_{i:03d}_a.wav", 1.0)
    kept = tmp_path / "kept"
    kept.mkdir()
    assert len(gather.kept_of("krank", tmp_path / "unpacked", kept)) == gather.MOST_OF_EACH


def test_the_folder_is_one_that_the_training_reads(
    package: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(gather, "WATER", {"supertux-data": gather.WATER["supertux-data"]})
    monkeypatch.setattr(gather, "HOUSEHOLD", ("supertux-data",))
    monkeypatch.setattr(gather, "WHEELS", {})
    monkeypatch.setattr(gather, "fetched", lambda *_: package)
    monkeypatch.setattr(shutil, "which", str)
    assert gather.gather(tmp_path / "kept") == 4
    household, water = load_clips(tmp_path / "kept", half=None, sample_rate=16000)
    assert (len(household), len(water)) == (2, 2)


def test_every_kind_of_water_is_known() -> None:
    assert {kind for kinds in gather.WATER.values() for kind in kinds} <= set(MAY_BE)


def test_without_the_tools_it_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(shutil, "which", lambda _: None)
    assert gather.main([str(tmp_path)]) == 2
    assert "apt-get must be there" in capsys.readouterr().err
