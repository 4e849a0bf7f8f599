"""What the pages of a long listening share: a bar of the time, and points with how they stand."""

from __future__ import annotations

from collections.abc import Iterable

from tuner.screens.panels import LABEL_COLUMNS, Canvas, Lines, labelled, wrapped
from tuner.screens.words import clock_text, duration_text
from tuner.silence.points import Point, Standing

# Each stands with its own sign and its own word, so that the colour tells nothing that they do not.
_SIGNS: dict[Standing, tuple[str, str, str]] = {
    "holds": ("✓ ", "+ ", "bold green"), "open": ("… ", ". ", ""), "fails": ("✗ ", "x ", "bold red"),
}
_NAME = 7


def time_lines(done_s: float, whole_s: float, canvas: Canvas) -> Lines:
    """Return a bar of how much of the time has passed, with the times in words."""
    left_s = max(0.0, whole_s - done_s)
    words = f"{duration_text(done_s)} of {duration_text(whole_s)}, {duration_text(left_s)} left"
    width = canvas.width - LABEL_COLUMNS - len(words) - 2
    line = labelled("time")
    if width < 8:
        return wrapped("time", f"{duration_text(left_s)} left of {duration_text(whole_s)}", canvas, most=1)
    full = round(width * min(1.0, done_s / whole_s)) if whole_s > 0.0 else width
    ink, rest = ("#", ".") if canvas.ascii_only else ("█", "·")
    line.append(ink * full, "cyan")
    line.append(rest * (width - full), "dim")
    line.append(f"  {words}")
    return [line]


def point_lines(points: Iterable[Point], canvas: Canvas) -> Lines:
    """Return one line for each point: a sign, its name, how it stands, the figures."""
    lines: Lines = []
    for point in points:
        sign, ascii_sign, style = _SIGNS[point.standing]
        line = labelled("" if lines else "so far")
        mark = ascii_sign if canvas.ascii_only else sign
        line.append(f"{mark}{point.name:<{_NAME}}{point.standing:<7}", style)
        line.append(point.words)
        line.truncate(canvas.width, overflow="crop" if canvas.ascii_only else "ellipsis")
        lines.append(line)
    return lines


def span_text(start_s: float, end_s: float) -> str:
    """Return a stretch of time.

    >>> span_text(62.0, 75.4), span_text(62.0, 62.0)
    ('01:02 to 01:15', '01:02')
    """
    first, last = clock_text(start_s), clock_text(end_s)
    return first if first == last else f"{first} to {last}"
