"""The full screen of ``confirm``: states go to it, notes and the wish to end come from it."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from tuner.screens.confirmpage import NOTE, WHY, ConfirmShot, confirm_keys, confirm_page, why_sheet
from tuner.screens.theme import Look

if TYPE_CHECKING:
    from tuner.screens.full.app import FullScreen


class ConfirmScreen:
    """Passes states on to a full screen, which shows the verdict for ``linger_s`` seconds (None: until a key)."""

    def __init__(self, linger_s: float | None) -> None:
        self._linger_s = linger_s
        self._screen: FullScreen[ConfirmShot] | None = None

    def made(self, look: Look, note: Callable[[str], None], leave: Callable[[], None]) -> FullScreen[ConfirmShot]:
        """Return the full screen; ``note`` takes words for the log, ``leave`` ends the listening."""
        from tuner.screens.full.app import FullScreen, Play

        def press(name: str, words: str) -> str:
            if name == NOTE and words.strip():
                note(words.strip())
            elif name == "q":
                leave()
            return ""

        play = Play(
            draw=confirm_page, keys=confirm_keys, press=press, sheets={WHY: why_sheet}, linger_s=self._linger_s
        )
        self._screen = FullScreen(play, look)
        return self._screen

    def show(self, state: ConfirmShot, /) -> None:
        """Take the newest state; from any thread."""
        if self._screen is not None:
            self._screen.show(state)
