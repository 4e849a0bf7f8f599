"""The live trace: the level as columns over some rows, with the room's floor as a line through it.

The newest column, at the right, is the last tenth of a second; the others are seconds.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import groupby
from operator import itemgetter

from rich.text import Text

from tuner.screens.meters import LOUD_STYLE, QUIET_STYLE, ROOM_STYLE
from tuner.screens.panels import LABEL_COLUMNS, Canvas, Lines, labelled
from tuner.screens.snapshot import Snapshot

LEAST_SPAN_DB, MARGIN_DB = 18.0, 3.0
OVER_DB = 1.0  # what a room itself comes and goes by
_STEPS = " ▁▂▃▄▅▆▇█"


def chart(levels_db: Sequence[float], floor_db: float | None, width: int, rows: int, ascii_only: bool) -> Lines:
    """Return the newest levels as ``rows`` lines of ``width`` columns, the top line first."""
    shown = list(levels_db[-width:])
    finite = [x for x in (*shown, floor_db) if x is not None and math.isfinite(x)]
    if not finite:
        return [Text(" " * width, no_wrap=True) for _ in range(rows)]
    low = min(finite) - MARGIN_DB
    span = max(max(finite) + MARGIN_DB - low, LEAST_SPAN_DB)
    eighths = [round((x - low) / span * rows * 8) if math.isfinite(x) else -1 for x in shown]
    room = None if floor_db is None or not math.isfinite(floor_db) else (floor_db - low) / span * rows
    over = [floor_db is not None and x > floor_db + OVER_DB for x in shown]
    lines: Lines = []
    for row in reversed(range(rows)):
        line = Text(" " * (width - len(shown)), no_wrap=True)
        is_room = room is not None and row == min(rows - 1, int(room))
        cells = []
        for level, is_over in zip(eighths, over, strict=True):
            cell = _cell(level - 8 * row, ascii_only)
            if is_room and cell == " ":
                cells.append((ROOM_STYLE, "-" if ascii_only else "╌"))
            else:
                is_loud = is_over and room is not None and row >= int(room)
                cells.append((LOUD_STYLE if is_loud else QUIET_STYLE, cell))
        # Neighbours of one style are one piece: less to send to the terminal.
        for style, run in groupby(cells, key=itemgetter(0)):
            line.append("".join(cell for _, cell in run), style)
        lines.append(line)
    return lines


def _cell(eighths: int, ascii_only: bool) -> str:
    step = max(0, min(8, eighths))
    if ascii_only:
        return "#" if step >= 5 else ":" if step >= 2 else " "
    return _STEPS[step]


def trace_lines(shot: Snapshot, canvas: Canvas, rows: int) -> Lines:
    """Return the live trace beside its label; nothing before there is a level."""
    levels = (*shot.trace_db, *(() if shot.now_db is None else (shot.now_db,)))
    if not levels:
        return []
    lines: Lines = []
    for number, drawn in enumerate(chart(levels, shot.floor_db, canvas.width - LABEL_COLUMNS, rows, canvas.ascii_only)):
        label = "trace" if number == 0 else "room --" if number == 1 and shot.floor_db is not None else ""
        line = labelled(label)
        line.append_text(drawn)
        lines.append(line)
    return lines
