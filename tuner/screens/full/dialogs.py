"""What lies over a full screen for a while: a sheet to read, and a line to type."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import ClassVar

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from tuner.screens.full.page import Page
from tuner.screens.keybar import Key, key_lines
from tuner.screens.panels import Canvas, Lines

_BACK = Key("escape", "Esc", "back", "go back")


class Sheet(ModalScreen[None]):
    """Some lines to read, with a bar that leads back; it scrolls where it is longer than the screen."""

    CSS: ClassVar[str] = """
    Sheet { background: $background; }
    Sheet VerticalScroll { height: 1fr; padding: 0 1; scrollbar-size-vertical: 1; }
    Sheet Static { width: 1fr; height: auto; }
    Sheet Page { height: 1; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,enter,q,h,w,question_mark,space", "back", show=False),
    ]

    def __init__(self, title: str, lines: Callable[[Canvas], Lines], *, ascii_only: bool) -> None:
        super().__init__()
        self._title = title
        self._lines = lines
        self._ascii_only = ascii_only

    def compose(self) -> ComposeResult:
        """Give the parts."""
        with VerticalScroll():
            yield Static()
        yield Page()

    def on_mount(self) -> None:
        """Draw it, once the width is known."""
        self.query_one(VerticalScroll).focus()
        self._draw()

    def on_resize(self) -> None:
        """Draw it for the new width."""
        self.call_after_refresh(self._draw)

    def _draw(self) -> None:
        if not self.query(Static):
            return  # the first size comes before the parts are there
        canvas = Canvas(max(10, self.app.size.width - 4), self._ascii_only)
        lines = [Text(self._title, "bold"), Text(""), *self._lines(canvas)]
        self.query_one(Static).update(Text("\n").join(lines))
        self.query_one(Page).set_lines(key_lines([_BACK], canvas))

    def on_page_clicked(self, message: Page.Clicked) -> None:
        """Go back."""
        message.stop()
        self.action_back()

    def action_back(self) -> None:
        """Go back."""
        self.dismiss(None)


class Ask(ModalScreen[str | None]):
    """A line to type, with ready answers that one digit or one click gives; None when it was left."""

    CSS: ClassVar[str] = """
    Ask { background: $background; align: center middle; }
    Ask Vertical { width: 100%; max-width: 70; height: auto; background: $surface; padding: 0 1; }
    Ask Static { width: 1fr; height: auto; background: $surface; }
    Ask Page { height: auto; background: $surface; }
    Ask Input { background: $background; color: $foreground; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "back", show=False)]

    def __init__(self, asks: str, choices: Sequence[str], *, ascii_only: bool) -> None:
        super().__init__()
        self._asks = asks
        self._choices = tuple(choices)
        self._ascii_only = ascii_only
        self._bar = [
            *(Key(choice, choice, "", "") for choice in self._choices),
            Key("enter", "Enter", "take it", ""), _BACK,
        ]

    def compose(self) -> ComposeResult:
        """Give the parts."""
        with Vertical():
            yield Static(Text(self._asks, "bold"))
            yield Input(compact=True, max_length=200)
            yield Page()

    def on_mount(self) -> None:
        """Be ready to be typed into."""
        self.query_one(Input).focus()
        self._draw()

    def on_resize(self) -> None:
        """Lay out the bar anew."""
        self.call_after_refresh(self._draw)

    def _draw(self) -> None:
        if not self.query(Page):
            return  # the first size comes before the parts are there
        lines = key_lines(self._bar, Canvas(max(10, min(68, self.app.size.width - 3)), self._ascii_only))
        page = self.query_one(Page)
        page.styles.height = len(lines)
        page.set_lines(lines)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Take what was typed."""
        event.stop()
        self.dismiss(event.value)

    def on_page_clicked(self, message: Page.Clicked) -> None:
        """Take a ready answer, what was typed, or leave."""
        message.stop()
        if message.key == "escape":
            self.dismiss(None)
        elif message.key == "enter":
            self.dismiss(self.query_one(Input).value)
        else:
            self.dismiss(message.key)

    def action_back(self) -> None:
        """Leave it."""
        self.dismiss(None)
