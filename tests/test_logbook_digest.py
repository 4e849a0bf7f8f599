from __future__ import annotations

import math
import sqlite3
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.test_logbook_seconds import heard
from tuner.logbook.digest import make_digest
from tuner.logbook.store import Logbook, Opening
from tuner.terms import Diagnosis, Heard, Levels, Reading, Sound

LEVELS = Levels(40.0, 42.0, 39.0, 37.0, 47.0, (100.0,), (20.0,))


def clock() -> datetime:
    return datetime(2026, 3, 1, tzinfo=UTC)


def test_a_session_is_summed_up_over_its_clean_seconds(tmp_path: Path) -> None:
    with Logbook(tmp_path / "log.sqlite", clock=clock) as logbook:
        digest = logbook.digest(heard(logbook, [40.0, 50.0], gurgle=0.25))
        # 10 lg((10^4 + 10^5) / 2) = 47.404 dB, by hand.
        assert digest.laeq_db == pytest.approx(47.404, abs=1e-3)
        assert digest.bands_db == (pytest.approx(47.404, abs=1e-3), None)
        assert (digest.seconds, digest.heard_s, digest.clean_s, digest.la50_db) == (2, 2, 2, 45.0)
        assert digest.kinds["gurgle"].probability == 0.25
        masked = logbook.digest(heard(logbook, [40.0, 50.0], outside=0.9))
        assert (masked.heard_s, masked.clean_s, masked.laeq_db, masked.bands_db) == (2, 0, None, (None, None))


def test_sounds_windows_and_periods_are_summed_up_by_kind(tmp_path: Path) -> None:
    with Logbook(tmp_path / "log.sqlite", clock=clock) as logbook:
        with logbook.begin(Opening("listen", "a microphone", 48_000)) as entry:
            for start_s in (1.0, 9.0):
                entry.sound(Sound("slurp", start_s, start_s + 1.5, 44.0, 0.9))
            for period_s, silent in ((8.0, False), (10.0, False), (None, True)):
                slurp = (Heard("slurp", 0.2, 0.3, 6.0, period_s, 1),)
                reading = Reading(
                    30.0, 29.0, LEVELS, (), slurp, period_s, 0.0, features={"tilt": period_s or 3.0, "no": math.nan}
                )
                entry.diagnosis(Diagnosis(silent, (), (), reading), 30.0)
        digest = logbook.digest(entry.id)
        slurp_digest = digest.kinds["slurp"]
        assert (slurp_digest.count, slurp_digest.sounding_s, slurp_digest.period_s) == (2, 3.0, 9.0)
        assert slurp_digest.level_db == pytest.approx(44.0)
        assert (digest.windows, digest.silent_windows, digest.excess_db) == (3, 1, 9.0)
        assert digest.features == {"tilt": 8.0}
        assert logbook.diagnoses(entry.id)[0].heard == (Heard("slurp", 0.2, 0.3, 6.0, 8.0, 1),)


def test_what_is_kept_equals_what_would_be_made_anew(tmp_path: Path) -> None:
    path = tmp_path / "log.sqlite"
    with Logbook(path, clock=clock) as logbook:
        number = heard(logbook, [40.0, 41.0, 45.5], gurgle=0.3)
        kept = logbook.digest(number)
    plain = sqlite3.connect(path)
    assert make_digest(plain, number) == kept
    plain.close()


def test_a_session_that_was_cut_off_gets_its_digest_at_the_next_opening(tmp_path: Path) -> None:
    path = tmp_path / "log.sqlite"
    with Logbook(path, clock=clock) as logbook:
        number = heard(logbook, [40.0, 41.0])
    plain = sqlite3.connect(path)
    plain.execute("INSERT INTO readings SELECT session_id, 2, 60.0, bands, heard, outside, 0, 0 FROM readings LIMIT 1")
    plain.commit()
    assert plain.execute("SELECT seconds FROM digests").fetchall() == [(2,)]
    with Logbook(path, clock=clock, look_only=True) as logbook:
        assert logbook.digest(number).seconds == 3
    Logbook(path, clock=clock).close()
    assert plain.execute("SELECT seconds FROM digests").fetchall() == [(3,)]
    plain.close()
