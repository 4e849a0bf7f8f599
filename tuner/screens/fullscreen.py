"""Full screens from parts, and ``TuningScreen`` for the guided loop.

A screen is built from parts in the order in which they stand; parts that do not fit into the height are left out,
the least needed first. What stands in the last line (the keys) always stays.
"""

from __future__ import annotations

from dataclasses import dataclass

from rich.console import Console, ConsoleOptions, RenderResult
from rich.text import Text

from tuner.screens import panels
from tuner.screens.letters import BigWords
from tuner.screens.panels import Canvas, Lines
from tuner.screens.snapshot import Snapshot

_BANNER_STYLE = {"move": "bold yellow", "question": "bold yellow", "done": "bold green"}


@dataclass(frozen=True, slots=True)
class Part:
    """Some lines and how much they are needed: 0 is never left out, larger numbers go first."""

    lines: Lines
    need: int = 0


def fitted(parts: list[Part], rows: int) -> Lines:
    """Return the lines of the parts that fit into ``rows``, in order; those needed least are left out first."""
    kept = [part for part in parts if part.lines]
    while sum(len(part.lines) for part in kept) > rows:
        least = max(range(len(kept)), key=lambda i: (kept[i].need, i))
        if kept[least].need == 0:
            break
        del kept[least]
    return [line for part in kept for line in part.lines][: max(1, rows)]


def _size(console: Console, options: ConsoleOptions) -> tuple[Canvas, int]:
    rows = options.height or console.size.height
    # The last column stays free: some terminals wrap when it is written to.
    return Canvas(max(1, options.max_width - 1), options.ascii_only), rows


def _page(body: list[Part], foot: Lines, rows: int) -> RenderResult:
    room = max(1, rows - len(foot))
    lines = fitted(body, room)
    lines += [Text("")] * (room - len(lines))
    page = Text("\n").join([*lines, *foot])
    page.no_wrap = True
    page.overflow = "crop"
    yield page


def _foot(snapshot: Snapshot, canvas: Canvas) -> Lines:
    lines: Lines = []
    if snapshot.notice:
        lines += panels.wrapped("!", snapshot.notice, canvas, panels.NOTICE_STYLE, most=2)
    if snapshot.typed:
        lines += panels.wrapped("typed", snapshot.typed + "_", canvas, "bold", most=1)
    lines.append(Text(snapshot.keys, style="dim", no_wrap=True, overflow="crop"))
    return lines


@dataclass(frozen=True, slots=True)
class TuningScreen:
    """The screen of ``tune``: the next move very large, below what is heard and why."""

    snapshot: Snapshot

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Draw the state into the height at hand."""
        canvas, rows = _size(console, options)
        shot = self.snapshot
        waits = shot.phase in ("move", "question")
        space = Part([Text("")], 9)
        body = [
            Part(panels.header(shot, canvas)),
            Part(panels.level(shot, canvas), 5 if waits else 0),
            Part(panels.course(shot, canvas), 7),
            space,
            Part(panels.heard(shot, canvas, 3), 6 if waits else 1),
            Part(panels.cause(shot.diagnosis, canvas, 0 if shot.phase == "move" else 5), 1),
            Part([Text("")], 2),
            Part(self._banner(canvas, rows)),
            Part([Text("")], 3),
            Part(self._reason(canvas)),
            Part(panels.moves(shot, canvas, 5), 4),
        ]
        yield from _page(body, _foot(shot, canvas), rows)

    def _banner(self, canvas: Canvas, rows: int) -> Lines:
        style = _BANNER_STYLE.get(self.snapshot.phase, "bold cyan")
        words = BigWords(panels.banner_words(self.snapshot), style, most_rows=rows - 8)
        return list(words.rendered(canvas.width, canvas.ascii_only))

    def _reason(self, canvas: Canvas) -> Lines:
        shot = self.snapshot
        if shot.phase == "listening" and shot.step is not None:
            return panels.wrapped("why", shot.step.why, canvas, most=3)
        if shot.phase == "move" and shot.step is not None:
            lines = panels.wrapped("why", shot.step.why, canvas, "bold" if shot.step.amount == 0 else "", most=4)
            if shot.step.expect:
                lines += panels.wrapped("expect", shot.step.expect, canvas, most=2)
            return lines
        if shot.phase == "question" and shot.question is not None:
            choices = "   ".join(f"{n}  {choice}" for n, choice in enumerate(shot.question.choices, 1))
            return [
                *panels.wrapped("look", shot.question.text, canvas, "bold", most=3),
                *panels.wrapped("answer", choices, canvas, most=3),
            ]
        return []
