"""The interview: some questions with their drawings, and what the answers change."""

from __future__ import annotations

import argparse
import contextlib
import io
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from rich.console import Console

from tests.desks import Keys, PaperDesk
from tests.pictures.drawing import console_svg
from tuner.verbs.rig_new import run

_ANSWERS = ("mm", "Kelpie", "26.6", "900", "gate")


class _Typed(Keys):
    """Answers that are seen as they are typed, as a terminal shows them."""

    def __init__(self, answers: tuple[str, ...], console: Console) -> None:
        super().__init__("".join(f"{answer}\n" for answer in answers), terminal=True)
        self._console = console

    def readline(self, size: int = -1, /) -> str:
        line = super().readline(size)
        self._console.print(line.rstrip("\n"), style="bold")
        return line


def pictures(scratch: Path) -> Iterator[tuple[str, str]]:
    """Give the picture's name and its SVG."""
    console = Console(
        record=True, width=84, force_terminal=True, color_system="truecolor", file=io.StringIO(), highlight=False,
        legacy_windows=False, emoji=False, markup=False,
    )
    desk = replace(PaperDesk().desk, console=console, keys=_Typed(_ANSWERS, console))
    with contextlib.chdir(scratch):
        run(argparse.Namespace(file=Path("my-rig.toml"), force=False, us=False), desk)
    yield "interview", console_svg(console, "interview", "hushweir rig new my-rig.toml")
