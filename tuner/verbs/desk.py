"""The desk at which a verb works: what it prints on, what it is told through, the clock and the files."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, TextIO

from rich.console import Console, RenderableType

from tuner.errors import HushweirError
from tuner.logbook.rows import utc_text
from tuner.logbook.store import Logbook
from tuner.plain import plain

INTERRUPTED = 130  # what shells expect of a program that Ctrl-C ended


@dataclass(frozen=True, slots=True)
class Desk:
    """``console`` prints, ``errors`` takes lines about what went wrong, ``keys`` is where a keeper types.

    ``clock`` gives the time of day, ``seconds`` a time that never goes back, ``sleep`` waits.
    """

    console: Console
    errors: TextIO
    keys: TextIO
    clock: Callable[[], datetime]
    seconds: Callable[[], float]
    sleep: Callable[[float], None]

    @property
    def is_live(self) -> bool:
        """Whether a full screen can be drawn here and keys can be read."""
        return self.console.is_terminal and not self.console.is_dumb_terminal and self.keys.isatty()

    def tell(self, line: str) -> None:
        """Print one line, however long; names and notes in it cannot act on the terminal."""
        self.console.print(plain(line), soft_wrap=True)

    def page(self, page: RenderableType) -> None:
        """Print a page whose lines may be longer than the console is wide."""
        self.console.print(page, crop=False, overflow="ignore", no_wrap=True)

    def say(self, line: str) -> None:
        """Say one line about what went wrong."""
        self.errors.write(f"hushweir: {plain(' '.join(line.split()))}\n")
        self.errors.flush()

    def fail(self, error: HushweirError) -> None:
        """Say an error as one line."""
        self.say(str(error))

    def write_json(self, value: Any) -> None:
        """Write one JSON object on one line; what JSON lacks becomes null (infinities) or UTC text (moments)."""
        import json

        # ASCII, so that it comes through any encoding unchanged.
        self.console.file.write(json.dumps(_finite(value), allow_nan=False) + "\n")

    def logbook(self, path: Path | None, *, look_only: bool = False, must_exist: bool = False) -> Logbook:
        """Open the logbook at ``path``, or where it lies by default; with ``must_exist`` none is begun."""
        from tuner.logbook.file import default_path

        place = path or default_path()
        if must_exist and not place.exists():
            look_only = True  # which says that there is none
        return Logbook(place, clock=self.clock, look_only=look_only)


def _finite(value: Any) -> Any:
    if isinstance(value, float):
        return value if value - value == 0.0 else None
    if isinstance(value, datetime):
        return utc_text(value)
    if isinstance(value, dict):
        return {key: _finite(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_finite(item) for item in value]
    return value


def make_desk() -> Desk:
    """Return the desk of this process: its standard streams and the computer's clocks."""
    for stream in (sys.stdout, sys.stderr):
        # A terminal or pipe that cannot show a character shows "?" instead of ending the program.
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    console = Console(highlight=False, emoji=False, markup=False)
    return Desk(console, sys.stderr, sys.stdin, lambda: datetime.now(UTC), time.monotonic, time.sleep)
