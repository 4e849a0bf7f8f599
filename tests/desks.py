"""A desk whose streams a test can read and fill."""

from __future__ import annotations

import io
from datetime import UTC, datetime

from rich.console import Console

from tuner.verbs.desk import Desk


class Keys(io.StringIO):
    """What a keeper types; ``terminal`` tells whether it counts as typed at one."""

    def __init__(self, text: str, *, terminal: bool = False) -> None:
        super().__init__(text)
        self._terminal = terminal

    def isatty(self) -> bool:
        return self._terminal


class PaperDesk:
    """A desk with what it printed in ``out``."""

    def __init__(self, typed: str = "", *, width: int = 80, ascii_only: bool = False, terminal: bool = False) -> None:
        class Page(io.StringIO):
            encoding = "ascii" if ascii_only else "utf-8"

        self.page = Page()
        console = Console(
            file=self.page, width=width, height=24, highlight=False, emoji=False, markup=False,
            force_terminal=terminal, color_system=None, legacy_windows=False,
        )
        self.desk = Desk(
            console, io.StringIO(), Keys(typed, terminal=terminal), lambda: datetime(2026, 1, 1, tzinfo=UTC),
            lambda: 0.0, lambda _: None,
        )

    @property
    def out(self) -> str:
        return self.page.getvalue()

    @property
    def lines(self) -> list[str]:
        return self.out.splitlines()
