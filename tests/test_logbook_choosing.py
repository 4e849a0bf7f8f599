from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tuner.errors import ConfigError, LogbookError
from tuner.logbook.choosing import choose
from tuner.logbook.store import Logbook, Opening
from tuner.terms import Diagnosis, Levels, Moment, Reading, Step

BANDS_HZ = (100.0, 125.893)
STEP = Step("siphon valve", -0.125, "turn", 20.0, "it gulps air", "the slurp stops")


class Days:
    """A logbook with one session a day; the clock stands still within a session, which is then written at once."""

    def __init__(self, path: Path) -> None:
        self.now = datetime(2026, 3, 1, 18, tzinfo=UTC)
        self.logbook = Logbook(path, clock=lambda: self.now)

    def session(
        self, seconds: int = 60, *, verb: str = "listen", silent: bool = False, moves: tuple[float, ...] = (),
        device: str = "a microphone", rig: str = "Kelpie", tags: tuple[str, ...] = (),
    ) -> int:
        start = self.now
        opening = Opening(verb, device, 48_000, rig_name=rig, rig_text=f'name = "{rig}"\n', tags=tags)
        with self.logbook.begin(opening) as entry:
            for s in range(seconds):
                entry.moment(Moment(float(s), s + 1.0, 40.0, BANDS_HZ, (30.0, 30.0), {}, 0.0))
            levels = Levels(40.0, 42.0, 39.0, 37.0, 47.0, BANDS_HZ, (30.0, 30.0))
            reading = Reading(float(seconds), float(seconds), levels, (), (), None, 0.0)
            entry.diagnosis(Diagnosis(silent, (), (), reading), float(seconds))
            for at_s in moves:
                entry.done(entry.advised(STEP, at_s), STEP.amount, at_s)
            entry.close("silent" if silent else "not silent")
        self.now = start + timedelta(days=1)
        return entry.id


@pytest.fixture
def days(tmp_path: Path) -> Days:
    return Days(tmp_path / "logbook.sqlite")


def test_the_last_silent_time_stands_against_the_latest(days: Days) -> None:
    days.session()
    silent = days.session(silent=True)
    days.session(silent=True, device="another one")
    moved = days.session(verb="tune", moves=(30.0,))
    latest = days.session()
    days.session(5)  # too short to be meant
    chosen = choose(days.logbook, None, None)
    assert [s.part.session.id for s in chosen.before.stretches] == [silent]
    assert [s.part.session.id for s in chosen.after.stretches] == [latest]
    assert [m.session for m in chosen.moves] == [moved]


def test_a_tuning_is_cut_at_its_moves(days: Days) -> None:
    number = days.session(120, verb="tune", moves=(30.0, 60.0))
    chosen = choose(days.logbook, str(number), None)
    (then,), (now,) = chosen.before.stretches, chosen.after.stretches
    assert (then.part.from_s, then.part.to_s) == (0.0, 30.0)
    # The last move at 60 s settles for 20 s.
    assert (now.part.from_s, now.part.to_s) == (80.0, 120.0)
    assert len(chosen.moves) == 2
    assert chosen.before.words == f"session {number}, tune, 01 March 2026, before its first move"


def test_a_session_without_moves_stands_against_the_last_silence_before_it(days: Days) -> None:
    silent, noisy = days.session(silent=True), days.session()
    days.session(silent=True)
    chosen = choose(days.logbook, str(noisy), None)
    assert chosen.before.stretches[0].part.session.id == silent
    assert chosen.after.stretches[0].part.session.id == noisy


def test_tagged_groups_are_gathered(days: Days) -> None:
    old = [days.session(tags=("Old pump",)) for _ in range(3)]
    new = [days.session(tags=("new pump",)) for _ in range(2)]
    chosen = choose(days.logbook, "tag:old pump", "tag:new pump")
    assert [s.part.session.id for s in chosen.before.stretches] == old
    assert [s.part.session.id for s in chosen.after.stretches] == new
    assert chosen.before.words == "tag 'old pump', 3 sessions"


def test_restarts_up_to_each_side_are_found(days: Days) -> None:
    for times in ((40.0, 44.0), (70.0, None)):
        days.logbook.keep_proof(
            "restart", "a microphone", 48_000, {"starts": [{"catches_s": t} for t in times]}, "Kelpie"
        )
        days.session()
    found = choose(days.logbook, "1", "2").restarts
    assert (found.before_s, found.before_failed, found.after_s, found.after_failed) == ((40.0, 44.0), 0, (70.0,), 1)


@pytest.mark.parametrize(("before", "after", "words"), [
    ("1", "1", "session=1 must stand on one side only"),
    ("yesterday", "1", "selection='yesterday' must be a session's number"),
    ("tag:none", "1", "tag='none' must be on a session in .*: there are 'old'"),
    ("silent", "1", "holds no silent session before that: name two sessions"),
])
def test_what_names_nothing_is_explained(days: Days, before: str, after: str, words: str) -> None:
    days.session(tags=("old",))
    with pytest.raises(ConfigError, match=words):
        choose(days.logbook, before, after)


def test_an_unknown_session_and_an_empty_logbook_are_explained(days: Days) -> None:
    with pytest.raises(ConfigError, match="holds no session of 16 s or more"):
        choose(days.logbook, None, None)
    with pytest.raises(LogbookError, match="session=99 must be the number of a session"):
        choose(days.logbook, "99", None)


def test_a_start_and_an_end_of_one_session_do_not_overlap(days: Days) -> None:
    number = days.session(120, verb="tune", moves=(30.0,))
    assert choose(days.logbook, f"{number}:start", f"{number}:end").after.stretches[0].part.from_s == 50.0
    with pytest.raises(ConfigError, match="must stand on one side only"):
        choose(days.logbook, f"{number}:start", f"{number}:whole")
