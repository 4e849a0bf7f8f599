from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tuner.errors import LogbookError
from tuner.logbook.store import Logbook, Opening
from tuner.terms import Cause, Diagnosis, Floor, Levels, Moment, Question, Reading, Sound, Step

START = datetime(2026, 3, 1, 18, 30, tzinfo=UTC)
BANDS_HZ = (100.0, 125.893, 158.489)


class Clock:
    """A clock that goes on by ``step_s`` at every look."""

    def __init__(self, step_s: float = 0.0) -> None:
        self.now = START
        self.step = timedelta(seconds=step_s)

    def __call__(self) -> datetime:
        self.now += self.step
        return self.now


def levels(laeq_db: float = 40.0) -> Levels:
    return Levels(laeq_db, 42.0, 39.0, 37.0, 47.0, BANDS_HZ, (20.0, 21.0, 22.0))


def moment(start_s: float, level_db: float = 40.0, gurgle: float = 0.0, outside: float = 0.0) -> Moment:
    return Moment(start_s, start_s + 0.5, level_db, BANDS_HZ, (level_db - 3.0,) * 3, {"gurgle": gurgle}, outside, 7, 1)


def diagnosis(silent: bool = False, laeq_db: float = 40.0) -> Diagnosis:
    reading = Reading(20.0, 19.0, levels(laeq_db), (), (), 6.0, 0.05)
    causes = () if silent else (
        Cause("siphon over-closed", 0.8, ("trains of large bubbles", "it came after closing the valve")),
        Cause("unknown", 0.1, ()),
    )
    return Diagnosis(silent, (), causes, reading)


OPENING = Opening("tune", "a microphone", 48_000, rig_name="Kelpie", rig_text='name = "Kelpie"\n')
STEP = Step("siphon valve", 0.125, "turn", 20.0, "the open channel carries too much", "the gurgle fades")


@pytest.fixture
def logbook(tmp_path: Path) -> Logbook:
    return Logbook(tmp_path / "logbook.sqlite", clock=Clock())


def test_a_session_comes_back_whole(logbook: Logbook) -> None:
    with logbook.begin(OPENING) as entry:
        entry.moment(moment(0.0))
        entry.moment(moment(0.5))
        entry.sound(Sound("gurgle", 0.2, 0.9, 44.5, 0.9))
        entry.diagnosis(diagnosis(), 20.0)
        move = entry.advised(STEP, 20.0)
        entry.looked(Question("box", "How high is the water?", ("low", "high")), None, 21.0)
        entry.done(move, 0.25, 25.0)
        entry.seen(move, "quieter by 3.1 dB")
        entry.gap(26.0, 2.5, "the microphone vanished")
        entry.note("after the new pump")
        entry.diagnosis(diagnosis(silent=True, laeq_db=31.0), 60.0)
        entry.close("silent and parked")
    number = entry.id
    session = logbook.session(number)
    assert (session.verb, session.rig_name, session.device) == ("tune", "Kelpie", "a microphone")
    assert (session.started, session.ended) == (START, START)
    assert (session.seconds, session.sounds, session.moves, session.gaps) == (1, 1, 1, 1)
    assert (session.last_silent, session.last_laeq_db, session.last_cause) == (True, 31.0, "")
    assert session.outcome == "silent and parked"
    assert logbook.sounds(number)[0].end_s == 0.9
    first, last = logbook.diagnoses(number)
    assert [c.name for c in first.causes] == ["siphon over-closed", "unknown"]
    assert first.causes[0].because == ("trains of large bubbles", "it came after closing the valve")
    assert first.levels == levels()
    assert last.silent
    (kept,) = logbook.moves(number)
    assert (kept.amount, kept.done, kept.done_s, kept.seen) == (0.125, 0.25, 25.0, "quieter by 3.1 dB")
    assert (kept.why, kept.expected) == (STEP.why, STEP.expect)
    assert logbook.looks(number)[0].answer is None
    assert logbook.gaps(number)[0].note == "the microphone vanished"
    assert [n.text for n in logbook.notes(number)] == ["after the new pump"]
    assert logbook.rig_text(number) == OPENING.rig_text
    assert logbook.bands_hz(number) == BANDS_HZ


def test_a_second_is_the_energy_mean_of_its_steps(logbook: Logbook) -> None:
    with logbook.begin(OPENING) as entry:
        entry.moment(moment(3.0, 40.0, gurgle=0.25, outside=0.5))
        entry.moment(moment(3.5, 50.0, gurgle=0.75))
    (reading,) = logbook.readings(entry.id)
    # 10 lg((10^4 + 10^5) / 2) = 47.404 dB, by hand.
    assert reading.level_db == pytest.approx(47.404, abs=1e-3)
    assert reading.bands_db == pytest.approx((44.40, 44.40, 44.40))
    assert reading.heard == {"gurgle": 0.75}
    assert (reading.second, reading.outside, reading.dropped, reading.clipped) == (3, 0.5, 14, 2)


def test_half_a_second_at_the_end_is_kept(logbook: Logbook) -> None:
    with logbook.begin(OPENING) as entry:
        for i in range(5):
            entry.moment(moment(i / 2))
    assert [r.second for r in logbook.readings(entry.id)] == [0, 1, 2]


def test_a_second_without_sound_is_kept_without_a_level(logbook: Logbook) -> None:
    with logbook.begin(OPENING) as entry:
        entry.moment(moment(0.0, float("-inf")))
        entry.moment(moment(0.5, float("-inf")))
    (reading,) = logbook.readings(entry.id)
    assert reading.level_db is None
    assert reading.bands_db == (float("-inf"),) * 3


def test_the_newest_session_is_listed_first(tmp_path: Path) -> None:
    logbook = Logbook(tmp_path / "logbook.sqlite", clock=Clock(step_s=1.0))
    for _ in range(3):
        logbook.begin(OPENING).close()
    assert [s.id for s in logbook.sessions()] == [3, 2, 1]
    assert [s.id for s in logbook.sessions(newest=2)] == [3, 2]


def test_a_number_is_given_once(logbook: Logbook) -> None:
    for _ in range(3):
        logbook.begin(OPENING).close()
    logbook.delete(3)
    logbook.delete(2)
    assert logbook.begin(OPENING).id == 4
    logbook.delete(4)
    logbook.delete(1)
    assert logbook.begin(OPENING).id == 5


def test_a_rig_is_kept_once(logbook: Logbook) -> None:
    for _ in range(3):
        logbook.begin(OPENING).close()
    assert [logbook.rig_text(n) for n in (1, 2, 3)] == [OPENING.rig_text] * 3
    assert len({s.rig_name for s in logbook.sessions()}) == 1


def test_a_session_without_a_rig_has_none(logbook: Logbook) -> None:
    entry = logbook.begin(Opening("listen", "a file", 44_100, note="before the new pump"))
    entry.close()
    assert logbook.session(entry.id).rig_name == ""
    assert logbook.rig_text(entry.id) == ""
    assert [n.text for n in logbook.notes(entry.id)] == ["before the new pump"]


def test_an_unknown_session_is_refused(logbook: Logbook) -> None:
    with pytest.raises(LogbookError, match="session=99 must be the number of a session"):
        logbook.session(99)


def test_an_interrupted_session_says_so(logbook: Logbook) -> None:
    entry = logbook.begin(OPENING)
    entry.moment(moment(0.0))
    entry.__exit__(KeyboardInterrupt, KeyboardInterrupt(), None)
    session = logbook.session(entry.id)
    assert session.outcome == "stopped"
    assert session.ended is not None
    assert session.seconds == 1


def test_the_newest_floor_of_a_device_is_found(logbook: Logbook) -> None:
    logbook.keep_floor(Floor(levels(30.0), 20.0, 19.0), "a microphone", 48_000)
    second = logbook.keep_floor(Floor(levels(28.0), 20.0, 18.0), "a microphone", 48_000)
    logbook.keep_floor(Floor(levels(10.0), 20.0, 20.0), "another", 48_000)
    found = logbook.latest_floor("a microphone", 48_000)
    assert found == (second, Floor(levels(28.0), 20.0, 18.0), START)
    assert logbook.latest_floor("a microphone", 44_100) is None


def test_hostile_words_are_kept_as_words(logbook: Logbook) -> None:
    words = "'; DROP TABLE sessions; --\n<b>\x00\\ \"../../x\" é 水"
    with logbook.begin(Opening("listen", words, 48_000, rig_name=words, rig_text=words, note=words)) as entry:
        entry.note(words)
    assert logbook.session(entry.id).device == words
    assert [n.text for n in logbook.notes(entry.id)] == [words, words]


def test_an_hour_of_listening_stays_under_a_megabyte(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    centres = tuple(100.0 * 10 ** (i / 10) for i in range(31))
    with Logbook(path, clock=Clock()) as logbook, logbook.begin(OPENING) as entry:
        for i in range(3600):
            entry.moment(Moment(float(i), i + 1.0, 40.123, centres, (30.456,) * 31, {"gurgle": 0.5}, 0.0))
    assert path.stat().st_size < 1_000_000
