from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from tuner.errors import ConfigError
from tuner.logbook.history import CHANNEL_LOAD, Trend, trend_of
from tuner.logbook.rows import DatedMove, DatedNote, KeptMove, Note, Wanted
from tuner.logbook.store import Logbook, Opening
from tuner.logbook.trend import Course, Point, Threshold, course_of
from tuner.terms import Diagnosis, Heard, Levels, Moment, Reading

START = datetime(2026, 1, 1, 18, tzinfo=UTC)


def course(values: np.ndarray, threshold: Threshold | None = None, **beside: object) -> Course:
    points = [Point(START + timedelta(days=i), float(v), i) for i, v in enumerate(values)]
    return course_of(
        "level", "dB(A)", points, threshold=threshold, rng=np.random.default_rng(1), **beside,  # type: ignore[arg-type]
    )


def noisy(n: int, seed: int = 1) -> np.ndarray:
    return np.random.default_rng(seed).standard_normal(n) * 0.5


def test_a_step_has_the_moves_and_notes_of_its_days() -> None:
    values = 30.0 + noisy(60)
    values[40:] += 8.0

    def move(day: float) -> DatedMove:
        kept = KeptMove(0.0, "siphon valve", 0.25, "turn", 20.0, "", "", 0.25, 0.0, "")
        return DatedMove(int(day), START + timedelta(days=day), kept)

    def note(day: float) -> DatedNote:
        return DatedNote(int(day), Note(START + timedelta(days=day), f"day {day:g}"))

    found = course(values, moves=(move(20.0), move(39.5)), notes=(note(38.0), note(50.0)))
    (change,) = found.changes
    assert change.kind == "step"
    assert (change.earliest, change.latest) == (START + timedelta(days=39), START + timedelta(days=40))
    assert change.after - change.before == pytest.approx(8.0, abs=1.0)
    assert [m.made for m in change.moves] == [START + timedelta(days=39.5)]
    assert [n.note.text for n in change.notes] == ["day 38"]


def test_fouling_is_a_drift_with_a_day_at_which_it_will_be_heard() -> None:
    # 0.05 dB a day from 30: 36 is reached after 120 days, 61 after the last value.
    found = course(30.0 + 0.05 * np.arange(60) + noisy(60), Threshold(36.0, "it will be heard"))
    assert found.changes == ()
    assert found.drift is not None
    assert found.drift.sure
    assert found.drift.per_month == pytest.approx(0.05 * 30.44, rel=0.2)
    noticed = found.drift.noticed
    assert noticed is not None
    assert noticed.latest is not None
    assert noticed.earliest <= START + timedelta(days=120) <= noticed.latest
    assert noticed.earliest < noticed.likely < noticed.latest


def test_without_a_sure_drift_no_day_is_named() -> None:
    found = course(30.0 + noisy(60, seed=3), Threshold(36.0, "it will be heard"))
    assert found.drift is not None
    assert not found.drift.sure
    assert found.drift.noticed is None


def test_a_drift_away_from_the_threshold_names_no_day() -> None:
    found = course(30.0 - 0.05 * np.arange(60) + noisy(60), Threshold(36.0, "it will be heard"))
    assert found.drift is not None
    assert found.drift.sure
    assert found.drift.noticed is None


def test_three_weeks_are_too_short_for_a_drift() -> None:
    assert course(30.0 + np.arange(15.0)).drift is None


def logbook_of_days(path: Path, days: int = 40, device_from: int = 0) -> Logbook:
    now = START
    logbook = Logbook(path, clock=lambda: now)
    rng = np.random.default_rng(2)
    for day in range(days):
        now = START + timedelta(days=day)
        level = 30.0 + 0.04 * day + 0.3 * rng.standard_normal()
        device = "an old microphone" if day < device_from else "a microphone"
        with logbook.begin(Opening("listen", device, 48_000, True, "Kelpie", 'name = "Kelpie"\n')) as entry:
            for s in range(16):
                entry.moment(Moment(float(s), s + 1.0, level, (100.0,), (20.0,), {}, 0.0))
            levels = Levels(level, level, level, level, level, (100.0,), (20.0,), True)
            heard = (Heard("slurp", 0.2, 0.2, 3.0, 20.0 - 0.1 * day, 3),)
            features = {CHANNEL_LOAD: 0.06 - 0.0005 * day}
            entry.diagnosis(
                Diagnosis(False, (), (), Reading(16.0, 16.0, levels, (), heard, level - 29.5, 0.0, features=features)),
                16.0,
            )
        logbook.keep_proof("restart", device, 48_000, {"starts": [{"catches_s": 40.0 + day}]}, "Kelpie")
        tones = [{"frequency_hz": 100.0, "level_db": 20.0}, {"frequency_hz": 4000.0, "level_db": 50.0}]
        logbook.keep_proof("confirmation", device, 48_000, {"tones": tones}, "Kelpie")
    return logbook


def trended(logbook: Logbook, wanted: Wanted | None = None) -> Trend:
    return trend_of(logbook, wanted or Wanted(), audible_db=3.0, rng=np.random.default_rng(1))


def test_every_figure_of_a_logbook_has_its_course(tmp_path: Path) -> None:
    found = trended(logbook_of_days(tmp_path / "log.sqlite"))
    courses = {c.name: c for c in found.courses}
    assert set(courses) == {"level", "open channel load", "slurp period", "restart time", "pump tone"}
    assert [len(c.points) for c in found.courses] == [40] * 5
    assert courses["open channel load"].points[0].value == pytest.approx(6.0)
    assert courses["restart time"].points[-1].value == 79.0
    assert {p.value for p in courses["pump tone"].points} == {100.0}
    level = courses["level"].drift
    assert level is not None
    assert level.noticed is not None
    # The room stands at 29.5: 3 dB over it is 32.5.
    assert level.noticed.threshold == pytest.approx(32.5, abs=0.01)
    load = courses["open channel load"].drift
    assert load is not None
    assert load.noticed is not None
    # 6 % less 0.05 % a day: dry after 120 days.
    assert load.noticed.likely == pytest.approx(START + timedelta(days=120), abs=timedelta(days=1))


def test_levels_of_another_microphone_are_left_out_and_said(tmp_path: Path) -> None:
    found = trended(logbook_of_days(tmp_path / "log.sqlite", device_from=10))
    assert found.left_out == ("10 with another microphone",)
    assert {c.name: len(c.points) for c in found.courses}["level"] == 30
    assert found.sessions == 40


def test_too_few_sessions_are_refused(tmp_path: Path) -> None:
    logbook = logbook_of_days(tmp_path / "log.sqlite", days=2)
    with pytest.raises(ConfigError, match="sessions=2 must be at least 3 for a trend"):
        trended(logbook)
