"""The full screen: draws the newest frozen state and passes keys and clicks on. It decides nothing.

States come from the loop's thread at any rate (``show``); the screen draws the newest at most ``MOST_PER_S`` times a
second, and the loop never waits for it.
"""

from __future__ import annotations

import asyncio
import contextlib
import signal
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, ClassVar, Generic, Protocol, TypeVar

from rich.terminal_theme import TerminalTheme
from rich.text import Text
from textual import events
from textual.app import App, ComposeResult
from textual.binding import Binding, BindingType
from textual.theme import Theme as TextualTheme

from tuner.screens import theme as themes
from tuner.screens.full.dialogs import Ask, Sheet
from tuner.screens.full.driver import screen_driver
from tuner.screens.full.page import Page
from tuner.screens.keybar import Key, help_lines, key_lines
from tuner.screens.panels import Canvas, Lines
from tuner.screens.theme import Look

MOST_PER_S = 12.0
LOOK_IN_S = 0.2  # how often the end of the work is looked for
Shot = TypeVar("Shot")
HELP, THEME, QUIT = "h", "t", "q"
ALWAYS = (
    Key(HELP, "h", "help", "this page", also=("question_mark",)),
    Key(THEME, "t", "theme", "dark letters on a light page, or the other way round"),
    Key(QUIT, "q", "quit", "end; everything is kept in the log", also=("ctrl+c",)),
)


class Work(Protocol):
    """What goes on behind the screen, in a thread of its own."""

    @property
    def is_over(self) -> bool:
        """Whether it has ended."""
        ...

    @property
    def has_failed(self) -> bool:
        """Whether an error ended it."""
        ...


@dataclass(frozen=True, slots=True)
class Play(Generic[Shot]):
    """What a full screen shows and does.

    ``draw`` gives the page's lines for a state, a canvas and a number of rows. ``keys`` gives the keys for a state
    beside those that are always there. ``press`` takes a key's name and what was typed after it, and returns what was
    wrong with that, or "". ``sheets`` are keys that open a page to read, with the page's lines for a state. When the
    work has ended the screen closes after ``linger_s`` seconds (None: when q or Enter is pressed).
    """

    draw: Callable[[Shot, Canvas, int], Lines]
    keys: Callable[[Shot], tuple[Key, ...]]
    press: Callable[[str, str], str]
    sheets: Mapping[str, Callable[[Shot, Canvas], Lines]]
    linger_s: float | None = 0.0


class FullScreen(App[None], Generic[Shot]):
    """A page, its keys, and what lies over it for a while.

    ``work`` is what goes on behind it. After ``run``: ``interrupted`` tells that Ctrl-C ended it, ``failure`` is the
    error that broke the screen, or None.
    """

    ENABLE_COMMAND_PALETTE = False
    CSS: ClassVar[str] = "Screen { background: $background; color: $foreground; }"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+c", "interrupt", show=False, priority=True),
        Binding("ctrl+q", "press('q')", show=False, priority=True),
    ]

    def __init__(self, play: Play[Shot], look: Look) -> None:
        super().__init__(driver_class=screen_driver(), ansi_color=look.colours != "full")
        self.play = play
        self.work: Work | None = None
        self._linger_s = play.linger_s
        self.interrupted = False
        self.failure: BaseException | None = None
        self.complaint = ""
        self._ascii_only = look.ascii_only
        self._newest: Shot | None = None
        self._loop: asyncio.AbstractEventLoop | None = None
        self._is_woken = False
        self._drawn_s = 0.0
        self._over_s: float | None = None
        self._page = Page()
        self._plain = look.colours != "full"
        self._few_shades = themes.SIXTEEN_SHADES if look.colours == "sixteen" else ()
        for theme in themes.THEMES:
            self.register_theme(_textual_theme(theme))
        self.ansi_theme_dark, self.ansi_theme_light = _terminal_theme(themes.DARK), _terminal_theme(themes.LIGHT)
        self.theme = "ansi-dark" if self._plain else look.theme.name

    # ------------------------------------------------------------------ states

    def show(self, shot: Shot) -> None:
        """Take the newest state; from any thread, at any rate."""
        self._newest = shot
        loop = self._loop
        if loop is not None and not self._is_woken:
            self._is_woken = True
            with contextlib.suppress(RuntimeError):  # the screen has just closed
                loop.call_soon_threadsafe(self._wake)

    def _wake(self) -> None:
        assert self._loop is not None
        wait_s = self._drawn_s + 1.0 / MOST_PER_S - self._loop.time()
        self._loop.call_later(max(0.0, wait_s), self._draw_newest)

    def _draw_newest(self) -> None:
        self._is_woken = False
        assert self._loop is not None
        self._drawn_s = self._loop.time()
        try:
            self._draw()
        except Exception as error:
            self._handle_exception(error)

    def _draw(self) -> None:
        shot, size = self._newest, self.size
        if shot is None or not self._page.is_attached or size.width < 2:
            return
        # The last column stays free: some terminals wrap when it is written to.
        canvas = Canvas(size.width - 1, self._ascii_only, self._shades)
        foot: Lines = []
        if self.complaint:
            foot.append(Text(self.complaint, "bold red", no_wrap=True, overflow="ellipsis"))
        foot += key_lines(self.all_keys(shot), canvas)
        room = max(1, size.height - len(foot))
        lines = self.play.draw(shot, canvas, room)[:room]
        lines += [Text("")] * (room - len(lines))
        self._page.set_lines([*lines, *foot])

    @property
    def _shades(self) -> tuple[str, ...]:
        if self._plain:
            return self._few_shades
        return next(t.shades for t in themes.THEMES if t.name == self.theme)

    def all_keys(self, shot: Shot) -> tuple[Key, ...]:
        """Return every key that there is in a state."""
        always = tuple(key for key in ALWAYS if not (self._plain and key.name == THEME))
        return (*self.play.keys(shot), *always)

    # ------------------------------------------------------------------ life

    def compose(self) -> ComposeResult:
        """Give the page."""
        yield self._page

    def on_mount(self) -> None:
        """Begin to draw."""
        self._loop = asyncio.get_running_loop()
        self.set_interval(LOOK_IN_S, self._look_in)
        if sys.platform != "win32" and not self.is_headless:
            for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
                self._loop.add_signal_handler(number, self.action_interrupt)
        self._page.focus()
        self._draw_newest()

    def on_page_resized(self) -> None:
        """Lay the page out anew."""
        self._draw_newest()

    @property
    def _is_over(self) -> bool:
        return self.work is not None and self.work.is_over

    def _look_in(self) -> None:
        if self.work is None or not self.work.is_over:
            return
        assert self._loop is not None
        self._over_s = self._over_s or self._loop.time()
        linger_s = 0.0 if self.work.has_failed else self._linger_s
        if linger_s is not None and self._loop.time() - self._over_s >= linger_s:
            self.exit()

    def _handle_exception(self, error: Exception) -> None:
        self.failure = self.failure or error
        super()._handle_exception(error)
        # Whoever ran the screen says what went wrong, once the terminal is as it was.
        self._exit_renderables.clear()

    def action_interrupt(self) -> None:
        """End at once, as Ctrl-C does."""
        self.interrupted = True
        self.exit()

    # ------------------------------------------------------------------ keys

    def on_key(self, event: events.Key) -> None:
        """Take a key that nothing else has taken."""
        if len(self.screen_stack) > 1:
            return
        shot = self._newest
        names = {event.key, event.character or ""}
        for key in self.all_keys(shot) if shot is not None else ALWAYS:
            if key.name in names or names & set(key.also):
                event.stop()
                event.prevent_default()  # the sheet that it opens must not take it as well
                self.action_press(key.name)
                return

    def on_page_clicked(self, message: Page.Clicked) -> None:
        """Take a click on a key."""
        self.action_press(message.key)

    def action_press(self, name: str) -> None:
        """Do what a key does."""
        if self._is_over and name in (QUIT, "enter"):
            self.exit()
            return
        shot = self._newest
        key = next((k for k in (self.all_keys(shot) if shot is not None else ALWAYS) if k.name == name), None)
        if key is None or not key.works:
            return
        if name == HELP:
            self._open("Keys", lambda canvas: help_lines(self.all_keys(shot) if shot is not None else ALWAYS, canvas))
        elif name == THEME:
            self.theme = next(t.name for t in themes.THEMES if t.name != self.theme)
            self._draw_newest()
            self._page.refresh()
        elif name in self.play.sheets and shot is not None:
            self._open(key.meaning, lambda canvas: self.play.sheets[name](shot, canvas))
        elif key.asks:
            self._ask(key)
        else:
            self._pass_on(name, "")

    def _open(self, title: str, lines: Callable[[Canvas], Lines]) -> None:
        self.push_screen(Sheet(title, lines, ascii_only=self._ascii_only))

    def _ask(self, key: Key) -> None:
        def take(words: str | None) -> None:
            if words is not None:
                self._pass_on(key.name, words)

        self.push_screen(Ask(key.asks, key.choices, ascii_only=self._ascii_only), take)

    def _pass_on(self, name: str, words: str) -> None:
        if name == QUIT:
            self._linger_s = 0.0
        self.complaint = self.play.press(name, words)
        self._draw_newest()


def _textual_theme(theme: themes.Theme) -> TextualTheme:
    return TextualTheme(
        name=theme.name, dark=theme.dark, background=theme.ground, surface=theme.raised, panel=theme.raised,
        foreground=theme.text, primary=theme.blue, secondary=theme.cyan, accent=theme.cyan, warning=theme.yellow,
        error=theme.red, success=theme.green, text_alpha=1.0,
        variables={
            "input-cursor-background": theme.text, "input-cursor-foreground": theme.ground,
            "input-selection-background": theme.blue, "input-selection-foreground": theme.ground,
            "scrollbar": theme.faint, "scrollbar-background": theme.raised,
        },
    )


def _terminal_theme(theme: themes.Theme) -> TerminalTheme:
    inks = [themes.rgb(ink) for ink in theme.inks]
    bright = [themes.rgb(theme.faint), *inks[1:]]
    return TerminalTheme(themes.rgb(theme.ground), themes.rgb(theme.text), inks, bright)


def page_text(app: FullScreen[Any]) -> str:
    """Return what the page shows, as plain lines; for tests and pictures."""
    return "\n".join(line.plain for line in app._page._lines)
