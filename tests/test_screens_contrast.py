"""WCAG 2.2 contrast of what is really drawn: every page and dialog of the full screens, in both themes."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Iterator
from typing import Any

import pytest
from textual.pilot import Pilot
from textual.screen import Screen

from tests.test_screens_confirmpage import CONFIRMING, STARTING
from tests.test_screens_listenpage import SHOT
from tests.test_screens_tunepage import SHOTS
from tests.test_verbs_listenscreen import once
from tuner.screens.full.app import FullScreen, page_text
from tuner.screens.theme import LEAST_CONTRAST, THEMES, Look, Theme, contrast
from tuner.verbs.confirmscreen import ConfirmScreen
from tuner.verbs.keeper import ScreenKeeper
from tuner.verbs.listenscreen import ListenScreen
from tuner.verbs.restartscreen import RestartScreen
from tuner.verbs.tunescreen import TuneScreen

App = FullScreen[Any]


def listening(look: Look) -> App:
    return ListenScreen(lambda _: None, lambda: None).made(look)


def tuning(look: Look) -> App:
    return TuneScreen(ScreenKeeper(), look, None).screen


def confirming(look: Look) -> App:
    return ConfirmScreen(None).made(look, lambda _: None, lambda: None)


def restarting(look: Look) -> App:
    return RestartScreen(None).made(look, lambda: None, lambda _: None, lambda: None)


async def nothing(_pilot: Pilot[None]) -> None:
    pass


def pressing(*keys: str) -> Callable[[Pilot[None]], Awaitable[None]]:
    async def press(pilot: Pilot[None]) -> None:
        before = len(pilot.app.screen_stack)
        await pilot.press(keys[0])
        await once(pilot, lambda: len(pilot.app.screen_stack) > before)
        await pilot.press(*keys[1:])

    return press


async def complaining(pilot: Pilot[None]) -> None:
    app: App = pilot.app  # type: ignore[assignment]
    app.complaint = "answer='x' must be an amount"
    app._draw()


PAGES: dict[str, tuple[Callable[[Look], App], Any, Callable[[Pilot[None]], Awaitable[None]]]] = {
    **{f"tune {name}": (tuning, shot, nothing) for name, shot in SHOTS.items()},
    "tune wrong answer": (tuning, SHOTS["move"], complaining),
    "tune why": (tuning, SHOTS["move"], pressing("w")), "tune box": (tuning, SHOTS["move"], pressing("b")),
    "tune help": (tuning, SHOTS["move"], pressing("h")),
    "tune amount": (tuning, SHOTS["move"], pressing("plus", "1", "/", "4")),
    "listen": (listening, SHOT, nothing), "listen why": (listening, SHOT, pressing("w")),
    "listen note": (listening, SHOT, pressing("n", *"tap")),
    **{f"confirm {name}": (confirming, state, nothing) for name, state in CONFIRMING.items()},
    "confirm why": (confirming, CONFIRMING["disturbed"], pressing("w")),
    **{f"restart {name}": (restarting, state, nothing) for name, state in STARTING.items()},
    "restart cautions": (restarting, STARTING["on"], pressing("w")),
}


def inks(app: App, page: Screen[Any]) -> Iterator[tuple[str, str, str]]:
    """Give every piece of text that is drawn: the words, their colour, the colour behind them."""
    for strip in page._compositor.render_strips():
        for ready in app._filters:
            strip = strip.apply_filter(ready, page.background_colors[1])
        for text, style, _ in strip:
            if style is None or style.color is None or not any(c.isalnum() for c in text):
                continue
            ink, behind = style.color.get_truecolor().hex, (style.bgcolor or style.color).get_truecolor().hex
            yield (text, behind, ink) if style.reverse else (text, ink, behind)


@pytest.mark.parametrize("theme", THEMES, ids=lambda theme: theme.name)
@pytest.mark.parametrize("made", [tuning, listening, confirming, restarting])
def test_every_word_that_is_drawn_has_the_contrast_that_wcag_asks_for(
    made: Callable[[Look], App], theme: Theme
) -> None:
    async def act() -> None:
        app = made(Look(theme=theme))
        async with app.run_test(size=(120, 40)) as pilot:
            for name, (make, state, reach) in PAGES.items():
                if make is not made:
                    continue
                app.complaint = ""
                app.show(state)
                await once(pilot, lambda: "quit" in page_text(app))
                app._draw()
                await reach(pilot)
                await pilot.pause()
                drawn = list(inks(app, app.screen))
                assert sum(len(text) for text, _, _ in drawn) > 40, name
                poor = [piece for piece in drawn if contrast(piece[1], piece[2]) < LEAST_CONTRAST]
                assert poor == [], name
                if len(app.screen_stack) > 1:
                    await pilot.press("escape")
                    await once(pilot, lambda: len(app.screen_stack) == 1)

    asyncio.run(act())
