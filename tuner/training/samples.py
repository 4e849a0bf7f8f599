"""Render ``sample_audio/``: one short clip of each sound kind and one of a quiet system, from the rehearsal rig.

``python -m tuner.training.samples FOLDER`` writes FLAC files and ``labels.csv``. Each clip comes from the first drawn
installation, counted from a fixed seed, whose plant drives that kind and no other voice for most of the clip.
"""

from __future__ import annotations

import csv
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from tuner.rehearsal.cases import draw_case
from tuner.rehearsal.drives import SPOTS
from tuner.rehearsal.rehearsal import Rehearsal
from tuner.terms import CauseName, Samples, SoundKind

SAMPLE_RATE = 32_000
SECONDS = 14.0
FIRST_SEED = 300
_OTHER_FIRST_SEED = {"quiet": 301}  # seed 300 draws a room whose fridge hums louder than all else
PEAK = 0.5
CLIPS: tuple[tuple[str, SoundKind | None, CauseName | None], ...] = (
    ("gurgle", "gurgle", "siphon over-closed"), ("slurp", "slurp", "siphon over-open"),
    ("trickle", "trickle", "vent too wide"), ("splash", "splash", "outlet above water"),
    ("hiss", "hiss", "vent too closed"), ("flush", "flush", "vent too closed"),
    ("roar", "roar", "emergency carrying flow"), ("hum", "hum", "pump hum"), ("rattle", "rattle", "pump hum"),
    ("quiet", None, None),
)
_BESIDE: dict[str, frozenset[SoundKind]] = {"roar": frozenset({"gurgle", "hiss"})}
"""What may sound beside a kind: an emergency that runs comes with an open channel that carries too much."""
_LEAST_SHARE: dict[str, float] = {"slurp": 0.1, "flush": 0.1}
_DRIVEN = 0.15  # drive from which a voice counts as sounding


@dataclass(frozen=True, slots=True)
class Clip:
    """A rendered clip with its truth: name, kind, cause, seed and samples."""

    name: str
    kind: SoundKind | None
    cause: CauseName | None
    seed: int
    samples: Samples


def make_clip(name: str, kind: SoundKind | None, cause: CauseName | None, first_seed: int = FIRST_SEED) -> Clip:
    """Return the first clip from ``first_seed`` on that holds ``kind`` and nothing else of the plumbing, or nearly."""
    for seed in range(first_seed, first_seed + 400):
        rehearsal = draw_case(cause, seed, sample_rate=SAMPLE_RATE)
        samples = rehearsal.listen(SECONDS)
        wanted = frozenset({kind}) if kind else frozenset()
        if _kinds(rehearsal, _LEAST_SHARE.get(name, 0.9)) - _BESIDE.get(name, frozenset()) == wanted:
            gain = PEAK / float(np.abs(samples).max())
            return Clip(name, kind, cause, seed, samples * np.float32(gain))
    raise RuntimeError(f"no clip of {name} within 400 draws")


def _kinds(rehearsal: Rehearsal, least_share: float) -> frozenset[SoundKind]:
    """Return the kinds driven during at least ``least_share`` of the last stretch."""
    kinds: set[SoundKind] = set()
    for spot, drive in rehearsal.drives.items():
        if float((drive > _DRIVEN).mean()) >= least_share:
            kinds.add(SPOTS[spot])
    return frozenset(kinds)


def main(argv: list[str] | None = None) -> int:
    """Write all clips and their labels into the folder named on the command line."""
    import soundfile

    folder = Path((argv or sys.argv[1:])[0])
    folder.mkdir(parents=True, exist_ok=True)
    with open(folder / "labels.csv", "w", newline="", encoding="utf-8") as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(["file", "kind", "cause", "seed", "duration_s", "sample_rate_hz"])
        for name, kind, cause in CLIPS:
            clip = make_clip(name, kind, cause, _OTHER_FIRST_SEED.get(name, FIRST_SEED))
            soundfile.write(folder / f"{name}.flac", clip.samples, SAMPLE_RATE, subtype="PCM_16")
            table.writerow([f"{name}.flac", kind or "", cause or "", clip.seed, f"{SECONDS:g}", SAMPLE_RATE])
            sys.stdout.write(f"{name}.flac: seed {clip.seed}\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
