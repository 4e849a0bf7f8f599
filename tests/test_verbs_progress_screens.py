"""The full screens of ``confirm`` and ``restart`` by textual's pilot: every key of their help, the mouse, looks."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from typing import Any

import pytest
from textual.pilot import Pilot

from tests.test_screens_confirmpage import CONFIRMING, STARTING
from tests.test_verbs_listenscreen import once
from tuner.screens.full.app import FullScreen, page_text
from tuner.screens.full.dialogs import Ask, Sheet
from tuner.screens.theme import Look
from tuner.verbs.confirmscreen import ConfirmScreen
from tuner.verbs.restartscreen import RestartScreen


class Stage:
    """Work that shows one state and keeps what was asked of it; it is over once it was left."""

    has_failed = False

    def __init__(self, verb: str, state: str, look: Look) -> None:
        self.asked: list[str] = []
        self.is_over = False
        self.screen: Any
        self.app: FullScreen[Any]
        if verb == "confirm":
            self.screen, self.shot = ConfirmScreen(None), CONFIRMING[state]
            self.app = self.screen.made(look, self._note, self._leave)
        else:
            self.screen, self.shot = RestartScreen(None), STARTING[state]
            self.app = self.screen.made(look, self._begin, self._note, self._leave)
        self.app.work = self

    def _note(self, words: str) -> None:
        self.asked.append(words)

    def _begin(self) -> None:
        self.asked.append("begin")

    def _leave(self) -> None:
        self.asked.append("leave")
        self.is_over = True


Scene = Callable[[Stage, Pilot[None]], Awaitable[None]]


def play(verb: str, state: str, scene: Scene, size: tuple[int, int] = (80, 24), look: Look | None = None) -> None:
    async def act() -> None:
        stage = Stage(verb, state, look or Look())
        async with stage.app.run_test(size=size) as pilot:
            stage.screen.show(stage.shot)
            await once(pilot, lambda: "quit" in page_text(stage.app))
            await scene(stage, pilot)

    asyncio.run(act())


async def sheet(stage: Stage, pilot: Pilot[None]) -> None:
    await once(pilot, lambda: isinstance(stage.app.screen, Sheet))
    await pilot.press("escape")
    await once(pilot, lambda: not isinstance(stage.app.screen, Sheet))


async def note(stage: Stage, pilot: Pilot[None]) -> None:
    await once(pilot, lambda: isinstance(stage.app.screen, Ask))
    await pilot.press("enter")
    await pilot.press("n", *"cat", "enter")
    await once(pilot, lambda: stage.asked == ["cat"])


async def begin(stage: Stage, pilot: Pilot[None]) -> None:
    await once(pilot, lambda: stage.asked == ["begin"])


async def theme(stage: Stage, pilot: Pilot[None]) -> None:
    await once(pilot, lambda: not stage.app.current_theme.dark)


async def leave(stage: Stage, pilot: Pilot[None]) -> None:
    await once(pilot, lambda: stage.asked == ["leave"])
    await once(pilot, lambda: not stage.app.is_running)


EFFECTS = {"w": sheet, "h": sheet, "n": note, "t": theme, "q": leave, "enter": begin}
CASES = [
    *(("confirm", "listening", name) for name in EFFECTS if name != "enter"),
    *(("restart", "ready", name) for name in EFFECTS),
]


@pytest.mark.parametrize(("verb", "state", "name"), CASES)
def test_every_key_of_the_help_does_what_it_says(verb: str, state: str, name: str) -> None:
    async def scene(stage: Stage, pilot: Pilot[None]) -> None:
        keys = {key.name for key in stage.app.all_keys(stage.shot)}
        assert keys == {case[2] for case in CASES if case[0] == verb}
        await pilot.press(name)
        await EFFECTS[name](stage, pilot)

    play(verb, state, scene)


@pytest.mark.parametrize(("verb", "state", "name"), CASES)
def test_every_key_can_be_clicked_in_a_small_window(verb: str, state: str, name: str) -> None:
    async def scene(stage: Stage, pilot: Pilot[None]) -> None:
        key = next(key for key in stage.app.all_keys(stage.shot) if key.name == name)
        rows = page_text(stage.app).split("\n")
        row = max(i for i, line in enumerate(rows) if f" {key.sign}  {key.word}" in line)
        await pilot.click("Page", offset=(rows[row].index(f" {key.sign}  {key.word}") + 1, row))
        await EFFECTS[name](stage, pilot)

    play(verb, state, scene, (40, 10))


@pytest.mark.parametrize(("verb", "state"), [("confirm", "done"), ("restart", "done")])
def test_the_end_stays_until_it_was_read(verb: str, state: str) -> None:
    async def scene(stage: Stage, pilot: Pilot[None]) -> None:
        stage.is_over = True
        await pilot.pause(0.3)
        assert stage.app.is_running
        await pilot.press("enter")
        await once(pilot, lambda: not stage.app.is_running)

    play(verb, state, scene)


@pytest.mark.parametrize("look", [Look(colours="sixteen"), Look(colours="none"), Look(ascii_only=True)])
@pytest.mark.parametrize(("verb", "state"), [("confirm", "disturbed"), ("restart", "on")])
def test_it_is_drawn_in_few_colours(verb: str, state: str, look: Look) -> None:
    async def scene(stage: Stage, _pilot: Pilot[None]) -> None:
        text = page_text(stage.app)
        assert len(text.split("\n")) == 24
        assert text.isascii() or not look.ascii_only
        assert ("holds" if verb == "confirm" else "air is driven out") in text

    play(verb, state, scene, look=look)
