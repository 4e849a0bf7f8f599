from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.pages import BANDS_HZ, kept, material
from tuner.report.bands import Line, band_pictures, hearing_of, room_of
from tuner.silence.hearing import THRESHOLD_DB


def test_a_line_is_straight_on_a_scale_of_pitch() -> None:
    line = Line(np.array([100.0, 400.0]), np.array([10.0, 30.0]))
    assert line.at(np.array([200.0])) == pytest.approx([20.0])  # halfway, in octaves


def test_the_room_stands_on_the_sessions_own_scale(tmp_path: Path) -> None:
    # The floor is kept at -82 dB re full scale; with the session's 110 dB it is 28 dB, and its bands 12 dB less.
    drawn = material(kept(tmp_path / "logbook.sqlite"), "2").after
    room = room_of(drawn, np.array(BANDS_HZ))
    assert room is not None
    assert room.level_db == pytest.approx(16.0)


def test_relative_levels_have_no_threshold_of_hearing(tmp_path: Path) -> None:
    hz = np.array(BANDS_HZ)
    relative = material(kept(tmp_path / "relative.sqlite", calibrated=False), "2")
    assert hearing_of(relative.after, hz, THRESHOLD_DB) is None
    together, _ = band_pictures(relative, THRESHOLD_DB)
    assert "no threshold of hearing can be drawn" in together.caption
    absolute = material(kept(tmp_path / "absolute.sqlite"), "2")
    line = hearing_of(absolute.after, hz, THRESHOLD_DB)
    assert line is not None
    # ISO 389-7:2005, table 1, free field: 2.4 dB at 1 kHz.
    assert line.at(np.array([1000.0])) == pytest.approx([2.4])


def test_the_words_say_what_the_bars_show(tmp_path: Path) -> None:
    found = material(kept(tmp_path / "logbook.sqlite"), "2")
    together, change = band_pictures(found, THRESHOLD_DB)
    assert f"over {len(BANDS_HZ)} third-octaves" in together.alternative
    loudest = max(found.comparison.bands, key=lambda b: b.after_db)  # type: ignore[union-attr]
    assert f"with {loudest.after_db:.1f} dB" in together.alternative
    assert f"{len(BANDS_HZ)} became quieter and 0 louder" in change.alternative


def test_sides_without_a_common_scale_have_a_picture_each(tmp_path: Path) -> None:
    found = material(kept(tmp_path / "logbook.sqlite"), "1", "3")
    assert [p.side for p in band_pictures(found, THRESHOLD_DB)] == ["before", "after"]
