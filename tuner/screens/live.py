"""The live screen: the only owner of a rich ``Live``. It pulls the newest snapshot; the loop never waits for it."""

from __future__ import annotations

from collections.abc import Callable
from types import TracebackType
from typing import Self

from rich.console import Console, RenderableType
from rich.live import Live
from rich.text import Text

from tuner.screens.snapshot import Snapshot

REFRESH_PER_S = 8


class LiveScreen:
    """Draws the newest snapshot on the terminal's second page; the first page is as before when it ends.

    Parameters
    ----------
    console
        A console on a terminal.
    draw
        Makes the renderable of a snapshot.
    """

    def __init__(self, console: Console, draw: Callable[[Snapshot], RenderableType]) -> None:
        self._draw = draw
        self._newest: Snapshot | None = None
        self._drawn: Snapshot | None = None
        self._live = Live(Text(""), console=console, screen=True, auto_refresh=False, redirect_stdout=False,
                          redirect_stderr=False, vertical_overflow="crop")

    def __enter__(self) -> Self:
        self._live.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._live.stop()

    def show(self, snapshot: Snapshot) -> None:
        """Take the newest state; from any thread, at any rate."""
        self._newest = snapshot

    def refresh(self) -> None:
        """Draw the newest state; called at ``REFRESH_PER_S`` by the thread that owns the terminal."""
        newest = self._newest
        if newest is not None:
            self._drawn = newest
            self._live.update(self._draw(newest), refresh=True)
