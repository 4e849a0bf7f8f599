"""A trend on the screen: a sentence, then each figure's course with its changes and its drift."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from rich.console import Console, ConsoleOptions, RenderResult
from rich.text import Text

from tuner.logbook.history import Trend
from tuner.logbook.trend import ChangePoint, Course, DriftFound
from tuner.screens import panels
from tuner.screens.lines import canvas_of
from tuner.screens.panels import Canvas
from tuner.screens.words import count_text
from tuner.units import amount_text

_STEPS, _ASCII_STEPS = "▁▂▃▄▅▆▇█", ".:-=+*%#"
_MOST_CHANGES = 8
_BAR_STYLE = "cyan"


@dataclass(frozen=True, slots=True)
class TrendPage:
    """The page of one trend."""

    trend: Trend

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Draw the page."""
        yield from panels.laid_out(self._lines(canvas_of(console)))

    def _lines(self, canvas: Canvas) -> Iterator[Text]:
        t = self.trend
        said = trend_sentence(t)
        for line in textwrap.wrap(f"{said[:1].upper()}{said[1:]}.", canvas.width):
            yield Text(line, "bold")
        yield panels.rule(canvas)
        about = ", ".join(x for x in (t.rig_name, t.device) if x)
        yield from panels.wrapped("system", about, canvas)
        span = f"{count_text(t.sessions, 'session')}, {day(t.began)} to {day(t.ended)}"
        yield from panels.wrapped("heard", span, canvas)
        for left in t.left_out:
            yield from panels.wrapped("without", f"the levels of {left}", canvas, "dim")
        for course in t.courses:
            yield Text("")
            yield from _course_lines(course, canvas)


def trend_sentence(trend: Trend) -> str:
    """Return the trend in one sentence without a full stop: what will be noticed first, else what drifts, else rest."""
    said: list[str] = []
    for course in trend.courses:
        drift = course.drift
        if drift is None or not drift.sure:
            continue
        rate = f"{course.name} {'rises' if drift.per_month > 0 else 'falls'} by {_amount(abs(drift.per_month))}" \
            f" {course.unit} a month"
        if drift.noticed is not None:
            said.insert(0, f"{rate}: at this pace {drift.noticed.words} about {day(drift.noticed.likely)}"
                           f" ({_interval(drift)})")
        else:
            said.append(rate)
    changed = sum(len(course.changes) for course in trend.courses)
    if changed:
        said.append(f"{count_text(changed, 'change')} found, listed below")
    return "; ".join(said) or "nothing changed and nothing drifts that can be told from chance"


def _interval(drift: DriftFound) -> str:
    assert drift.noticed is not None
    early = f"95 % sure not before {day(drift.noticed.earliest)}"
    return early if drift.noticed.latest is None else f"{early}, and by {day(drift.noticed.latest)}"


def day(moment: datetime) -> str:
    """Return a moment's day as the keeper's calendar has it."""
    return f"{moment.astimezone():%d %b %Y}"


def _course_lines(course: Course, canvas: Canvas) -> Iterator[Text]:
    values = [p.value for p in course.points]
    words = f"{course.name}: {count_text(len(values), 'value')}, {_amount(min(values))} to {_amount(max(values))}" \
        f" {course.unit}, latest {_amount(values[-1])}"
    for part in textwrap.wrap(words, canvas.width):
        yield Text(part, "bold")
    line = Text(f"{'course':<{panels.LABEL_COLUMNS}}", style=panels.LABEL_STYLE)
    yield line.append_text(_spark(course, max(10, canvas.width - panels.LABEL_COLUMNS), canvas.ascii_only))
    ends = f"{day(course.points[0].when)}{'':<80}"[: max(10, canvas.width - panels.LABEL_COLUMNS) - 11]
    yield Text(f"{'':<{panels.LABEL_COLUMNS}}{ends}{day(course.points[-1].when)}", "dim")
    for number, change in enumerate(course.changes[-_MOST_CHANGES:]):
        yield from panels.wrapped("changes" if number == 0 else "", _change_words(course, change), canvas)
        for move in change.moves:
            done = move.move.done if move.move.done is not None else move.move.amount
            what = f"{move.move.control} {'+' if done > 0 else '-'}{amount_text(done, move.move.unit)}"
            yield from panels.wrapped("", f"  {day(move.made)} {what}", canvas, "dim")
        for note in change.notes:
            yield from panels.wrapped("", f"  {day(note.note.made)} {' '.join(note.note.text.split())}", canvas, "dim",
                                      most=2)
    if len(course.changes) > _MOST_CHANGES:
        yield from panels.wrapped("", f"and {len(course.changes) - _MOST_CHANGES} changes before these", canvas, "dim")
    yield from panels.wrapped("drift", _drift_words(course), canvas)


def _change_words(course: Course, change: ChangePoint) -> str:
    when = day(change.latest)
    if day(change.earliest) != when:
        when = f"between {day(change.earliest)} and {when}"
    what = "a step" if change.kind == "step" else "another drift"
    beside = "" if change.moves or change.notes else "; nothing was noted about then"
    return f"{when}: {what}, {_amount(change.before)} to {_amount(change.after)} {course.unit}{beside}"


def _drift_words(course: Course) -> str:
    drift = course.drift
    if drift is None:
        return "too few values since the last change to tell"
    span = f"{drift.low_per_month:+.3g} to {drift.high_per_month:+.3g}"
    words = f"{drift.per_month:+.3g} {course.unit} a month (95 %: {span}) since {day(drift.since)}"
    if not drift.sure:
        return f"none that can be told from chance: {words}"
    if drift.noticed is not None:
        words += f"; at this pace {drift.noticed.words} about {day(drift.noticed.likely)}, {_interval(drift)}"
    return words


def _amount(value: float) -> str:
    return f"{value:.1f}" if abs(value) < 1000 else f"{value:.0f}"


def _spark(course: Course, width: int, ascii_only: bool) -> Text:
    """Return the course as one line: means of equal stretches of time, changes marked where they lie."""
    first, last = course.points[0].when, course.points[-1].when
    span = max(1.0, (last - first).total_seconds())
    cells: list[list[float]] = [[] for _ in range(width)]
    for point in course.points:
        cells[min(width - 1, int((point.when - first).total_seconds() / span * width))].append(point.value)
    means = [sum(cell) / len(cell) if cell else None for cell in cells]
    known = [m for m in means if m is not None]
    low, high = min(known), max(known)
    steps = _ASCII_STEPS if ascii_only else _STEPS
    drawn = Text(no_wrap=True)
    marks = {min(width - 1, int((c.latest - first).total_seconds() / span * width)) for c in course.changes}
    for column, mean in enumerate(means):
        if mean is None:
            drawn.append(" ")
        else:
            share = (mean - low) / (high - low) if high > low else 0.0
            drawn.append(steps[round(share * (len(steps) - 1))], "bold magenta" if column in marks else _BAR_STYLE)
    return drawn
