"""The full screen by textual's pilot: states, keys, clicks, dialogs, sizes, colours and its end."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable

import pytest
from rich.text import Text
from textual.pilot import Pilot
from textual.widgets import Input

from tuner.screens import theme as themes
from tuner.screens.full.app import FullScreen, Play, page_text
from tuner.screens.full.dialogs import Ask, Sheet
from tuner.screens.keybar import Key, help_lines, key_lines
from tuner.screens.panels import Canvas, Lines
from tuner.screens.theme import Look

KEYS = (
    Key("enter", "Enter", "done", "the move is made", also=("d",)),
    Key("plus", "+", "other amount", "another amount was turned", also=("minus",), asks="How much?",
        choices=("1/8", "1/4")),
    Key("w", "w", "why", "why this move"),
    Key("u", "u", "undo", "take the last move back", works=False),
)
Stage = tuple[FullScreen[int], list[tuple[str, str]], list[bool]]
Scene = Callable[[FullScreen[int], Pilot[None], list[tuple[str, str]], list[bool]], Awaitable[None]]


def stage(look: Look | None = None, *, linger_s: float | None = 0.0) -> Stage:
    pressed: list[tuple[str, str]] = []
    over = [False]

    def press(name: str, words: str) -> str:
        pressed.append((name, words))
        return "answer='bad' must be an amount" if words == "bad" else ""

    def draw(shot: int, canvas: Canvas, rows: int) -> Lines:
        if shot < 0:
            raise ZeroDivisionError("a fault in the drawing")
        return [Text(f"state {shot} {canvas.width}x{rows}", "bold cyan")]

    sheets = {"w": lambda shot, _: [Text(f"because of {shot}")]}
    app = FullScreen(Play(draw, lambda _: KEYS, press, sheets, linger_s), look or Look())

    class Work:
        has_failed = False

        @property
        def is_over(self) -> bool:
            return over[0]

    app.work = Work()
    return app, pressed, over


def play(
    scene: Scene, size: tuple[int, int] = (80, 24), look: Look | None = None, linger_s: float | None = 0.0
) -> None:
    async def act() -> None:
        app, pressed, over = stage(look, linger_s=linger_s)
        async with app.run_test(size=size) as pilot:
            app.show(1)
            await drawn(app, pilot, "state 1")
            await scene(app, pilot, pressed, over)

    asyncio.run(act())


async def until(pilot: Pilot[None], true: Callable[[], bool]) -> None:
    for _ in range(500):
        if true():
            return
        await pilot.pause(0.01)
    raise AssertionError(f"it did not come about:\n{page_text(pilot.app)}")  # type: ignore[arg-type]


async def drawn(app: FullScreen[int], pilot: Pilot[None], words: str) -> None:
    await until(pilot, lambda: words in page_text(app))


def test_the_newest_state_is_drawn() -> None:
    async def scene(app: FullScreen[int], pilot: Pilot[None], *_: object) -> None:
        for shot in range(50):
            app.show(shot)
        await drawn(app, pilot, "state 49 79x22")

    play(scene)


@pytest.mark.parametrize(("keys", "wanted"), [
    (("enter",), [("enter", "")]), (("d",), [("enter", "")]), (("u",), []), (("z",), []), (("q",), [("q", "")]),
    (("ctrl+q",), [("q", "")]),
])
def test_keys_are_passed_on(keys: tuple[str, ...], wanted: list[tuple[str, str]]) -> None:
    async def scene(_app: object, pilot: Pilot[None], pressed: list[tuple[str, str]], _over: object) -> None:
        await pilot.press(*keys)
        assert pressed == wanted

    play(scene)


def test_an_amount_is_asked_for_and_a_wrong_one_complained_about() -> None:
    async def scene(app: FullScreen[int], pilot: Pilot[None], pressed: list[tuple[str, str]], _over: object) -> None:
        await pilot.press("plus")
        assert isinstance(app.screen, Ask)
        await pilot.press(*"3/16", "enter")
        assert pressed == [("plus", "3/16")]
        await pilot.press("minus", *"bad", "enter")
        await drawn(app, pilot, "must be an amount")
        await pilot.press("plus", "escape")
        assert len(pressed) == 2
        await pilot.press("plus")
        app.screen.query_one(Input).value = ""
        await pilot.click("Ask Page", offset=(2, 0))
        assert pressed[2:] == [("plus", "1/8")]

    play(scene)


def test_help_and_reasons_open_and_close() -> None:
    async def scene(app: FullScreen[int], pilot: Pilot[None], *_: object) -> None:
        for key in ("h", "question_mark", "w"):
            await pilot.press(key)
            await until(pilot, lambda: isinstance(app.screen, Sheet))
            await pilot.press("escape")
            await until(pilot, lambda: not isinstance(app.screen, Sheet))

    play(scene)


def test_a_line_keeps_its_style() -> None:
    async def scene(app: FullScreen[int], *_: object) -> None:
        strip = app.query_one("Page").render_line(0)
        first = next(segment for segment in strip if segment.text.startswith("state"))
        assert first.style is not None
        assert first.style.bold
        assert first.style.color is not None
        assert first.style.color.name == "cyan"

    play(scene)


@pytest.mark.parametrize("size", [(80, 24), (40, 10), (200, 50)])
def test_every_key_is_shown_and_can_be_clicked_at_any_size(size: tuple[int, int]) -> None:
    async def scene(app: FullScreen[int], pilot: Pilot[None], pressed: list[tuple[str, str]], _over: object) -> None:
        rows = page_text(app).split("\n")
        for key in app.all_keys(1):
            assert f" {key.sign}  {key.word}" in page_text(app)
        row = next(i for i, line in enumerate(rows) if "Enter  done" in line)
        await pilot.click("Page", offset=(rows[row].index("Enter"), row))
        assert pressed == [("enter", "")]
        assert all(len(line) < size[0] for line in rows)
        assert len(rows) == size[1]

    play(scene, size)


def test_the_page_follows_the_size_of_the_window() -> None:
    async def scene(app: FullScreen[int], pilot: Pilot[None], *_: object) -> None:
        for size in ((40, 10), (3, 2), (1, 1), (150, 44), (80, 24)):
            await pilot.resize_terminal(*size)
            await pilot.pause()
        await drawn(app, pilot, "state 1 79x22")

    play(scene)


def test_the_theme_changes_at_a_key() -> None:
    async def scene(app: FullScreen[int], pilot: Pilot[None], *_: object) -> None:
        assert app.current_theme.dark
        await pilot.press("t")
        assert not app.current_theme.dark
        await pilot.press("t")
        assert app.current_theme.dark

    play(scene)


def test_few_colours_are_the_terminals_own() -> None:
    async def scene(app: FullScreen[int], _pilot: object, *_: object) -> None:
        assert app.native_ansi_color
        assert "theme" not in page_text(app)

    play(scene, look=Look(colours="sixteen"))


def test_it_closes_when_the_work_is_over() -> None:
    async def scene(app: FullScreen[int], pilot: Pilot[None], _pressed: object, over: list[bool]) -> None:
        over[0] = True
        await until(pilot, lambda: not app.is_running)

    play(scene)


def test_it_stays_for_a_key_where_the_end_is_to_be_read() -> None:
    async def scene(app: FullScreen[int], pilot: Pilot[None], pressed: object, over: list[bool]) -> None:
        over[0] = True
        await pilot.pause(0.3)
        assert app.is_running
        await pilot.press("enter")
        assert not app.is_running
        assert pressed == []

    play(scene, linger_s=None)


def test_ctrl_c_interrupts() -> None:
    async def scene(app: FullScreen[int], pilot: Pilot[None], *_: object) -> None:
        await pilot.press("ctrl+c")
        assert app.interrupted

    play(scene)


def test_a_fault_in_the_drawing_ends_it_with_the_fault() -> None:
    app, *_ = stage()

    async def act() -> None:
        async with app.run_test() as pilot:
            app.show(-1)
            for _ in range(100):
                await pilot.pause(0.01)

    with pytest.raises(ZeroDivisionError):
        asyncio.run(act())
    assert isinstance(app.failure, ZeroDivisionError)


def test_the_bar_wraps_and_the_help_tells_every_key() -> None:
    narrow = [line.plain for line in key_lines(KEYS, Canvas(20, False))]
    assert len(narrow) > 1
    assert all(len(line) <= 22 for line in narrow)
    text = "\n".join(line.plain for line in help_lines(KEYS, Canvas(60, False)))
    for key in KEYS:
        assert key.meaning in text
    assert "Enter d" in text


def test_every_theme_has_its_own_name_and_kind() -> None:
    assert [t.dark for t in themes.THEMES] == [True, False]
    assert len({t.name for t in themes.THEMES}) == 2
