"""Hands-free: a keeper whose moves are noticed by their sound, beside whatever the keys say."""

from __future__ import annotations

from tuner.coach.noticing import MoveWatch
from tuner.screens.snapshot import Phase
from tuner.terms import Block, Question, Step
from tuner.verbs.keeper import Answer, Asked, Did, Keeper, Looked, Wish

MOVE_PATIENCE_S = 60.0
JOB_PATIENCE_S = 240.0
MOST_ASSUMED = 2
ASSUMED = "no change was heard for a while: it is taken that the move was made"
WAITS = "twice nothing was heard to change: it waits now until something does"


class HandsFreeKeeper:
    """Answers "done" when the sound has changed and stands still again; ``inner`` may answer before that.

    A move that cannot be heard (a valve's free play) is taken as made after ``MOVE_PATIENCE_S`` seconds, but not more
    than twice in a row: then nobody seems to be there, and it waits. Questions are left open.
    """

    def __init__(self, inner: Keeper, sample_rate: int) -> None:
        self._inner = inner
        self._watch = MoveWatch(sample_rate)
        self._phase: Phase = "listening"
        self._asked: Asked | None = None
        self._waited_s = 0.0
        self._noticed = False
        self._assumed = 0
        self._says = ""

    @property
    def has_quit(self) -> bool:
        """Whether the keeper wants to end."""
        return self._inner.has_quit

    @property
    def is_paused(self) -> bool:
        """Whether nothing is to be listened to at the moment."""
        return self._inner.is_paused

    @property
    def complaint(self) -> str:
        """What was wrong with the last answer, or what was assumed."""
        return self._inner.complaint or self._says

    def ask(self, asked: Asked) -> str:
        """Put a step or a question, and begin to watch for the move."""
        self._asked = asked
        self._waited_s = 0.0
        self._noticed = False
        self._says = ""
        self._watch.begin()
        return self._inner.ask(asked)

    def answer(self) -> Answer | None:
        """Return what the keys said, else what the sound says, or None yet."""
        given = self._inner.answer()
        if given is not None:
            self._assumed = 0
            return given
        if isinstance(self._asked, Question):
            return Looked(None)
        if self._noticed:
            self._assumed = 0
            return Did()
        if isinstance(self._asked, Step) and self._waited_s >= self._patience_s(self._asked):
            if self._assumed >= MOST_ASSUMED:
                self._says = WAITS
                return None
            self._assumed += 1
            self._says = ASSUMED
            return Did()
        return None

    def _patience_s(self, step: Step) -> float:
        return JOB_PATIENCE_S if step.amount == 0.0 else MOVE_PATIENCE_S

    def wish(self) -> Wish | None:
        """Return the next thing that was wished for beside an answer."""
        return self._inner.wish()

    def hear(self, block: Block, phase: Phase) -> None:
        """Take the sound as it comes: the window before the move, then what follows its advice."""
        if phase == "listening":
            if self._phase != "listening":
                self._watch.forget()
            self._watch.baseline(block.samples)
        elif phase == "move":
            self._waited_s += block.samples.size / block.sample_rate
            self._noticed = self._watch.watch(block.samples) or self._noticed
        self._phase = phase
