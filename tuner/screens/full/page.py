"""The page: lines of text that fill the screen. Only the lines that changed are drawn anew.

That keeps a screen that shows a living sound cheap for the processor and for a slow link.
"""

from __future__ import annotations

from typing import ClassVar

from rich.console import Console
from rich.text import Text
from textual import events
from textual.geometry import Region
from textual.message import Message
from textual.strip import Strip
from textual.widget import Widget

from tuner.screens.keybar import PRESS

_PLAIN = Console(width=400, color_system="truecolor", force_terminal=True, legacy_windows=False, _environ={})


class Page(Widget, can_focus=True):
    """Shows the lines that it was given last."""

    DEFAULT_CSS: ClassVar[str] = "Page { width: 1fr; height: 1fr; }"

    class Clicked(Message):
        """A key in the page was clicked."""

        def __init__(self, key: str) -> None:
            self.key = key
            super().__init__()

    class Resized(Message):
        """There is more or less room than before."""

    def __init__(self) -> None:
        super().__init__()
        self._lines: list[Text] = []

    def set_lines(self, lines: list[Text]) -> None:
        """Show ``lines``, the first at the top."""
        old, self._lines = self._lines, lines
        changed = [
            y for y in range(max(len(old), len(lines)))
            if (old[y] if y < len(old) else None) != (lines[y] if y < len(lines) else None)
            or (y < len(old) and y < len(lines) and not _same_style(old[y], lines[y]))
        ]
        width = self.size.width
        if changed and width:
            self.refresh(*(Region(0, y, width, 1) for y in changed))

    def render_line(self, y: int) -> Strip:
        """Return one line of the screen."""
        width = self.size.width
        base = self.rich_style
        if y >= len(self._lines):
            return Strip.blank(width, base)
        line = self._lines[y].copy()
        line.truncate(width, overflow="crop")
        line.end = ""
        line.stylize_before(line.style)  # a text without spans is rendered without its style
        return Strip(line.render(_PLAIN)).adjust_cell_length(width).apply_style(base)

    def on_resize(self, _event: events.Resize) -> None:
        """Tell that the lines have to be laid out anew."""
        self.post_message(self.Resized())

    def on_click(self, event: events.Click) -> None:
        """Pass on a click on something that can be clicked."""
        key = event.style.meta.get(PRESS)
        if isinstance(key, str):
            self.post_message(self.Clicked(key))


def _same_style(one: Text, other: Text) -> bool:
    return one.style == other.style and one.spans == other.spans
