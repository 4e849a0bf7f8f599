"""Single keys from the terminal, without waiting for Enter; the terminal is put back as it was in every case."""

from __future__ import annotations

import os
import sys
from types import TracebackType
from typing import Any, Self, TextIO

ENTER, BACKSPACE = "\n", "\b"
_SAME = {"\r": ENTER, "\x7f": BACKSPACE}


def readable(text: str) -> str:
    """Return the keys among what a terminal sent: arrow and function keys are left out, Enter and Backspace unified.

    >>> readable("1/8\\r"), readable("\\x1b[A\\x1bOPq"), readable("a\\x7f")
    ('1/8\\n', 'q', 'a\\x08')
    """
    keys: list[str] = []
    escape = ""
    for character in text:
        if character == "\x1b":
            escape = character
        elif escape == "\x1b" and character in "[O":
            escape += character
        elif escape:
            escape = "" if character.isalpha() or character == "~" else escape
        else:
            keys.append(_SAME.get(character, character))
    return "".join(keys)


class Keys:
    """The terminal's keys while it is entered; ``poll`` never waits longer than it is told."""

    def __init__(self, stream: TextIO) -> None:
        self._descriptor = stream.fileno()
        self._before: Any = None

    def __enter__(self) -> Self:
        if sys.platform != "win32":
            import termios
            import tty

            self._before = termios.tcgetattr(self._descriptor)
            # Control characters keep their meaning, so that Ctrl-C still interrupts.
            tty.setcbreak(self._descriptor)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if sys.platform != "win32" and self._before is not None:
            import termios

            termios.tcsetattr(self._descriptor, termios.TCSADRAIN, self._before)

    def poll(self, wait_s: float) -> str:
        """Return the keys that came within ``wait_s`` seconds, or ""."""
        if sys.platform == "win32":
            return _poll_windows(wait_s)
        import select

        ready, _, _ = select.select([self._descriptor], [], [], wait_s)
        if not ready:
            return ""
        return readable(os.read(self._descriptor, 1024).decode("utf-8", "ignore"))


if sys.platform == "win32":  # pragma: no cover

    def _poll_windows(wait_s: float) -> str:
        import msvcrt
        import time

        end_s = time.monotonic() + wait_s
        while not msvcrt.kbhit():
            if time.monotonic() >= end_s:
                return ""
            time.sleep(0.02)
        return readable(msvcrt.getwch())
