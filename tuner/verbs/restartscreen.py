"""The full screen of ``restart``: states go to it, the keeper's begin, notes and wish to end come from it."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from tuner.screens.restartpage import BEGIN, NOTE, WHY, RestartShot, caution_sheet, restart_keys, restart_page
from tuner.screens.theme import Look

if TYPE_CHECKING:
    from tuner.screens.full.app import FullScreen


class RestartScreen:
    """Passes states on to a full screen, which shows the end for ``linger_s`` seconds (None: until a key)."""

    def __init__(self, linger_s: float | None) -> None:
        self._linger_s = linger_s
        self._screen: FullScreen[RestartShot] | None = None

    def made(
        self, look: Look, begin: Callable[[], None], note: Callable[[str], None], leave: Callable[[], None]
    ) -> FullScreen[RestartShot]:
        """Return the full screen; ``begin`` lets the first call come, ``note`` takes words, ``leave`` ends it."""
        from tuner.screens.full.app import FullScreen, Play

        def press(name: str, words: str) -> str:
            if name == BEGIN:
                begin()
            elif name == NOTE and words.strip():
                note(words.strip())
            elif name == "q":
                leave()
            return ""

        play = Play(
            draw=restart_page, keys=restart_keys, press=press, sheets={WHY: caution_sheet}, linger_s=self._linger_s
        )
        self._screen = FullScreen(play, look)
        return self._screen

    def show(self, state: RestartShot, /) -> None:
        """Take the newest state; from any thread."""
        if self._screen is not None:
            self._screen.show(state)
