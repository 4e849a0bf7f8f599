"""The greeting: what the program does, what is there and what is missing, and the one next thing to do."""

from __future__ import annotations

import shlex
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from rich.console import Console, ConsoleOptions, RenderResult
from rich.text import Text

from tuner.screens import panels
from tuner.screens.lines import canvas_of
from tuner.screens.panels import Canvas, Lines, wrapped
from tuner.screens.words import level_text

ABOUT = (
    "It listens with an ordinary microphone to an aquarium's overflow, tells which drain makes the noise and why, gives"
    " the next small move until it is silent, proves the silence and keeps the log."
)
_MARKS = {"done": "[x]", "open": "[ ]", "begun": "[~]", "bad": "[!]"}
_STYLES = {"done": panels.SILENT_STYLE, "open": "", "begun": "bold", "bad": panels.NOTICE_STYLE}


@dataclass(frozen=True, slots=True)
class Named:
    """A rig file: its name in the folder, the rig's own name, and how far it is filled in."""

    file: str
    rig: str
    finished: bool = False
    asked: int = 0
    questions: int = 0
    assumed: int = 0
    trouble: str = ""


@dataclass(frozen=True, slots=True)
class When:
    """Something that was done: when, whether it came out well, with which microphone, a word on it, a level (dB(A))."""

    made: datetime
    good: bool
    device: str
    words: str = ""
    level_db: float | None = None
    calibrated: bool = False


@dataclass(frozen=True, slots=True)
class Known:
    """What is known of this installation; None for what was never done. ``trouble`` is why a logbook cannot be read."""

    rig: Named | None = None
    rig_in_log: str = ""
    logbook: Path | None = None
    sessions: int = 0
    microphone: When | None = None
    room: When | None = None
    tuned: When | None = None
    silence: When | None = None
    restart: When | None = None
    trouble: str = ""


@dataclass(frozen=True, slots=True)
class Item:
    """One line of the list: how it stands, what it is, and in words; the command and the reason for when it is next."""

    state: str
    name: str
    words: str
    command: str
    reason: str


def items_of(known: Known) -> tuple[Item, ...]:
    """Return the list in the order in which it is done."""
    rig = "" if known.rig is None or not known.rig.finished else f" --rig {shlex.quote(known.rig.file)}"
    return (
        _rig(known), _microphone(known.microphone), _room(known.room),
        _proof("tuning", known.tuned, "not tuned yet", "silent", f"hushweir tune{rig}",
               "One small move at a time, in letters to be read from the floor."),
        _proof("silence", known.silence, "not proven", "proven", f"hushweir confirm{rig}",
               "A quarter of an hour of listening proves it, with a number."),
        _proof("restart", known.restart, "not rehearsed", "starts by itself", f"hushweir restart{rig}",
               "A guided power cut shows whether it starts by itself, before a real one does."),
    )


def next_of(items: tuple[Item, ...]) -> tuple[str, str]:
    """Return the command to give next, and why."""
    for item in items:
        if item.state != "done":
            return item.command, item.reason
    return "hushweir listen", "All is done. Listen again when something sounds different; 'hushweir log' has the rest."


def _date(when: datetime) -> str:
    here = when.astimezone()
    return f"{here.day} {here:%B %Y}"


def _rig(known: Known) -> Item:
    rig = known.rig
    if rig is None and known.rig_in_log:
        return Item("done", "rig", f"{known.rig_in_log!r} in the logbook; its file is not in this folder", "", "")
    if rig is None:
        return Item(
            "open", "rig", "not described: sizes of pipes, valve and pump", "hushweir rig new",
            "Ten minutes with a tape measure; 'don't know' is an answer, and you can leave and go on.",
        )
    again = f"hushweir rig new {shlex.quote(rig.file)}"
    if rig.trouble:
        check = f"hushweir rig check {shlex.quote(rig.file)}"
        return Item("bad", "rig", f"{rig.file} cannot be used", check, rig.trouble)
    if not rig.finished:
        words = f"{rig.file} begun: {rig.asked} of {rig.questions} questions"
        return Item("begun", "rig", words, again, "It goes on where you left.")
    name = f"{rig.rig!r} in {rig.file}" if rig.rig else rig.file
    return Item("done", "rig", f"{name}, {rig.assumed} figures assumed", "", "")


def _microphone(check: When | None) -> Item:
    command = "hushweir mic check"
    if check is None:
        return Item(
            "open", "microphone", "not checked for gain control and noise suppression", command,
            "Half a minute: a device that suppresses steady sound would call every drain silent.",
        )
    if not check.good:
        found = f": {check.words}" if check.words else ", not put to the test"
        return Item(
            "bad", "microphone", f"not to be trusted ({_date(check.made)}){found}", command,
            "Switch its processing off, or take another with --device, and check again.",
        )
    return Item("done", "microphone", f"honest: {check.device}, {_date(check.made)}", "", "")


def _room(room: When | None) -> Item:
    if room is None:
        return Item(
            "open", "room", "not measured with the pumps off", "hushweir floor",
            "Half a minute with the pumps off: silence is told from noise by it.",
        )
    return Item("done", "room", f"{level_text(room.level_db, room.calibrated)}, {_date(room.made)}", "", "")


def _proof(name: str, done: When | None, never: str, well: str, command: str, reason: str) -> Item:
    if done is None:
        return Item("open", name, never, command, reason)
    if done.good:
        return Item("done", name, f"{well}, {_date(done.made)}", "", "")
    words = done.words or "did not come to its end"
    return Item("begun", name, f"{words}, {_date(done.made)}", command, reason)


@dataclass(frozen=True, slots=True)
class WelcomePage:
    """Draws ``Known``."""

    known: Known

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Draw the page."""
        yield from panels.laid_out(self._lines(canvas_of(console)))

    def _lines(self, canvas: Canvas) -> Iterator[Text]:
        known = self.known
        yield Text.assemble((" hushweir ", panels.NAME_STYLE), "  from a noisy overflow to a silent one")
        yield panels.rule(canvas)
        yield from wrapped("", ABOUT, canvas)
        yield Text("")
        items = items_of(known)
        for item in items:
            yield from _item(item, canvas)
        if known.trouble:
            yield from wrapped("!", known.trouble, canvas, panels.NOTICE_STYLE)
        yield Text("")
        command, reason = next_of(items)
        yield from wrapped("NEXT", command, canvas, "bold")
        yield from wrapped("", reason, canvas)
        yield Text("")
        yield from self._else(canvas)

    def _else(self, canvas: Canvas) -> Lines:
        known = self.known
        lines: Lines = []
        if not known.sessions:
            lines += wrapped("first?", "hushweir demo      watch a simulated tank: no microphone, no water", canvas)
        lines += wrapped("noise?", "hushweir listen    names what it hears now, even without the rest", canvas)
        if known.sessions:
            lines += wrapped("before", "hushweir log       what was heard and done", canvas)
        lines += wrapped("all", "hushweir --help    every verb; 'hushweir VERB --help' for one", canvas)
        lines += wrapped(
            "CAUTION", "never put hands into the water while a pump is plugged in; keep the emergency pipe free.",
            canvas, "bold",
        )
        return lines


def _item(item: Item, canvas: Canvas) -> Lines:
    return wrapped(_MARKS[item.state], f"{item.name:<11} {item.words}", canvas, _STYLES[item.state], most=2)
