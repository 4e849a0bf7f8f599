"""The sample recordings are what their labels say, and the program hears it."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

import tuner
from tuner.capture.recording import load_recording
from tuner.places import shared_dir
from tuner.terms import SOUND_KINDS

FOLDER = shared_dir("sample_audio")
with open(FOLDER / "labels.csv", newline="", encoding="utf-8") as _table:
    LABELS = list(csv.DictReader(_table))


def test_every_kind_and_a_quiet_system_are_there() -> None:
    assert sorted(row["kind"] for row in LABELS) == sorted((*SOUND_KINDS, ""))
    assert {row["file"] for row in LABELS} == {p.name for p in Path(FOLDER).glob("*.flac")}
    assert "rehearsal rig" in (FOLDER / "README.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("row", LABELS, ids=lambda row: row["file"])
def test_the_program_hears_what_the_label_says(row: dict[str, str]) -> None:
    samples, sample_rate = load_recording(FOLDER / row["file"])
    assert sample_rate == int(row["sample_rate_hz"])
    assert samples.size / sample_rate == pytest.approx(float(row["duration_s"]))
    d = tuner.diagnose(samples, sample_rate)
    if not row["kind"]:
        assert d.silent
        return
    assert not d.silent
    heard = max(d.reading.heard, key=lambda h: max(h.share, h.probability))
    assert heard.kind == row["kind"]
