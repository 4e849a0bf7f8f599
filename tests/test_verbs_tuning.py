from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tuner.capture.microphone import BACK, LOST
from tuner.coach import Summary
from tuner.coach.gauge import Gauge
from tuner.errors import ConfigError
from tuner.logbook.store import Logbook, Opening
from tuner.screens.snapshot import Snapshot
from tuner.terms import Block, Cause, Diagnosis, Levels, Moment, Question, Reading, Sound, Step
from tuner.verbs.cues import Player, mute
from tuner.verbs.hearing import Hearing
from tuner.verbs.keeper import Answer, Asked, BestAgain, Did, Looked, Note, Undo, Wish
from tuner.verbs.tuning import Tuned, Tuning

RATE = 8000
STEP = Step("siphon valve", 0.125, "turn", 3.0, "it gurgles", "it fades")
ON = Step("siphon valve", 0.0, "turn", 0.0, "listen on")
JOB = Step("return pump", 0.0, "percent", 2.0, "clean the impeller")
LOOK = Question("bubbles", "Do bubbles come?", ("none", "in surges"))
SILENCE = Diagnosis(True, (), (), Reading(5.0, 5.0, Levels(30, 30, 30, 30, 30, (), ()), (), (), None, 0.0))


def noisy(level_db: float) -> Diagnosis:
    levels = Levels(level_db, level_db, level_db, level_db, level_db, (), ())
    return Diagnosis(False, (), (Cause("siphon over-closed", 0.9, ("bubbles",)),),
                     Reading(5.0, 5.0, levels, (), (), None, 0.0))


class Ear:
    """A listener that gives one moment for each half second fed and one sound at the end of a window."""

    def __init__(self) -> None:
        self.resets = 0
        self.reset()

    def reset(self) -> None:
        self.resets += 1
        self.fed = 0
        self.told = 0

    def gap(self, dropped: int) -> tuple[Sound, ...]:
        self.fed += dropped
        return ()

    def feed(self, samples: Any) -> tuple[Sound, ...]:
        self.fed += len(samples)
        return ()

    def moments(self) -> tuple[Moment, ...]:
        whole = self.fed * 2 // RATE
        new = tuple(Moment(i / 2, i / 2 + 0.5, 40.0, (), (), {"gurgle": 0.9, "hum": 0.1}, 0.0)
                    for i in range(self.told, whole))
        self.told = whole
        return new

    def flush(self) -> tuple[Sound, ...]:
        return (Sound("gurgle", 1.0, 2.0, 40.0, 0.9),)

    def reading(self) -> Reading:
        return SILENCE.reading


class Script:
    """A coach that gives what it was told to give, in order."""

    def __init__(self, heard: list[Diagnosis], advice: list[Any]) -> None:
        self.heard, self.advice = heard, advice
        self.log: list[Any] = []
        self.back: tuple[Step, ...] = ()
        self.outcome = ""

    def way_back(self) -> tuple[Step, ...]:
        return self.back

    def hear_reading(self, _reading: Reading) -> Diagnosis:
        self.log.append("heard")
        return self.heard.pop(0)

    def advise(self) -> Any:
        return self.advice.pop(0)

    def did(self, step: Step, amount: float | None = None) -> None:
        self.log.append(("did", step.amount if amount is None else amount))

    def look(self, question_id: str, answer: str | None) -> None:
        self.log.append((question_id, answer))

    def summary(self) -> Summary:
        return Summary(True, 0, (), "the end")

    @property
    def gauge(self) -> Gauge:
        return Gauge(0.2, 0.4, 0.6, 0.1, 0.8, 0.1, 0.16, 0.165, 0.17, 0.16, 0.18)


class Tape:
    """Ears of silence with a clock of their own; ``flaws`` replaces blocks by their number."""

    def __init__(self, flaws: dict[int, Block] | None = None) -> None:
        self.at = 0
        self.number = 0
        self.flaws = flaws or {}
        self.moves: list[float] = []

    def _blocks(self, duration_s: float) -> Iterator[Block]:
        for _ in range(round(duration_s * 10)):
            block = Block(np.zeros(RATE // 10, np.float32), RATE, self.at)
            flaw = self.flaws.get(self.number)
            self.number += 1
            if flaw is not None:
                self.at += flaw.dropped
                block = replace(flaw, start=self.at)
            self.at += RATE // 10
            yield block

    def listen(self, duration_s: float) -> Iterator[Block]:
        return self._blocks(duration_s)

    def settle(self, duration_s: float) -> Iterator[Block]:
        return self._blocks(duration_s)

    def idle(self) -> Iterator[Block]:
        return self._blocks(0.1)

    def asked(self, asked: Any) -> None:
        pass

    def moved(self, _step: Step, amount: float) -> None:
        self.moves.append(amount)


class Answers:
    """A keeper with prepared answers who thinks for one idle moment each time; leaves when they run out.

    A wish among the answers comes in the answer's place.
    """

    complaint = ""

    def __init__(self, answers: list[Answer | Wish]) -> None:
        self.paused_for = 0
        self.wishes: list[Wish] = []
        self.phases: list[str] = []
        self.answers = answers
        self.has_quit = False
        self.thinks = True

    def ask(self, _asked: Asked) -> str:
        self.thinks = True
        return "keys"

    def answer(self) -> Answer | None:
        if self.thinks:
            self.thinks = False
            return None
        if not self.answers:
            self.has_quit = True
            return None
        given = self.answers.pop(0)
        if isinstance(given, Undo | BestAgain | Note):
            self.wishes.append(given)
            return None
        return given

    @property
    def is_paused(self) -> bool:
        self.paused_for -= 1
        return 0 <= self.paused_for < 5

    def wish(self) -> Wish | None:
        return self.wishes.pop(0) if self.wishes else None

    def hear(self, _block: Block, phase: str) -> None:
        self.phases.append(phase)


class Film:
    """A screen that keeps every state."""

    def __init__(self) -> None:
        self.shots: list[Snapshot] = []

    def show(self, snapshot: Snapshot) -> None:
        self.shots.append(snapshot)

    @property
    def phases(self) -> list[str]:
        run = [shot.phase for shot in self.shots]
        return [phase for i, phase in enumerate(run) if i == 0 or run[i - 1] != phase]


class Bench:
    """A tuning with fakes all around a real logbook."""

    def __init__(
        self, tmp_path: Path, script: Script, tape: Tape, answers: list[Answer | Wish], paused_for: int = 0,
        play: Player = mute, ear: Ear | None = None,
    ) -> None:
        self.logbook = Logbook(tmp_path / "logbook.sqlite", clock=lambda: datetime(2026, 3, 1, tzinfo=UTC))
        self.film = Film()
        self.tape, self.script, self.ear = tape, script, ear or Ear()
        entry = self.logbook.begin(Opening("tune", "a tape", RATE))
        face = Snapshot("tune", "a tape", "listening", 0.0, False)
        with entry:
            hearing = Hearing(self.ear, entry, self.film, face)  # type: ignore[arg-type]
            self.keeper = Answers(answers)
            self.keeper.paused_for = paused_for
            tuning = Tuning(script, tape, self.keeper, hearing, 5.0, play=play)  # type: ignore[arg-type]
            self.tuned: Tuned = tuning.run()
        self.number = entry.id


@pytest.fixture
def place(tmp_path: Path) -> Path:
    return tmp_path


def test_a_tuning_listens_moves_settles_and_listens_again(place: Path) -> None:
    bench = Bench(place, Script([noisy(50.0), SILENCE], [STEP, None]), Tape(), [Did()])
    assert bench.script.log == ["heard", ("did", 0.125), "heard"]
    assert bench.tape.moves == [0.125]
    assert bench.film.phases == ["listening", "move", "settling", "listening", "done"]
    tuned = bench.tuned
    assert tuned.first is not None
    assert tuned.last is not None
    assert (tuned.first.silent, tuned.last.silent, tuned.has_quit) == (False, True, False)
    assert [m.seen for m in tuned.moves] == ["20.0 dB quieter, and silent"]
    (move,) = bench.logbook.moves(bench.number)
    assert (move.done, move.seen, move.expected) == (0.125, "20.0 dB quieter, and silent", "it fades")
    assert [d.silent for d in bench.logbook.diagnoses(bench.number)] == [False, True]
    # 5 s of listening, 0.1 s of thinking, 3 s of settling, 5 s of listening.
    assert [d.end_s for d in bench.logbook.diagnoses(bench.number)] == pytest.approx([5.0, 13.1])
    assert bench.logbook.session(bench.number).seconds == 13


def test_sounds_and_seconds_count_from_the_sessions_start(place: Path) -> None:
    bench = Bench(place, Script([noisy(50.0), SILENCE], [STEP, None]), Tape(), [Did()])
    assert [s.start_s for s in bench.logbook.sounds(bench.number)] == pytest.approx([1.0, 9.1])
    assert [r.second for r in bench.logbook.readings(bench.number)] == list(range(13))


def test_another_amount_is_told_to_the_coach_and_the_log(place: Path) -> None:
    bench = Bench(place, Script([noisy(50.0), SILENCE], [STEP, None]), Tape(), [Did(0.5)])
    assert ("did", 0.5) in bench.script.log
    assert bench.tape.moves == [0.5]
    assert bench.logbook.moves(bench.number)[0].done == 0.5


def test_a_declined_move_is_followed_by_other_advice_without_settling(place: Path) -> None:
    other = replace(STEP, control="vent tap")
    bench = Bench(place, Script([noisy(50.0), SILENCE], [STEP, other, None]), Tape(), [Did(0.0), Did()])
    assert bench.script.log == ["heard", ("did", 0.0), ("did", 0.125), "heard"]
    assert [m.done for m in bench.logbook.moves(bench.number)] == [0.0, 0.125]


def test_a_move_declined_twice_is_listened_to_again(place: Path) -> None:
    script = Script([noisy(50.0), SILENCE], [STEP, STEP, None])
    bench = Bench(place, script, Tape(), [Did(0.0)])
    assert script.log == ["heard", ("did", 0.0), "heard"]
    assert bench.tuned.last is SILENCE


def test_a_question_is_put_before_the_move(place: Path) -> None:
    script = Script([noisy(50.0), SILENCE], [LOOK, STEP, None])
    bench = Bench(place, script, Tape(), [Looked("in surges"), Did()])
    assert script.log == ["heard", ("bubbles", "in surges"), ("did", 0.125), "heard"]
    assert bench.logbook.looks(bench.number)[0].answer == "in surges"
    assert "question" in bench.film.phases


def test_listening_on_asks_nothing_of_the_keeper(place: Path) -> None:
    bench = Bench(place, Script([SILENCE, SILENCE], [ON, None]), Tape(), [])
    assert bench.script.log == ["heard", ("did", 0.0), "heard"]
    assert not bench.tuned.has_quit
    assert bench.logbook.moves(bench.number) == ()
    assert any(shot.step is ON and shot.phase == "listening" for shot in bench.film.shots)


def test_a_job_by_hand_waits_for_the_keeper_and_settles(place: Path) -> None:
    bench = Bench(place, Script([noisy(50.0), SILENCE], [JOB, None]), Tape(), [Did()])
    assert "settling" in bench.film.phases
    assert bench.tape.moves == [0.0]


def test_a_keeper_who_leaves_ends_it_with_the_log_kept(place: Path) -> None:
    bench = Bench(place, Script([noisy(50.0)], [STEP]), Tape(), [])
    assert bench.tuned.has_quit
    assert bench.film.phases[-1] == "done"
    assert bench.logbook.moves(bench.number)[0].done is None


def test_a_window_with_a_loss_is_heard_again(place: Path) -> None:
    silence = np.zeros(RATE // 10, np.float32)
    flaws = {20: Block(silence[:0], RATE, 0, note=LOST), 21: Block(silence, RATE, 0, dropped=RATE, note=BACK)}
    bench = Bench(place, Script([SILENCE], [None]), Tape(flaws), [])
    assert bench.script.log == ["heard"]
    assert [g.note for g in bench.logbook.gaps(bench.number)] == [LOST, BACK]
    assert bench.logbook.gaps(bench.number)[1].length_s == 1.0
    assert bench.logbook.diagnoses(bench.number)[0].end_s == pytest.approx(11.0)
    assert any(shot.notice == LOST for shot in bench.film.shots)


def test_windows_of_which_nothing_is_left_end_it_with_words(place: Path) -> None:
    class Deaf(Ear):
        def reading(self) -> Reading:
            raise ConfigError("duration_s=0.30 must be at least 1.5 s: listen longer")

    lost = Block(np.zeros(RATE // 10, np.float32), RATE, 0, dropped=9 * RATE // 10, note="900 ms lost")
    bench = Bench(place, Script([], []), Tape(dict.fromkeys(range(200), lost)), [], ear=Deaf())
    assert bench.tuned.first is None
    assert bench.ear.resets == 1 + 3
    assert bench.film.phases == ["listening", "done"]
    assert "too much of the sound is lost" in bench.film.shots[-1].notice
    assert any("too much of the sound" in note.text for note in bench.logbook.notes(bench.number))


def test_a_source_that_ends_early_ends_the_tuning(place: Path) -> None:
    class Short(Tape):
        def listen(self, duration_s: float) -> Iterator[Block]:
            return super().listen(0.4 * duration_s)

    bench = Bench(place, Script([], []), Short(), [])
    assert bench.tuned.first is None


def test_the_time_left_counts_down(place: Path) -> None:
    bench = Bench(place, Script([SILENCE], [None]), Tape(), [])
    left = [shot.left_s for shot in bench.film.shots if shot.phase == "listening" and shot.left_s is not None]
    assert left[0] == 5.0
    assert left == sorted(left, reverse=True)
    assert left[-1] == pytest.approx(0.0)


def test_the_surest_kind_is_shown_first(place: Path) -> None:
    bench = Bench(place, Script([SILENCE], [None]), Tape(), [])
    assert bench.film.shots[-1].heard[0] == ("gurgle", 0.9)


def test_time_that_passes_unheard_is_shown(place: Path) -> None:
    class Still(Tape):
        def settle(self, duration_s: float) -> Iterator[Block]:
            for _ in range(round(duration_s)):
                self.at += RATE
                yield Block(np.empty(0, np.float32), RATE, self.at)

    bench = Bench(place, Script([noisy(50.0), SILENCE], [STEP, None]), Still(), [Did()])
    settling = [(shot.elapsed_s, shot.left_s) for shot in bench.film.shots if shot.phase == "settling"]
    assert [left for _, left in settling] == pytest.approx([3.0, 2.0, 1.0, 0.0])
    assert settling[-1][0] == pytest.approx(8.1)


def test_a_move_is_taken_back_as_a_move_of_its_own(place: Path) -> None:
    script = Script([noisy(50.0), noisy(48.0), SILENCE], [STEP, STEP, None])
    bench = Bench(place, script, Tape(), [Did(0.25), Undo(), Did()])
    assert script.log == ["heard", ("did", 0.25), "heard", ("did", -0.25), "heard"]
    assert bench.tape.moves == [0.25, -0.25]
    asked = [shot.step for shot in bench.film.shots if shot.phase == "move" and shot.step is not None]
    assert "takes move 1 back" in asked[-1].why
    assert [m.done for m in bench.tuned.moves] == [0.25, -0.25]


def test_with_nothing_to_take_back_it_says_so_and_goes_on(place: Path) -> None:
    script = Script([noisy(50.0), SILENCE], [STEP, None])
    bench = Bench(place, script, Tape(), [Undo()])
    assert script.log == ["heard", "heard"]
    assert any("no move to take back" in shot.notice for shot in bench.film.shots)


def test_all_moves_since_it_was_best_are_turned_back(place: Path) -> None:
    script = Script([noisy(50.0), noisy(40.0), noisy(48.0), SILENCE], [STEP, STEP, None])
    script.back = (replace(STEP, amount=0.125),)
    bench = Bench(place, script, Tape(), [Did(), BestAgain(), Did()])
    assert script.log == ["heard", ("did", STEP.amount), "heard", ("did", 0.125), "heard"]
    assert bench.tape.moves[-1] == 0.125


def test_at_the_best_setting_it_says_so(place: Path) -> None:
    bench = Bench(place, Script([noisy(50.0), SILENCE], [STEP, None]), Tape(), [BestAgain()])
    assert any("best setting so far" in shot.notice for shot in bench.film.shots)


def test_words_are_kept_in_the_log(place: Path) -> None:
    bench = Bench(place, Script([noisy(50.0), SILENCE], [STEP, None]), Tape(), [Note("the cat slept"), Did()])
    assert "the cat slept" in [note.text for note in bench.logbook.notes(bench.number)]


def test_a_pause_lets_time_pass_unheard_and_the_window_begins_anew(place: Path) -> None:
    bench = Bench(place, Script([SILENCE], [None]), Tape(), [], paused_for=25)
    assert any(shot.is_paused for shot in bench.film.shots)
    assert bench.tuned.last is SILENCE
    assert bench.logbook.diagnoses(bench.number)[0].end_s > 6.5
    assert [note.text for note in bench.logbook.notes(bench.number)] == ["paused", "gone on"]


def test_no_cue_sounds_while_it_listens(place: Path) -> None:
    tape = Tape()
    heard: list[tuple[str, int]] = []

    def play(cue: str) -> float:
        heard.append((cue, tape.at))
        return 0.4

    bench = Bench(place, Script([noisy(50.0), SILENCE], [STEP, None]), tape, [Did()], play=play)
    assert [cue for cue, _ in heard] == ["move", "done", "end"]
    # What was recorded during a cue and just after it reaches neither the ears nor the log.
    seconds = sum(d.duration_s for d in bench.logbook.diagnoses(bench.number))
    assert bench.tape.at / RATE == pytest.approx(5.0 + 1.0 + 0.1 + 1.0 + 3.0 + 5.0 + 1.0)
    assert seconds == pytest.approx(10.0)
    assert len(bench.keeper.phases) == 50 + 1 + 30 + 50


def test_the_guide_speaks_while_a_hand_turns_and_the_belief_is_shown(place: Path) -> None:
    answers: list[Answer | Wish] = [Note(str(n)) for n in range(50)]
    bench = Bench(place, Script([noisy(50.0), SILENCE], [STEP, None]), Tape(), [*answers, Did()])
    said = [shot.advice.trend for shot in bench.film.shots if shot.phase == "move" and shot.advice is not None]
    assert said[0] == "listening"
    assert said[-1] == "worse"  # the window held no gurgle, and this ear hears nothing else
    assert bench.film.shots[-1].gauge is not None
    assert bench.film.shots[-1].summary is not None
