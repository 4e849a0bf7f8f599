"""The guided loop: listen, name the cause, give one move, wait for the keeper, let the water settle, listen again.

It runs in one thread, asks its ears for sound and its keeper for answers, and decides nothing about the plumbing:
that is the coach's part.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from tuner.capture.microphone import LOST
from tuner.coach import Coach, Summary
from tuner.coach.guide import Guide
from tuner.errors import ConfigError
from tuner.logbook.history import CHANNEL_LOAD
from tuner.screens.box import BoxHeights
from tuner.screens.snapshot import MoveLine
from tuner.screens.words import change_text
from tuner.terms import Block, Diagnosis, Question, Step
from tuner.verbs.cues import Cue, Player, mute
from tuner.verbs.ears import Ears
from tuner.verbs.hearing import Hearing
from tuner.verbs.keeper import LISTEN_KEYS, Answer, Asked, BestAgain, Did, Keeper, Looked, Note

WINDOW_S = 20.0
MOST_MOVES = 60  # far beyond what any installation needs
_MOST_RESTARTS = 3
_TOO_MUCH_LOST = (
    "too much of the sound is lost to tell anything:"
    " look at the microphone, and at what else the computer does"
)
_ECHO_S = 0.6  # after a cue, for its sound to die away in the room and in the microphone's buffers


@dataclass(frozen=True, slots=True)
class Tuned:
    """What a tuning came to. ``first`` and ``last`` are None when it ended before a window was over."""

    first: Diagnosis | None
    last: Diagnosis | None
    summary: Summary
    moves: tuple[MoveLine, ...]
    has_quit: bool


class Tuning:
    """One run of the loop."""

    def __init__(
        self, coach: Coach, ears: Ears, keeper: Keeper, hearing: Hearing, window_s: float = WINDOW_S, *,
        play: Player = mute, box: BoxHeights | None = None,
    ) -> None:
        self._coach = coach
        self._ears = ears
        self._keeper = keeper
        self._hearing = hearing
        self._window_s = window_s
        self._play = play
        self._box = box
        self._first: Diagnosis | None = None
        self._last: Diagnosis | None = None
        self._moves: list[MoveLine] = []
        self._to_undo: list[int] = []
        self._undo = self._to_best = False
        self._move_id: int | None = None
        self._left = False

    def leave(self) -> None:
        """End the loop at its next block; may be called from any thread."""
        self._left = True

    @property
    def _has_left(self) -> bool:
        return self._left or self._keeper.has_quit

    def so_far(self) -> Tuned:
        """Return what has come of it until now."""
        return Tuned(self._first, self._last, self._coach.summary(), tuple(self._moves), self._has_left)

    def run(self) -> Tuned:
        """Tune until the coach has nothing more to say, or the keeper leaves."""
        self._believe()
        on: Step | None = None
        while len(self._moves) < MOST_MOVES:
            if self._undo:
                self._take_back()
            if not self._listen(on):
                if self._undo and not self._has_left:
                    continue
                break
            step = self._advice()
            on = step if step is not None and _says_listen_on(step) else None
            if on is not None:
                self._coach.did(on)
                continue
            declined: Step | None = None
            while step is not None and not self._has_left and not self._undo:
                if self._move(step) or self._has_left or self._undo:
                    break
                declined, step = step, self._advice()
                if step == declined:
                    break
            if (step is None and not self._undo) or self._has_left:
                break
        hearing = self._hearing
        self._cue("end")
        hearing.show(replace(
            hearing.shot, phase="done", left_s=None, step=None, question=None, keys="", typed="", advice=None,
            summary=self._coach.summary(),
        ))
        return self.so_far()

    def _take_back(self) -> None:
        """Have the last move that was made turned back, as a move of its own, or all of them since it was best."""
        self._undo = False
        if self._to_best:
            self._go_back_to_best()
            return
        if not self._to_undo:
            hearing = self._hearing
            hearing.show(replace(hearing.shot, notice="there is no move to take back"))
            return
        number = self._to_undo.pop()
        made = self._moves[number]
        step = replace(
            made.step, amount=-made.done,
            why=f"This takes move {number + 1} back. If it was never turned, press Enter and turn nothing.",
            expect="It should sound as it did before.",
        )
        # Taking back is no move to be taken back in its turn.
        self._move(step)
        self._to_undo = [n for n in self._to_undo if n < number]

    def _go_back_to_best(self) -> None:
        """Have the controls turned back to the best setting so far, one after the other."""
        self._to_best = False
        steps = self._coach.way_back()
        if not steps:
            hearing = self._hearing
            hearing.show(replace(hearing.shot, notice="the controls stand at the best setting so far"))
        for step in steps:
            if not self._move(step):
                break
            self._to_undo.clear()

    def _believe(self) -> None:
        """Show what is believed of the water now."""
        gauge = self._coach.gauge
        box = self._box
        if box is not None:
            box = replace(box, level_low_m=gauge.level_low_m, level_high_m=gauge.level_high_m)
        self._hearing.shot = replace(self._hearing.shot, gauge=gauge, box=box)

    def _listen(self, on: Step | None) -> bool:
        """Hear one window and diagnose it; False when it could not be heard to its end.

        ``on`` is the coach's reason to listen once more without a move.
        """
        hearing = self._hearing
        restarts = 0
        while restarts < _MOST_RESTARTS:
            hearing.begin_window()
            hearing.show(replace(
                hearing.shot, phase="listening", left_s=self._window_s, step=on, question=None, keys=LISTEN_KEYS,
                typed="", advice=None,
            ))
            whole, paused = True, False
            for block in self._counted(self._ears.listen(self._window_s), self._window_s):
                if block.dropped or block.note.startswith(LOST):
                    whole = False
                if self._keeper.is_paused:
                    paused = True
                    break
            if paused:
                hearing.end()
                self._rest()
                continue
            if self._has_left or self._undo or hearing.heard_s < 0.9 * self._window_s:
                hearing.end()
                return False
            restarts += 1
            # What was lost in the middle may have been the very gulp: the window is heard again, but not for ever.
            if not whole and restarts < _MOST_RESTARTS:
                hearing.end()
                continue
            try:
                reading = hearing.end_window()
            except ConfigError:  # so much of it was lost that nothing can be said
                continue
            self._conclude(self._coach.hear_reading(reading))
            return True
        hearing.say(_TOO_MUCH_LOST)
        hearing.entry.note(_TOO_MUCH_LOST)
        return False

    def _rest(self) -> None:
        """Let time pass unheard until the keeper goes on."""
        hearing = self._hearing
        hearing.entry.note("paused")
        hearing.show(replace(hearing.shot, is_paused=True, now_db=None))
        while self._keeper.is_paused and not self._has_left:
            for _ in self._ears.idle():
                pass
            self._grant()
        hearing.entry.note("gone on")
        hearing.show(replace(hearing.shot, is_paused=False))

    def _grant(self) -> None:
        """Carry out what the keeper wished for beside an answer."""
        hearing = self._hearing
        while (wish := self._keeper.wish()) is not None:
            if isinstance(wish, Note):
                hearing.entry.note(wish.text)
                hearing.say(f"kept in the log: {wish.text}")
            else:
                self._undo, self._to_best = True, isinstance(wish, BestAgain)

    def _cue(self, cue: Cue) -> None:
        """Sound a cue, and let what the microphone hears of it pass unheard."""
        seconds = self._play(cue)
        if seconds:
            for _ in self._ears.settle(seconds + _ECHO_S):
                pass

    def _conclude(self, diagnosis: Diagnosis) -> None:
        hearing = self._hearing
        if self._moves and self._moves[-1].after_db is None and self._moves[-1].done:
            move = self._moves[-1]
            after_db = diagnosis.reading.levels.laeq_db
            seen = change_text(move.before_db, after_db)
            if diagnosis.silent:
                seen += ", and silent"
            elif outcome := self._coach.outcome.rstrip("."):
                seen += f": {outcome[0].lower()}{outcome[1:]}"
            self._moves[-1] = replace(move, after_db=after_db, seen=seen)
            if self._move_id is not None:
                hearing.entry.seen(self._move_id, seen)
        self._first = self._first or diagnosis
        self._last = diagnosis
        self._believe()
        hearing.shot = replace(hearing.shot, moves=tuple(self._moves))
        hearing.conclude(self._with_load(diagnosis))

    def _with_load(self, diagnosis: Diagnosis) -> Diagnosis:
        """Return a diagnosis that tells the logbook what is believed of the open channel, where that is known.

        In silence the flow that the pump may lose before the open channel runs dry is what the channel carries.
        """
        load = self._coach.summary().less_flow
        if load is None:
            return diagnosis
        reading = diagnosis.reading
        return replace(
            diagnosis, reading=replace(reading, features={**reading.features, CHANNEL_LOAD: load})
        )

    def _advice(self) -> Step | None:
        """Return the coach's next step; its questions are put to the keeper first."""
        while isinstance(advice := self._coach.advise(), Question):
            answer = self._answer(advice)
            if not isinstance(answer, Looked):
                return None
            self._hearing.entry.looked(advice, answer.answer, self._hearing.now_s)
            self._coach.look(advice.id, answer.answer)
        return advice

    def _move(self, step: Step) -> bool:
        """Put a step to the keeper and let the water settle; False when it was declined or the keeper left."""
        hearing = self._hearing
        self._move_id = hearing.entry.advised(step, hearing.now_s)
        answer = self._answer(step)
        if not isinstance(answer, Did):
            return False
        done = step.amount if answer.amount is None else answer.amount
        hearing.entry.done(self._move_id, done, hearing.now_s)
        self._coach.did(step, answer.amount)
        self._ears.moved(step, done)
        before = self._last.reading.levels.laeq_db if self._last is not None else None
        if done:
            self._to_undo.append(len(self._moves))
        self._moves.append(MoveLine(step, done, before))
        self._believe()
        hearing.shot = replace(hearing.shot, moves=tuple(self._moves), step=None, typed="", advice=None)
        if done == 0.0 and step.amount != 0.0:
            return False
        self._cue("done")
        hearing.show(replace(hearing.shot, phase="settling", left_s=step.wait_s, keys=LISTEN_KEYS))
        if step.wait_s > 0:
            for _ in self._counted(self._ears.settle(step.wait_s), step.wait_s):
                if self._keeper.is_paused:
                    self._rest()
        return True

    def _counted(self, blocks: Iterator[Block], duration_s: float) -> Iterator[Block]:
        """Hear blocks with the time left shown, until they end or the keeper leaves or takes a move back."""
        hearing = self._hearing
        end_s = hearing.now_s + duration_s
        for block in blocks:
            left_s = max(0.0, end_s - block.start_s - block.samples.size / block.sample_rate)
            hearing.shot = replace(hearing.shot, left_s=left_s)
            hearing.take(block)
            self._keeper.hear(block, hearing.shot.phase)
            yield block
            self._grant()
            if self._has_left or self._undo:
                return

    def _answer(self, asked: Asked) -> Answer | None:
        """Put a step or a question and wait, listening on, until the keeper has answered or left."""
        hearing, keeper = self._hearing, self._keeper
        step = asked if isinstance(asked, Step) else None
        question = asked if isinstance(asked, Question) else None
        phase = hearing.shot.phase
        self._cue("move" if step else "question")
        keys = keeper.ask(asked)
        hearing.show(replace(
            hearing.shot, phase="move" if step else "question", left_s=None, step=step, question=question,
            keys=keys, advice=None,
        ))
        self._ears.asked(asked)
        guide = Guide(self._last.reading, step) if step is not None and step.amount and self._last else None
        guided_s = hearing.now_s
        while not self._has_left and not self._undo:
            answer = keeper.answer()
            if answer is not None:
                hearing.shot = replace(hearing.shot, phase=phase, question=None, notice=keeper.complaint, typed="")
                return answer
            if keeper.is_paused:
                self._rest()
            for block in self._ears.idle():
                hearing.take(block)
                keeper.hear(block, hearing.shot.phase)
            self._grant()
            shot = hearing.shot
            if guide is not None and shot.level_db is not None and shot.elapsed_s >= guided_s + 0.5:
                guided_s = shot.elapsed_s
                shot = replace(shot, advice=guide.hear(guided_s, shot.level_db, dict(shot.heard)))
            if keeper.complaint and keeper.complaint != shot.notice:
                shot = replace(shot, notice=keeper.complaint)
            if shot is not hearing.shot:
                hearing.show(shot)
        return None


def _says_listen_on(step: Step) -> bool:
    """Tell whether a step asks for nothing but another window: nothing to turn, nothing to wait for."""
    return step.amount == 0.0 and step.wait_s == 0.0
