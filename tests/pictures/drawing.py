"""Terminal pages as SVG without anything from outside: a reader's browser needs no font and no network."""

from __future__ import annotations

import io
import re

from rich.console import Console, RenderableType
from rich.terminal_theme import TerminalTheme

from tuner.screens.theme import DARK, rgb

_FONT_FACE = re.compile(r"@font-face \{.*?\}\s*", re.DOTALL)
_FAMILY = re.compile(r"font-family: (?:Fira Code|arial)[^;]*;")
_MADE_WITH = re.compile(r"\s*<!-- .*? -->")
_UNIQUE = re.compile(r"terminal-\d+")


def tidied(svg: str, name: str) -> str:
    """Return an SVG without fonts to fetch, and with the same names inside each time."""
    svg = _MADE_WITH.sub("", _FONT_FACE.sub("", svg))
    svg = _FAMILY.sub("font-family: 'DejaVu Sans Mono', Menlo, Consolas, monospace;", svg)
    return _UNIQUE.sub(f"screen-{name}", svg)


def page_svg(page: RenderableType, name: str, *, columns: int = 80, title: str = "hushweir") -> str:
    """Return a printed page."""
    console = Console(
        record=True, width=columns, force_terminal=True, color_system="truecolor", file=io.StringIO(), highlight=False,
        legacy_windows=False,
    )
    console.print(page, crop=False, overflow="ignore", no_wrap=True)
    return console_svg(console, name, title)


def console_svg(console: Console, name: str, title: str) -> str:
    """Return what a recording console has printed."""
    inks = [rgb(ink) for ink in DARK.inks]
    theme = TerminalTheme(rgb(DARK.ground), rgb(DARK.text), inks, inks)
    return tidied(console.export_svg(title=title, theme=theme), name)
