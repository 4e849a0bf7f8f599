"""The keys of a full screen: the bar that shows all of them at any width, and the help that explains them.

Every key in the bar can be clicked as well. A key that does nothing at the moment stands there without its frame.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rich.style import Style
from rich.text import Text

from tuner.screens.panels import Canvas, Lines, wrapped

PRESS = "press"  # the mark on text that can be clicked; its value is the key
_GAP = 2


@dataclass(frozen=True, slots=True)
class Key:
    """One key.

    ``name`` is what is passed on when it is pressed, ``sign`` and ``word`` stand in the bar, ``meaning`` in the help.
    ``also`` are further keys that do the same. ``asks`` is what is to be typed after it, "" for nothing, and
    ``choices`` ready answers to that. ``works`` tells whether it does anything at the moment.
    """

    name: str
    sign: str
    word: str
    meaning: str
    also: tuple[str, ...] = ()
    asks: str = ""
    choices: tuple[str, ...] = ()
    works: bool = True


def key_lines(keys: Sequence[Key], canvas: Canvas) -> Lines:
    """Return the bar: every key with its word, in as many lines as the width needs."""
    lines: Lines = []
    line = Text(no_wrap=True)
    for key in keys:
        label = _label(key)
        gap = _GAP if line.cell_len else 0
        if line.cell_len and line.cell_len + gap + label.cell_len > canvas.width:
            lines.append(line)
            line, gap = Text(no_wrap=True), 0
        line.append(" " * gap)
        line.append_text(label)
    lines.append(line)
    return lines


def _label(key: Key) -> Text:
    if not key.works:
        return Text(f" {key.sign}  {key.word}", "dim")
    click = Style(meta={PRESS: key.name})
    label = Text(f" {key.sign} ", "bold reverse")
    label.append(f" {key.word}", "not bold not reverse")
    label.stylize(click)
    return label


def help_lines(keys: Sequence[Key], canvas: Canvas) -> Lines:
    """Return what every key does, one after the other."""
    lines: Lines = []
    for key in keys:
        signs = " ".join((key.sign, *(sign_of(other) for other in key.also)))
        lines += wrapped(signs, key.meaning, canvas)
    return lines


def sign_of(name: str) -> str:
    """Return how a key's name is shown.

    >>> sign_of("space"), sign_of("plus"), sign_of("d"), sign_of("ctrl+c")
    ('Space', '+', 'd', 'Ctrl-C')
    """
    shown = {
        "space": "Space", "plus": "+", "minus": "-", "question_mark": "?", "enter": "Enter", "escape": "Esc",
        "ctrl+c": "Ctrl-C",
    }
    return shown.get(name, name)
