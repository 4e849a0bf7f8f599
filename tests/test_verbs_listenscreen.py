"""The full screen of ``listen`` by textual's pilot: every key of its help, the mouse, sizes and colours."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from dataclasses import replace

import pytest
from textual.pilot import Pilot

from tests.test_screens_listenpage import SHOT
from tuner.screens.full.app import ALWAYS, FullScreen, page_text
from tuner.screens.full.dialogs import Ask, Sheet
from tuner.screens.listenpage import listen_keys
from tuner.screens.snapshot import Snapshot
from tuner.screens.theme import Look
from tuner.verbs.listenscreen import ListenScreen

App = FullScreen[Snapshot]


class Stage:
    """A listening that shows one state and keeps what was asked of it."""

    is_over = False
    has_failed = False

    def __init__(self, look: Look) -> None:
        self.notes: list[str] = []
        self.screen = ListenScreen(self.notes.append, self._leave)
        self.app = self.screen.made(look)
        self.app.work = self

    def _leave(self) -> None:
        self.is_over = True


Scene = Callable[[Stage, Pilot[None]], Awaitable[None]]


def play(scene: Scene, size: tuple[int, int] = (80, 24), look: Look | None = None) -> None:
    async def act() -> None:
        stage = Stage(look or Look())
        async with stage.app.run_test(size=size) as pilot:
            stage.screen.show(SHOT)
            await until(pilot, stage, "listen")
            await scene(stage, pilot)

    asyncio.run(act())


async def until(pilot: Pilot[None], stage: Stage, words: str) -> None:
    for _ in range(500):
        if words in page_text(stage.app):
            return
        await pilot.pause(0.01)
    raise AssertionError(f"{words!r} did not come:\n{page_text(stage.app)}")


async def once(pilot: Pilot[None], true: Callable[[], bool]) -> None:
    for _ in range(500):
        if true():
            return
        await pilot.pause(0.01)
    raise AssertionError("it did not come about")


async def why(stage: Stage, pilot: Pilot[None]) -> None:
    await once(pilot, lambda: isinstance(stage.app.screen, Sheet))
    await pilot.press("escape")
    await once(pilot, lambda: not isinstance(stage.app.screen, Sheet))


async def note(stage: Stage, pilot: Pilot[None]) -> None:
    await once(pilot, lambda: isinstance(stage.app.screen, Ask))
    await pilot.press(*"tap", "enter")
    await once(pilot, lambda: stage.notes == ["tap"])


async def hold(stage: Stage, pilot: Pilot[None]) -> None:
    await until(pilot, stage, "picture is held")
    stage.screen.show(replace(SHOT, elapsed_s=200.0))
    await pilot.pause(0.2)
    assert "03:20" not in page_text(stage.app)
    await pilot.press("space")
    await until(pilot, stage, "03:20")
    assert "held" not in page_text(stage.app)


async def theme(stage: Stage, pilot: Pilot[None]) -> None:
    await once(pilot, lambda: not stage.app.current_theme.dark)


async def leave(stage: Stage, pilot: Pilot[None]) -> None:
    await once(pilot, lambda: stage.is_over)
    await once(pilot, lambda: not stage.app.is_running)


EFFECTS = {"w": why, "s": why, "n": note, "space": hold, "h": why, "t": theme, "q": leave}


@pytest.mark.parametrize("name", [key.name for key in (*listen_keys(False), *ALWAYS)])
def test_every_key_of_the_help_does_what_it_says(name: str) -> None:
    async def scene(stage: Stage, pilot: Pilot[None]) -> None:
        assert {key.name for key in stage.app.all_keys(SHOT)} == set(EFFECTS)
        await pilot.press(name)
        await EFFECTS[name](stage, pilot)

    play(scene)


@pytest.mark.parametrize("name", [key.name for key in (*listen_keys(False), *ALWAYS)])
@pytest.mark.parametrize("size", [(80, 24), (40, 10)])
def test_every_key_can_be_clicked(name: str, size: tuple[int, int]) -> None:
    async def scene(stage: Stage, pilot: Pilot[None]) -> None:
        key = next(key for key in stage.app.all_keys(SHOT) if key.name == name)
        rows = page_text(stage.app).split("\n")
        row = max(i for i, line in enumerate(rows) if f" {key.sign}  {key.word}" in line)
        await pilot.click("Page", offset=(rows[row].index(f" {key.sign}  {key.word}") + 1, row))
        await EFFECTS[name](stage, pilot)

    play(scene, size)


@pytest.mark.parametrize("look", [Look(colours="sixteen"), Look(colours="none"), Look(ascii_only=True)])
@pytest.mark.parametrize("size", [(80, 24), (40, 10), (200, 60)])
def test_it_is_drawn_in_few_colours_and_any_size(look: Look, size: tuple[int, int]) -> None:
    async def scene(stage: Stage, _pilot: Pilot[None]) -> None:
        text = page_text(stage.app)
        assert len(text.split("\n")) == size[1]
        assert all(len(line) < size[0] for line in text.split("\n"))
        assert "siphon over-closed" in text
        assert text.isascii() or not look.ascii_only

    play(scene, size, look)


def test_no_note_is_kept_where_nothing_was_typed() -> None:
    async def scene(stage: Stage, pilot: Pilot[None]) -> None:
        await pilot.press("n", "enter")
        await pilot.press("n", "escape")
        assert stage.notes == []

    play(scene)
