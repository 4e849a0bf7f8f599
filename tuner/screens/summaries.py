"""What is left on the screen at the end: the verdict of a listening, and a tuning with its before and after."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from rich.console import Console, ConsoleOptions, RenderResult
from rich.text import Text

from tuner.coach import Summary
from tuner.screens import panels
from tuner.screens.lines import canvas_of
from tuner.screens.panels import Canvas, Lines
from tuner.screens.snapshot import MoveLine
from tuner.screens.words import change_text, count_text, duration_text, level_text, over_room_text, percent_text
from tuner.terms import Diagnosis


def log_line(session: int, path: Path) -> Lines:
    """Return where the session can be read again."""
    return panels.unfolded("log", f"session {session} in {path}", "dim")


@dataclass(frozen=True, slots=True)
class ListenSummary:
    """What a listening came to, over all its windows."""

    diagnoses: tuple[Diagnosis, ...]
    heard_s: float
    calibrated: bool
    floor_db: float | None
    sounds: int
    session: int
    path: Path

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Draw the verdicts, the level and the newest reasons."""
        canvas = canvas_of(console)
        lines: Lines = [panels.rule(canvas)]
        heard = f"{duration_text(self.heard_s)}, {count_text(self.sounds, 'sound')}"
        lines += panels.wrapped("heard", heard, canvas, "bold")
        if not self.diagnoses:
            lines += panels.wrapped("verdict", "none: too little was heard", canvas)
        else:
            lines += self._verdicts(canvas)
            lines += panels.cause(self.diagnoses[-1], canvas, 8)
            now_db = self.diagnoses[-1].reading.levels.laeq_db
            words = level_text(now_db, self.calibrated)
            if over := over_room_text(now_db, self.floor_db):
                words += f", {over}"
            lines += panels.wrapped("level", words, canvas)
        lines += log_line(self.session, self.path)
        yield from panels.laid_out(lines)

    def _verdicts(self, canvas: Canvas) -> Lines:
        if len(self.diagnoses) < 2:
            return []
        names = Counter("silent" if d.silent else d.causes[0].name for d in self.diagnoses)
        listed = ", ".join(f"{name} in {count}" for name, count in names.most_common(4))
        return panels.wrapped("windows", f"of {len(self.diagnoses)}: {listed}; the newest:", canvas)


@dataclass(frozen=True, slots=True)
class TuneSummary:
    """A tuning at its end: before and after, the moves, what the coach says."""

    summary: Summary
    first: Diagnosis | None
    last: Diagnosis | None
    moves: tuple[MoveLine, ...]
    calibrated: bool
    floor_db: float | None
    session: int
    path: Path

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Draw both levels on one scale, and the words."""
        canvas = canvas_of(console)
        lines: Lines = [Text(""), panels.rule(canvas)]
        if self.first is not None and self.last is not None:
            before_db, after_db = self.first.reading.levels.laeq_db, self.last.reading.levels.laeq_db
            lines += self._level("before", before_db, panels.verdict_text(self.first), canvas)
            lines += self._level("after", after_db, panels.verdict_text(self.last), canvas)
            lines += panels.wrapped("change", self._change(before_db, after_db), canvas, "bold")
        style = panels.SILENT_STYLE if self.summary.tuned else panels.NOTICE_STYLE
        lines += panels.wrapped("end", self.summary.text, canvas, style)
        lines += self._margins(canvas)
        lines += log_line(self.session, self.path)
        yield from panels.laid_out(lines)

    def _change(self, before_db: float, after_db: float) -> str:
        made = sum(1 for move in self.moves if move.done)
        return f"{change_text(before_db, after_db)} after {count_text(made, 'move')}"

    def _level(self, label: str, level_db: float, verdict: str, canvas: Canvas) -> Lines:
        words = f"{level_text(level_db, self.calibrated)}, {verdict}"
        if over := over_room_text(level_db, self.floor_db):
            words = f"{level_text(level_db, self.calibrated)}, {over}, {verdict}"
        bar = panels.bar(level_db, self.floor_db, self.calibrated, canvas)
        return [*panels.wrapped(label, words, canvas, "bold"), bar]

    def _margins(self, canvas: Canvas) -> Lines:
        less, more = self.summary.less_flow, self.summary.more_flow
        if less is None or more is None:
            return []
        words = f"the quiet should bear {percent_text(less)} less and {percent_text(more)} more flow from the pump"
        return panels.wrapped("margin", words, canvas)
