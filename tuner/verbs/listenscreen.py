"""The full screen of ``listen``: its keys, and the picture that can be held while listening goes on."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from tuner.screens.listenpage import HOLD, NOTE, SOUNDS, WHY, listen_keys, listen_page, sounds_sheet, why_sheet
from tuner.screens.panels import Canvas, Lines
from tuner.screens.snapshot import Snapshot
from tuner.screens.theme import Look

if TYPE_CHECKING:
    from tuner.screens.full.app import FullScreen

_HELD = "the picture is held; listening goes on"


class ListenScreen:
    """Passes states on to a full screen.

    Parameters
    ----------
    note
        Takes the keeper's words for the log.
    leave
        Asks the listening to end.
    """

    def __init__(self, note: Callable[[str], None], leave: Callable[[], None]) -> None:
        self._note = note
        self._leave = leave
        self._held: Snapshot | None = None
        self._newest: Snapshot | None = None
        self._screen: FullScreen[Snapshot] | None = None

    def made(self, look: Look) -> FullScreen[Snapshot]:
        """Return the full screen, which shows what ``show`` was given last."""
        from tuner.screens.full.app import FullScreen, Play

        play = Play(
            draw=self._draw, keys=lambda _: listen_keys(self._held is not None), press=self._press,
            sheets={WHY: why_sheet, SOUNDS: sounds_sheet},
        )
        self._screen = FullScreen(play, look)
        return self._screen

    def show(self, snapshot: Snapshot, /) -> None:
        """Take the newest state; from any thread."""
        self._newest = snapshot
        if self._screen is not None:
            self._screen.show(snapshot)

    def _draw(self, shot: Snapshot, canvas: Canvas, rows: int) -> Lines:
        if self._held is not None:
            shot = replace(self._held, notice=_HELD)
        return listen_page(shot, canvas, rows)

    def _press(self, name: str, words: str) -> str:
        if name == HOLD:
            self._held = self._newest if self._held is None else None
        elif name == NOTE and words.strip():
            self._note(words.strip())
        elif name == "q":
            self._leave()
        return ""


