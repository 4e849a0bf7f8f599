"""The page of one analysed recording: verdict, reasons, sounds along the time, levels, next move."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rich.console import Console, ConsoleOptions, RenderResult
from rich.text import Text

from tuner.screens import panels
from tuner.screens.lines import canvas_of
from tuner.screens.meters import share_bar, strip, trace
from tuner.screens.panels import Canvas, Lines
from tuner.screens.words import (
    clock_text,
    duration_text,
    level_text,
    move_text,
    over_room_text,
    percent_text,
)
from tuner.terms import SOUND_KINDS, Diagnosis, Question, Sound, Step

MOST_SOUNDS = 12
_NAME_COLUMNS = 24


@dataclass(frozen=True, slots=True)
class Findings:
    """What is known of one recording."""

    name: str
    duration_s: float
    sample_rate: int
    floor_db: float | None
    diagnosis: Diagnosis
    sounds: tuple[Sound, ...]
    step: Step | None
    question: Question | None
    rig_name: str
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class AnalysisPage:
    """Draws ``Findings``."""

    findings: Findings

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Draw the page."""
        yield from panels.laid_out(self._lines(canvas_of(console)))

    def _lines(self, canvas: Canvas) -> Iterator[Text]:
        f = self.findings
        yield panels.rule(canvas)
        about = f"{f.name} {canvas.dot} {duration_text(f.duration_s)} {canvas.dot} {f.sample_rate} Hz"
        yield from panels.unfolded("file", about, "bold")
        for note in f.notes:
            yield from panels.wrapped("!", note, canvas, panels.NOTICE_STYLE)
        yield from panels.cause(f.diagnosis, canvas, 10)
        yield from self._others(canvas)
        yield from self._levels(canvas)
        yield from self._sounds(canvas)
        yield from self._next(canvas)
        yield Text("")

    def _others(self, canvas: Canvas) -> Lines:
        lines: Lines = []
        width = max(8, min(30, canvas.width - panels.LABEL_COLUMNS - _NAME_COLUMNS - 8))
        for number, cause in enumerate(self.findings.diagnosis.causes[1:4]):
            line = Text(f"{'or' if number == 0 else '':<{panels.LABEL_COLUMNS}}", style=panels.LABEL_STYLE)
            line.append(f"{cause.name:<{_NAME_COLUMNS}}")
            line.append_text(share_bar(cause.probability, width, canvas.ascii_only))
            line.append(f" {percent_text(cause.probability):>5}")
            lines.append(line)
        return lines

    def _levels(self, canvas: Canvas) -> Iterator[Text]:
        f = self.findings
        levels = f.diagnosis.reading.levels
        words = level_text(levels.laeq_db, levels.calibrated)
        if over := over_room_text(levels.laeq_db, f.floor_db):
            words += f", {over}"
        yield from panels.wrapped("level", words, canvas)
        yield panels.bar(levels.laeq_db, f.floor_db, levels.calibrated, canvas)
        width = canvas.width - panels.LABEL_COLUMNS
        shares = (
            f"exceeded for 10 % of the time {levels.la10_db:.1f}, for half {levels.la50_db:.1f}, "
            f"for 90 % {levels.la90_db:.1f}; highest {levels.lafmax_db:.1f}"
        )
        yield from panels.wrapped("", shares, canvas, "dim")
        if levels.third_octave_db:
            low, high = levels.third_octave_hz[0], levels.third_octave_hz[-1]
            line = Text(f"{'bands':<{panels.LABEL_COLUMNS}}", style=panels.LABEL_STYLE)
            line.append_text(trace(levels.third_octave_db, None, width, canvas.ascii_only))
            line.append(f"  third-octaves {low:.0f} Hz to {high / 1000:.0f} kHz", "dim")
            yield line

    def _sounds(self, canvas: Canvas) -> Iterator[Text]:
        f = self.findings
        if not f.sounds:
            yield from panels.wrapped("sounds", "none", canvas)
            return
        width = canvas.width - panels.LABEL_COLUMNS - 10
        first = True
        for kind in SOUND_KINDS:
            spans = [(s.start_s, s.end_s) for s in f.sounds if s.kind == kind]
            if not spans:
                continue
            line = Text(f"{'sounds' if first else '':<{panels.LABEL_COLUMNS}}", style=panels.LABEL_STYLE)
            line.append(f"{kind:<9} ", "bold")
            line.append_text(strip(spans, f.duration_s, width, canvas.ascii_only))
            yield line
            first = False
        scale = Text(" " * (panels.LABEL_COLUMNS + 10) + "00:00", style="dim")
        end = clock_text(f.duration_s)
        scale.append(" " * max(1, width - 5 - len(end)) + end)
        yield scale
        for sound in f.sounds[:MOST_SOUNDS]:
            yield from panels.wrapped("", panels.sound_words(sound, canvas), canvas, most=1)
        if len(f.sounds) > MOST_SOUNDS:
            yield from panels.wrapped("", f"and {len(f.sounds) - MOST_SOUNDS} more", canvas, "dim")

    def _next(self, canvas: Canvas) -> Iterator[Text]:
        f = self.findings
        if f.question is not None:
            yield from panels.wrapped("look", f.question.text, canvas)
        if f.step is None:
            return
        yield from panels.wrapped("next", move_text(f.step), canvas, panels.MOVE_STYLE)
        yield from panels.wrapped("why", f.step.why, canvas)
        if f.step.expect:
            yield from panels.wrapped("expect", f.step.expect, canvas)
        yield from panels.wrapped("then", f"wait {duration_text(f.step.wait_s)} and listen again", canvas)
        if not f.rig_name:
            yield from panels.wrapped(
                "", "sized for a middling installation: name yours with --rig FILE", canvas, "dim"
            )
