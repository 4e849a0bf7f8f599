from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from tuner.logbook.store import Logbook, Opening
from tuner.terms import SOUND_KINDS, Moment


def clock() -> datetime:
    return datetime(2026, 3, 1, tzinfo=UTC)


def heard(logbook: Logbook, levels_db: list[float], outside: float = 0.0, gurgle: float = 0.0) -> int:
    with logbook.begin(Opening("listen", "a microphone", 48_000)) as entry:
        for i, level in enumerate(levels_db):
            bands_db = (level, -np.inf)
            entry.moment(Moment(float(i), i + 1.0, level, (100.0, 200.0), bands_db, {"gurgle": gurgle}, outside))
    return entry.id


def test_seconds_agree_with_the_readings_row_by_row(tmp_path: Path) -> None:
    with Logbook(tmp_path / "log.sqlite", clock=clock) as logbook:
        number = heard(logbook, [40.0, 41.5, -np.inf, 30.25], outside=0.25, gurgle=0.5)
        arrays, kept = logbook.seconds(number), logbook.readings(number)
        assert arrays.second.tolist() == [r.second for r in kept]
        assert arrays.bands_db.tolist() == [list(r.bands_db) for r in kept]
        assert arrays.bands_hz.tolist() == [100.0, 200.0]
        assert arrays.kinds == SOUND_KINDS
        assert arrays.heard[:, SOUND_KINDS.index("gurgle")].tolist() == [0.5] * 4
        assert arrays.outside.tolist() == [0.25] * 4
        assert np.isnan(arrays.level_db[2])
        assert arrays.clean.all()


def test_a_session_without_seconds_has_empty_arrays(tmp_path: Path) -> None:
    with Logbook(tmp_path / "log.sqlite", clock=clock) as logbook:
        arrays = logbook.seconds(heard(logbook, []))
        assert arrays.bands_db.shape == (0, 0)
        assert arrays.clean.shape == (0,)
        assert logbook.seconds(99).second.size == 0


def test_a_second_is_masked_when_outside_sound_is_likely_and_likelier_than_the_plumbing(tmp_path: Path) -> None:
    with Logbook(tmp_path / "log.sqlite", clock=clock) as logbook:
        assert not logbook.seconds(heard(logbook, [40.0], outside=0.7, gurgle=0.3)).clean.any()
        assert logbook.seconds(heard(logbook, [40.0], outside=0.7, gurgle=0.8)).clean.all()
        assert logbook.seconds(heard(logbook, [40.0], outside=0.5)).clean.all()
