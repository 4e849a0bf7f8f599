"""The keeper's answers: typed on a terminal, sent as lines, or given by the simulated rig's obedient hand."""

from __future__ import annotations

import queue
import re
import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol, TextIO, TypeVar

from tuner.errors import ConfigError
from tuner.screens.snapshot import Phase
from tuner.terms import Block, Question, Step
from tuner.units import ANGLE, SHARE, TURN, parse_quantity

MOVE_KEYS = " Enter done   1/4 Enter: did 1/4 instead   s cannot   u undo   g best   q quit"
JOB_KEYS = " Enter done   s cannot   q quit"
LOOK_KEYS = " number of the answer   Enter cannot say   q quit"
LISTEN_KEYS = " q quit"


@dataclass(frozen=True, slots=True)
class Did:
    """The step was done; ``amount`` is what was done in its place, signed (0: it cannot be done), or None."""

    amount: float | None = None


@dataclass(frozen=True, slots=True)
class Looked:
    """The answer to a question, or None when the keeper cannot say."""

    answer: str | None


@dataclass(frozen=True, slots=True)
class Undo:
    """The last move is to be taken back."""


@dataclass(frozen=True, slots=True)
class BestAgain:
    """The controls are to go back to the best setting so far."""


@dataclass(frozen=True, slots=True)
class Note:
    """Words to keep in the log."""

    text: str


Asked = Step | Question
Answer = Did | Looked
Wish = Undo | BestAgain | Note


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
    """Whoever turns the valves. ``ask`` puts a step or a question; ``answer`` gives what came, or None yet.

    ``hear`` gives the sound, and in which phase it was heard; who works without hands on the keys needs it.
    """

    @property
    def has_quit(self) -> bool:
        """Whether the keeper wants to end."""
        ...

    @property
    def is_paused(self) -> bool:
        """Whether nothing is to be listened to at the moment."""
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

    def wish(self) -> Wish | None:
        """Return the next thing that was wished for beside an answer, or None."""
        ...

    def hear(self, block: Block, phase: Phase) -> None:
        """Take the sound as it comes."""
        ...


class ObedientKeeper:
    """Does what is advised at once and cannot look at anything."""

    has_quit = False
    is_paused = False
    complaint = ""

    def ask(self, asked: Asked) -> str:
        """Put a step or a question."""
        self._asked: Asked = asked
        return ""

    def answer(self) -> Answer | None:
        """Return the answer at once."""
        return Looked(None) if isinstance(self._asked, Question) else Did()

    def wish(self) -> Wish | None:
        """Wish for nothing."""
        return None

    def hear(self, block: Block, phase: Phase) -> None:
        """Sound tells this keeper nothing."""


class ScreenKeeper:
    """A keeper at a full screen. ``press`` is called by the thread that owns the terminal, the rest by the loop.

    With ``obeys_after`` whatever is asked is answered by itself, "done" or "cannot say", at that many looks for an
    answer: the simulated rig's hand, which can be watched.
    """

    def __init__(self, obeys_after: int | None = None) -> None:
        self._obeys_after = obeys_after
        self._looks = 0
        self.has_quit = False
        self.is_paused = False
        self.complaint = ""
        self.on_quit: Callable[[], None] = lambda: None
        self._asked: Asked | None = None
        self._answers: queue.SimpleQueue[Answer] = queue.SimpleQueue()
        self._wishes: queue.SimpleQueue[Wish] = queue.SimpleQueue()

    def ask(self, asked: Asked) -> str:
        """Put a step or a question; answers to what was asked before are forgotten."""
        while _next(self._answers) is not None:
            pass
        self._asked = asked
        self._looks = 0
        return keys_for(asked)

    def answer(self) -> Answer | None:
        """Return the answer, or None while there is none."""
        given = _next(self._answers)
        self._looks += 1
        if given is None and self._obeys_after is not None and self._looks > self._obeys_after and not self.is_paused:
            return Looked(None) if isinstance(self._asked, Question) else Did()
        return given

    def wish(self) -> Wish | None:
        """Return the next thing that was wished for beside an answer."""
        return _next(self._wishes)

    def hear(self, block: Block, phase: Phase) -> None:
        """Sound tells this keeper nothing."""

    def press(self, key: str, words: str) -> str:
        """Take a key with what was typed after it; return what was wrong with that, or ""."""
        if key == "q":
            self.has_quit = True
            self.on_quit()
        elif key == "p":
            self.is_paused = not self.is_paused
        elif key == "u":
            self._wishes.put(Undo())
        elif key == "g":
            self._wishes.put(BestAgain())
        elif key == "n" and words.strip():
            self._wishes.put(Note(words.strip()))
        elif key in ("enter", "plus", "x") or key.isdigit():
            return self._answered({"enter": "", "plus": words, "x": "s"}.get(key, key))
        return ""

    def _answered(self, text: str) -> str:
        asked = self._asked
        if asked is None:
            return ""
        try:
            answer = answer_of(text, asked)
        except ConfigError as error:
            return str(error)
        self._asked = None
        self._answers.put(answer)
        return ""


Item = TypeVar("Item")


def _next(items: queue.SimpleQueue[Item]) -> Item | None:
    try:
        return items.get_nowait()
    except queue.Empty:
        return None


class LineKeeper:
    """A keeper who sends lines, one an answer; they may be sent ahead. The end of the lines is the keeper's leaving.

    "undo" takes the last move back, "best" goes back to the best setting so far, "note" with words keeps them in the
    log.
    """

    is_paused = False

    def __init__(self, stream: TextIO) -> None:
        self.has_quit = False
        self.complaint = ""
        self._asked: Asked | None = None
        self._wishes: list[Wish] = []
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
        words = (line or "q").strip()
        if words.lower() in ("q", "quit"):
            self.has_quit = True
        elif words.lower() in ("u", "undo"):
            self._wishes.append(Undo())
        elif words.lower() in ("g", "best"):
            self._wishes.append(BestAgain())
        elif words.lower().startswith(("n ", "note ")):
            self._wishes.append(Note(words.split(None, 1)[1]))
        elif self._asked is not None:
            try:
                return answer_of(words, self._asked)
            except ConfigError as error:
                self.complaint = str(error)
        return None

    def wish(self) -> Wish | None:
        """Return the next thing that was wished for beside an answer."""
        return self._wishes.pop(0) if self._wishes else None

    def hear(self, block: Block, phase: Phase) -> None:
        """Sound tells this keeper nothing."""
