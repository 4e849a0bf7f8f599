"""The full screen of ``tune``: states go to it, keys to the keeper."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tuner.screens.snapshot import Snapshot
from tuner.screens.theme import Look
from tuner.screens.tunepage import box_sheet, tune_keys, tune_page, why_sheet
from tuner.verbs.keeper import ScreenKeeper

if TYPE_CHECKING:
    from tuner.screens.full.app import FullScreen


class TuneScreen:
    """Passes states on to a full screen.

    Parameters
    ----------
    keeper
        Takes the keys.
    look
        How it is drawn.
    linger_s
        How long the end stays to be read; None until a key is pressed.
    """

    def __init__(self, keeper: ScreenKeeper, look: Look, linger_s: float | None) -> None:
        from tuner.screens.full.app import FullScreen, Play

        play = Play(
            draw=tune_page, keys=tune_keys, press=keeper.press, sheets={"w": why_sheet, "b": box_sheet},
            linger_s=linger_s,
        )
        self.screen: FullScreen[Snapshot] = FullScreen(play, look)

    def show(self, snapshot: Snapshot, /) -> None:
        """Take the newest state; from any thread."""
        self.screen.show(snapshot)
