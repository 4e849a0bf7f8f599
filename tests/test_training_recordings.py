"""Labelled recordings: halves by group, water with what it may be, and refusals."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tuner.errors import ConfigError
from tuner.terms import SOUND_KINDS
from tuner.training.recordings import MAY_BE, load_clips, training_half

ROWS = (
    ("fan.wav", "household", "fan", "fan"), ("dog.wav", "household", "dog", "dog"), ("pour.wav", "water", "pour", "p"),
    ("drip.wav", "water", "drip", "d"), ("rain.wav", "water", "rain", "r"), ("mute.wav", "household", "fan", "m"),
)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    with open(tmp_path / "MANIFEST.csv", "w", newline="") as table:
        writer = csv.writer(table)
        writer.writerow(("file", "family", "kind", "group"))
        writer.writerows(ROWS)
    rng = np.random.default_rng(0)
    for name, *_ in ROWS:
        loud = 0.0 if name == "mute.wav" else 0.1
        soundfile.write(tmp_path / name, loud * rng.standard_normal((44100, 2)), 44100)
    return tmp_path


def test_all_of_a_folder(folder: Path) -> None:
    household, water = load_clips(folder, half=None, sample_rate=48000)
    assert len(household) == 2, "what is mute teaches nothing"
    assert {c.may_be for c in water} == {MAY_BE["pour"], MAY_BE["drip"]}, "rain is no drain"
    assert all(c.samples.shape == (48000,) and c.samples.dtype == np.float32 for c in (*household, *water))


def test_halves_share_no_clip(folder: Path) -> None:
    fitted, scored = (load_clips(folder, half=h, sample_rate=16000) for h in (True, False))
    assert len(fitted[0]) + len(scored[0]) == 2
    assert len(fitted[1]) + len(scored[1]) == 2
    assert len(fitted[0]) == sum(training_half(g) for g in ("fan", "dog"))


def test_long_recordings_are_cut(folder: Path) -> None:
    assert load_clips(folder, half=None, sample_rate=44100, longest_s=0.5)[0][0].samples.size == 22050


def test_kinds_are_ours() -> None:
    assert {k for kinds in MAY_BE.values() for k in kinds} <= set(SOUND_KINDS)


def test_a_folder_without_a_manifest_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match=r"must hold MANIFEST\.csv"):
        load_clips(tmp_path, half=None, sample_rate=48000)
