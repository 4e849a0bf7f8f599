"""The keeper's answers: typed on a terminal, sent as lines, or given by the simulated rig's obedient hand."""

from __future__ import annotations

import queue
import re
import threading
from dataclasses import dataclass
from typing import Protocol, TextIO

from tuner.errors import ConfigError
from tuner.screens.keys import BACKSPACE, ENTER
from tuner.terms import Question, Step
from tuner.units import ANGLE, SHARE, TURN, parse_quantity

MOVE_KEYS = " Enter done   1/4 Enter: did 1/4 instead   s cannot   q quit"
JOB_KEYS = " Enter done   s cannot   q quit"
LOOK_KEYS = " number of the answer   Enter cannot say   q quit"
LISTEN_KEYS = " q quit"
_MOST_TYPED = 40


@dataclass(frozen=True, slots=True)
class Did:
    """The step was done; ``amount`` is what was done in its place, signed (0: it cannot be done), or None."""

    amount: float | None = None


@dataclass(frozen=True, slots=True)
class Looked:
    """The answer to a question, or None when the keeper cannot say."""

    answer: str | None


Asked = Step | Question
Answer = Did | Looked


def keys_for(asked: Asked) -> str:
    """Return the keys that answer a step or a question, as a screen shows them."""
    if isinstance(asked, Question):
        return LOOK_KEYS
    return JOB_KEYS if asked.amount == 0 else MOVE_KEYS


def answer_of(text: str, asked: Asked) -> Answer:
    """Return what a typed line answers to a step or a question.

    A bare amount goes the way of the step; one with a sign means what it says (+ opens, speeds up).

    Raises
    ------
    ConfigError
        When the line is no answer; the text says which answers there are.

    >>> step = Step("siphon valve", -0.125, "turn", 20.0, "it gulps air")
    >>> answer_of("", step), answer_of("1/4", step), answer_of("+1/4", step), answer_of("s", step)
    (Did(amount=None), Did(amount=-0.25), Did(amount=0.25), Did(amount=0.0))
    """
    words = text.strip().lower()
    if isinstance(asked, Question):
        return _look_of(words, asked)
    if words in ("", "d", "done"):
        return Did()
    if words in ("s", "skip", "cannot"):
        return Did(0.0)
    if asked.amount == 0:
        raise ConfigError(f"answer={text!r} must be Enter (done), s (cannot) or q (quit)")
    dimension = {"turn": TURN, "degree": ANGLE, "percent": SHARE}[asked.unit]
    if asked.unit == "percent" and not re.search(r"%|percent", words):
        words += " %"
    size = parse_quantity(words, dimension, field="answer") * (100.0 if asked.unit == "percent" else 1.0)
    if words[0] in "+-" or asked.amount > 0:
        return Did(size)
    return Did(-size)


def _look_of(words: str, question: Question) -> Looked:
    if words in ("", "?", "s"):
        return Looked(None)
    for number, choice in enumerate(question.choices, 1):
        if words in (str(number), choice.lower()):
            return Looked(choice)
    listed = ", ".join(f"{n} ({choice})" for n, choice in enumerate(question.choices, 1))
    raise ConfigError(f"answer={words!r} must be one of {listed}, or Enter for cannot say")


class Keeper(Protocol):
    """Whoever turns the valves. ``ask`` puts a step or a question; ``answer`` gives what came, or None yet."""

    @property
    def has_quit(self) -> bool:
        """Whether the keeper wants to end."""
        ...

    @property
    def typed(self) -> str:
        """What has been typed of an answer that is not finished."""
        ...

    @property
    def complaint(self) -> str:
        """What was wrong with the last answer, or ""."""
        ...

    def ask(self, asked: Asked) -> str:
        """Put a step or a question and return the keys that answer it, "" when there are none."""
        ...

    def answer(self) -> Answer | None:
        """Return the answer, or None while there is none."""
        ...


class ObedientKeeper:
    """Does what is advised at once and cannot look at anything."""

    has_quit = False
    typed = ""
    complaint = ""

    def ask(self, asked: Asked) -> str:
        """Put a step or a question."""
        self._asked: Asked = asked
        return ""

    def answer(self) -> Answer | None:
        """Return the answer at once."""
        return Looked(None) if isinstance(self._asked, Question) else Did()


class TypingKeeper:
    """A keeper at the keys. ``press`` is called by the thread that owns the terminal, the rest by the loop."""

    def __init__(self) -> None:
        self.has_quit = False
        self.typed = ""
        self.complaint = ""
        self._asked: Asked | None = None
        self._answers: queue.SimpleQueue[Answer] = queue.SimpleQueue()

    def ask(self, asked: Asked) -> str:
        """Put a step or a question; what was typed before is forgotten."""
        self._drain()
        self.typed = ""
        self.complaint = ""
        self._asked = asked
        return keys_for(asked)

    def answer(self) -> Answer | None:
        """Return the answer, or None while there is none."""
        try:
            return self._answers.get_nowait()
        except queue.Empty:
            return None

    def _drain(self) -> None:
        while self.answer() is not None:
            pass

    def press(self, key: str) -> None:
        """Take one key."""
        if key == "q" and not self.typed:
            self.has_quit = True
            return
        asked = self._asked
        if asked is None:
            return
        if key == BACKSPACE:
            self.typed = self.typed[:-1]
        elif key == ENTER:
            self.line(self.typed)
        elif not self.typed and (key == "s" or (isinstance(asked, Question) and key.isdigit())):
            self.line(key)
        elif key.isprintable() and len(self.typed) < _MOST_TYPED:
            self.typed += key

    def line(self, text: str) -> None:
        """Take one whole line."""
        if text.strip().lower() in ("q", "quit"):
            self.has_quit = True
            return
        if self._asked is None:
            return
        self.typed = ""
        try:
            answer = answer_of(text, self._asked)
        except ConfigError as error:
            self.complaint = str(error)
            return
        self._asked = None
        self._answers.put(answer)


class LineKeeper:
    """A keeper who sends lines, one an answer; they may be sent ahead. The end of the lines is the keeper's leaving."""

    typed = ""

    def __init__(self, stream: TextIO) -> None:
        self.has_quit = False
        self.complaint = ""
        self._asked: Asked | None = None
        self._lines: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        # A thread of its own, because waiting for a line must not keep the microphone waiting.
        threading.Thread(target=self._read, args=(stream,), name="answers", daemon=True).start()

    def _read(self, stream: TextIO) -> None:
        for line in stream:
            self._lines.put(line)
        self._lines.put(None)

    def ask(self, asked: Asked) -> str:
        """Put a step or a question."""
        self._asked = asked
        self.complaint = ""
        return keys_for(asked)

    def answer(self) -> Answer | None:
        """Return what the next line answers, or None while there is none or it is no answer."""
        try:
            line = self._lines.get_nowait()
        except queue.Empty:
            return None
        if line is None or line.strip().lower() in ("q", "quit"):
            self.has_quit = True
            return None
        if self._asked is None:
            return None
        try:
            return answer_of(line, self._asked)
        except ConfigError as error:
            self.complaint = str(error)
            return None
