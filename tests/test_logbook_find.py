from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tuner.errors import ConfigError, LogbookError
from tuner.logbook.rows import Wanted
from tuner.logbook.store import Logbook, Opening
from tuner.terms import Step

FIRST = datetime(2026, 3, 1, 18, tzinfo=UTC)
STEP = Step("siphon valve", 0.125, "turn", 20.0, "it gurgles", "the gurgle fades")


@pytest.fixture
def logbook(tmp_path: Path) -> Logbook:
    """Five daily sessions, numbered 1 to 5, by turns of two microphones; the fourth moved a valve."""
    now = [FIRST]
    logbook = Logbook(tmp_path / "log.sqlite", clock=lambda: now[0])
    for day in range(5):
        now[0] = FIRST + timedelta(days=day)
        with logbook.begin(Opening(
            "tune" if day == 3 else "listen", ("one", "two")[day % 2], 48_000, rig_name="Kelpie", rig_text="a",
            place="sofa" if day else "", gain="60 %", offset_db=110.0, note=f"day {day}",
            tags=("before",) if day < 2 else ("after", "new pump"),
        )) as entry:
            if day == 3:
                entry.done(entry.advised(STEP, 10.0), 0.25, 12.0)
                entry.done(entry.advised(STEP, 20.0), 0.0, 22.0)
    return logbook


@pytest.mark.parametrize(("wanted", "numbers"), [
    (Wanted(), [5, 4, 3, 2, 1]),
    (Wanted(since=FIRST + timedelta(days=1), until=FIRST + timedelta(days=3)), [3, 2]),
    (Wanted(tag="before"), [2, 1]),
    (Wanted(tag="after", device="one"), [5, 3]),
    (Wanted(verb="tune"), [4]),
    (Wanted(place="sofa", until=FIRST + timedelta(days=2)), [2]),
    (Wanted(rig_name="another"), []),
    (Wanted(tag="' OR 1=1 --"), []),
])
def test_sessions_are_found_by_what_they_were(logbook: Logbook, wanted: Wanted, numbers: list[int]) -> None:
    assert [s.id for s in logbook.sessions(wanted=wanted)] == numbers


def test_a_session_knows_its_place_gain_and_tags(logbook: Logbook) -> None:
    session = logbook.session(3)
    assert (session.place, session.gain, session.offset_db, session.tags) == (
        "sofa", "60 %", 110.0, ("after", "new pump")
    )
    assert len(session.uid) == 32


def test_moves_that_were_done_and_notes_come_with_their_time(logbook: Logbook) -> None:
    (move,) = logbook.dated_moves(Wanted(since=FIRST))
    assert (move.session, move.made, move.move.done) == (4, FIRST + timedelta(days=3, seconds=10), 0.25)
    notes = logbook.dated_notes(Wanted(tag="before"))
    assert [(n.session, n.note.text) for n in notes] == [(1, "day 0"), (2, "day 1")]


def test_tags_are_put_on_and_taken_off(logbook: Logbook) -> None:
    assert logbook.tag(1, [" quiet ", "before", "quiet"]) == ("quiet",)
    assert logbook.session(1).tags == ("before", "quiet")
    assert logbook.untag(1, ["before", "never had"]) == ("before",)
    assert logbook.tags() == (("after", 3), ("before", 1), ("new pump", 3), ("quiet", 1))


@pytest.mark.parametrize("tag", ["", "   ", "x" * 41, "two\nlines", "\x1b[31mred"])
def test_a_tag_that_cannot_be_shown_is_refused(logbook: Logbook, tag: str) -> None:
    with pytest.raises(ConfigError, match="printable characters"):
        logbook.tag(1, ["good", tag])
    assert logbook.session(1).tags == ("before",)


def test_notes_are_added_later(logbook: Logbook) -> None:
    logbook.note(2, "the neighbours were\nout")
    assert [n.text for n in logbook.notes(2)] == ["day 1", "the neighbours were\nout"]
    with pytest.raises(ConfigError, match="say it in a sentence or two"):
        logbook.note(2, "  ")
    with pytest.raises(LogbookError, match="session=9 must be the number"):
        logbook.note(9, "words")
