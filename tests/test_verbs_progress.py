"""The loops behind ``confirm`` and ``restart``: what they tell a screen, and how they are left."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from tuner.logbook.store import Logbook, Opening
from tuner.rehearsal.cases import draw_case
from tuner.screens.confirmpage import ConfirmShot
from tuner.screens.restartpage import RestartShot
from tuner.screens.snapshot import Snapshot
from tuner.signatures.ears import LOOK_S
from tuner.signatures.listener import measure_floor
from tuner.signatures.model import AHEAD
from tuner.silence.confirmation import Confirmation
from tuner.sound.quick import QuickLevel
from tuner.terms import Block
from tuner.verbs import restarting
from tuner.verbs.confirming import COVERED, LOST, Confirming, ScreenTeller
from tuner.verbs.ears import RehearsalEars
from tuner.verbs.instruments import Instruments
from tuner.verbs.opening import RELATIVE, Room
from tuner.verbs.restarting import Place, Restarting

RATE = 16_000
FACE = Snapshot("confirm", "a tape", "listening", 0.0, False)


@pytest.fixture
def logbook(tmp_path: Path) -> Iterator[Logbook]:
    with Logbook(tmp_path / "log.sqlite", clock=lambda: datetime(2026, 3, 1, tzinfo=UTC)) as book:
        yield book


def noise(seconds: float, lost_at: int | None = None) -> Iterator[Block]:
    """Blocks of quiet noise; before block number ``lost_at`` half a second is lost."""
    rng, at = np.random.default_rng(1), 0
    for number in range(round(10 * seconds)):
        dropped = RATE // 2 if number == lost_at else 0
        at += dropped
        samples = (1e-3 * rng.standard_normal(RATE // 10)).astype(np.float32)
        yield Block(samples, RATE, at, dropped=dropped, note="500 ms lost" if dropped else "")
        at += samples.size


class Film(list[ConfirmShot]):
    """A screen that keeps every state."""

    def show(self, state: ConfirmShot) -> None:
        self.append(state)


def confirmed(logbook: Logbook, blocks: Iterator[Block], film: Film, *, leave_at: int | None = None) -> Confirmation:
    confirmation = Confirmation(RATE, None, None)
    teller = ScreenTeller(Instruments(FACE, QuickLevel(RATE)), 60.0, confirmation.limits, film)
    with logbook.begin(Opening("confirm", "a tape", RATE)) as entry:
        loop = Confirming(confirmation, entry, None, teller)
        loop.note("the cat slept")

        def counted() -> Iterator[Block]:
            for number, block in enumerate(blocks):
                if number == leave_at:
                    loop.leave()
                yield block

        loop.hear(counted())
        teller.ended(confirmation.verdict())
    return confirmation


def test_a_confirmation_shows_its_level_at_once_and_its_verdict_so_far_every_five_seconds(logbook: Logbook) -> None:
    film = Film()
    confirmed(logbook, noise(12.0, lost_at=80), film)
    assert [state.shot.elapsed_s for state in film[:3]] == pytest.approx([0.1, 0.2, 0.3])
    assert all(state.shot.now_db is not None for state in film[:120])
    first = next(i for i, state in enumerate(film) if state.verdict is not None)
    assert film[first].shot.elapsed_s == pytest.approx(5.0)
    assert len({id(state.verdict) for state in film[:120]} - {id(None)}) == 2
    lost = film[-2].stretches[-1] if film[-2].stretches[-1].words == LOST else film[-2].stretches[0]
    assert (lost.words, lost.end_s - lost.start_s) == (LOST, pytest.approx(0.5))
    assert film[-1].shot.phase == "done"
    assert [point.name for point in film[-1].points] == ["time", "level", "bands", "sounds"]
    assert "the cat slept" in logbook.notes(1)[0].text
    assert logbook.gaps(1)[0].length_s == pytest.approx(0.5)


def test_a_confirmation_is_left_at_the_next_block_with_what_was_heard(logbook: Logbook) -> None:
    film = Film()
    confirmation = confirmed(logbook, noise(12.0), film, leave_at=40)
    assert confirmation.evidence.heard_s == pytest.approx(4.0, abs=1.0)
    assert logbook.session(1).seconds >= 3


def test_covered_seconds_are_put_together_into_stretches(monkeypatch: pytest.MonkeyPatch, logbook: Logbook) -> None:
    # Speech would do it; here it is said of certain seconds.
    monkeypatch.setattr("tuner.verbs.confirming.is_masked", lambda moment: 3.0 <= moment.start_s % 8.0 < 4.9)
    film = Film()
    confirmed(logbook, noise(14.5), film)
    covered = [t for s in film[-1].stretches if s.words == COVERED for t in (s.start_s, s.end_s)]
    assert covered == pytest.approx([3.0, 5.0, 11.0, 13.0], abs=0.51)
    assert {state.disturbed for state in film} == {False, True}
    assert not film[-1].disturbed


class Slides(list[RestartShot]):
    """A screen that keeps every state."""

    def show(self, state: RestartShot) -> None:
        self.append(state)


def stand(slides: Slides) -> restarting.ScreenTeller:
    state = RestartShot(FACE, "ready", 1, 1, 0.0, 0.0)
    return restarting.ScreenTeller(Instruments(FACE, QuickLevel(RATE)), state, slides)


def test_the_first_call_waits_for_the_key_or_for_its_time() -> None:
    slides = Slides()
    teller = stand(slides)
    assert not teller.begins(1.0)
    assert (slides[-1].stage, slides[-1].stage_s, slides[-1].lasts_s) == ("ready", 1.0, restarting.READY_S)
    assert teller.begins(restarting.READY_S)
    teller = stand(slides)
    teller.begin()
    assert teller.begins(0.0)


def test_a_start_is_called_followed_and_found(monkeypatch: pytest.MonkeyPatch, logbook: Logbook) -> None:
    monkeypatch.setattr(restarting, "LONGEST_S", 40.0)
    rehearsal = draw_case(None, 100_405, sample_rate=RATE)
    room = Room(measure_floor(rehearsal.floor(10.0), RATE))
    switched: list[bool] = []

    def switch(on: bool) -> None:
        switched.append(on)
        rehearsal.pumps(on)

    place = Place("a rig", RATE, RehearsalEars(rehearsal, None, lambda _: None), rehearsal.rig, room, RELATIVE, switch)
    slides = Slides()
    teller = stand(slides)
    teller.begin()
    with logbook.begin(Opening("restart", "a rig", RATE)) as entry:
        loop = Restarting(place, 5.0, 1, entry, teller)
        loop.run()
        teller.ended(("it restarts by itself",), True)
    stages = [state.stage for state in slides]
    assert [s for i, s in enumerate(stages) if i == 0 or stages[i - 1] != s] == ["ready", "off", "on", "done"]
    assert switched == [False, True]
    off = [state.stage_s for state in slides if state.stage == "off"]
    assert off[-1] == pytest.approx(5.0)
    on = [state for state in slides if state.stage == "on"]
    first = next(state for state in on if state.start is not None)
    # a moment is told a second after it was heard
    assert first.stage_s == pytest.approx(restarting.FIRST_FOUND_S + AHEAD * LOOK_S, abs=1.0)
    assert on[-1].stage_s == pytest.approx(40.0)
    assert len(loop.starts) == 1
    assert slides[-1].starts == tuple(loop.starts)


def test_a_restart_is_left_at_the_next_block(logbook: Logbook) -> None:
    class Deaf:
        """Ears that give silence for ever, and leave when asked for the first second of it."""

        def listen(self, _duration_s: float) -> Iterator[Block]:
            for block in noise(2.0):
                if block.start_s >= 1.0:
                    loop.leave()
                yield block

    ended: list[str] = []
    place = Place(
        "a rig", RATE, Deaf(), None, Room(measure_floor(next(noise(2.0)).samples.repeat(20), RATE)), RELATIVE,  # type: ignore[arg-type]
        lambda _: None, None, lambda: ended.append("end"),
    )
    slides = Slides()
    teller = stand(slides)
    teller.begin()
    with logbook.begin(Opening("restart", "a rig", RATE)) as entry:
        loop = Restarting(place, 60.0, 3, entry, teller)
        loop.run()
    assert loop.has_left
    assert loop.starts == []
    assert ended == ["end"]
    assert slides[-1].stage_s == pytest.approx(1.1)
