"""Bars: a level against the room, its course over the last minutes, and a probability. Readable without colour.

On a bar, what lies over the room's own level is drawn taller, in another character, than what lies below it, and the
room itself is a mark. In ASCII terminals other characters do the same.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from rich.text import Text

CALIBRATED_SPAN_DB = (15.0, 85.0)  # a bedroom at night to a vacuum cleaner
FULL_SCALE_SPAN_DB = (-100.0, -20.0)  # a quiet room to a loud one on common microphones
_STEPS = " ▁▂▃▄▅▆▇█"
_ASCII_STEPS = " .:-=+*%#"
QUIET_STYLE, LOUD_STYLE, ROOM_STYLE = "cyan", "bold magenta", "bold"


def span_of(calibrated: bool) -> tuple[float, float]:
    """Return the lowest and the highest level (dB) that bars show."""
    return CALIBRATED_SPAN_DB if calibrated else FULL_SCALE_SPAN_DB


def _share(level_db: float, span: tuple[float, float]) -> float:
    low, high = span
    return 0.0 if not math.isfinite(level_db) else min(1.0, max(0.0, (level_db - low) / (high - low)))


def level_bar(
    level_db: float | None, floor_db: float | None, span: tuple[float, float], width: int, ascii_only: bool
) -> Text:
    """Return a bar of ``width`` columns: the level, with the room as a mark.

    >>> level_bar(-50.0, -70.0, (-100.0, 0.0), 10, True).plain
    '[==|#    ]'
    """
    below, above, mark, empty = ("=", "#", "|", " ") if ascii_only else ("▄", "▇", "┃", "·")
    inner = max(1, width - 2)
    filled = 0 if level_db is None else round(_share(level_db, span) * inner)
    at = None if floor_db is None else min(inner - 1, round(_share(floor_db, span) * inner))
    bar = Text("[" if ascii_only else "▕", no_wrap=True)
    for column in range(inner):
        if column == at:
            bar.append(mark, ROOM_STYLE)
        elif column < filled:
            over = at is not None and column > at
            bar.append(above if over else below, LOUD_STYLE if over else QUIET_STYLE)
        else:
            bar.append(empty, "dim")
    bar.append("]" if ascii_only else "▏")
    return bar


def trace(levels_db: Sequence[float], floor_db: float | None, width: int, ascii_only: bool) -> Text:
    """Return the newest levels, one a column, scaled to what they span but never to less than 12 dB."""
    shown = [x for x in levels_db[-width:] if math.isfinite(x)]
    if not shown:
        return Text(" " * width, no_wrap=True)
    low = min([*shown, floor_db] if floor_db is not None and math.isfinite(floor_db) else shown)
    high = max(max(shown), low + 12.0)
    steps = _ASCII_STEPS if ascii_only else _STEPS
    drawn = Text(no_wrap=True)
    for level in levels_db[-width:]:
        share = 0.0 if not math.isfinite(level) else (level - low) / (high - low)
        # The lowest level still leaves a mark, so that a gap looks different from quiet.
        step = 0 if not math.isfinite(level) else max(1, round(share * (len(steps) - 1)))
        drawn.append(steps[step], LOUD_STYLE if floor_db is not None and share > 0.5 else QUIET_STYLE)
    return drawn


def share_bar(share: float, width: int, ascii_only: bool) -> Text:
    """Return a probability as a bar of ``width`` columns.

    >>> share_bar(0.5, 8, True).plain
    '####....'
    """
    full, empty = ("#", ".") if ascii_only else ("▇", "·")
    filled = round(min(1.0, max(0.0, share)) * width)
    return Text.assemble((full * filled, "cyan"), (empty * (width - filled), "dim"), no_wrap=True)


def strip(spans: Sequence[tuple[float, float]], duration_s: float, width: int, ascii_only: bool) -> Text:
    """Return the time from 0 to ``duration_s`` as ``width`` columns, with those marked in which a span lies.

    >>> strip([(2.0, 4.0)], 10.0, 10, True).plain
    '..##......'
    """
    full, empty = ("#", ".") if ascii_only else ("█", "·")
    marked = [False] * width
    for start_s, end_s in spans:
        first = min(width - 1, int(start_s / duration_s * width))
        last = max(first + 1, math.ceil(end_s / duration_s * width - 1e-9))
        marked[first:last] = [True] * (min(last, width) - first)
    drawn = Text(no_wrap=True)
    for is_marked in marked:
        drawn.append(full if is_marked else empty, LOUD_STYLE if is_marked else "dim")
    return drawn
