"""The page of ``listen``: what is heard in large letters, the level, its picture over the last seconds, the cause.

Parts that do not fit into the height are left out, the least needed first; what is left over goes to the picture.
"""

from __future__ import annotations

from rich.text import Text

from tuner.screens import panels
from tuner.screens.chart import trace_lines
from tuner.screens.keybar import Key
from tuner.screens.letters import BigWords
from tuner.screens.panels import Canvas, Lines
from tuner.screens.parts import Part, fitted
from tuner.screens.snapshot import Snapshot
from tuner.screens.spectrogram import lanes, spectrogram
from tuner.screens.words import percent_text

LEAST_ROWS, MOST_ROWS = 6, 25  # of the picture
STAYS = 6  # half seconds
NAMED = 0.5  # a kind is named when it is more likely heard than not
WHY, SOUNDS, NOTE, HOLD = "w", "s", "n", "space"


def listen_keys(held: bool) -> tuple[Key, ...]:
    """Return the keys of the page."""
    return (
        Key(WHY, "w", "why", "every likely cause, with its reasons"),
        Key(SOUNDS, "s", "sounds", "the newest sounds, with their times and levels"),
        Key(NOTE, "n", "note", "words to keep with this session in the log", asks="What is to be kept in the log?"),
        Key(HOLD, "Space", "go on" if held else "hold", "hold the picture, or let it go on; listening never stops"),
    )


def listen_page(shot: Snapshot, canvas: Canvas, rows: int) -> Lines:
    """Return the page of a state, at most ``rows`` lines."""
    small = rows < 16 or canvas.width < 44
    space = Part([Text("")], 9)
    picture = Part(_picture(shot, canvas, LEAST_ROWS), 4)
    notice = panels.wrapped("!", shot.notice, canvas, panels.NOTICE_STYLE, most=2) if shot.notice else []
    parts = [
        Part(panels.header(shot, canvas)),
        Part(_banner(shot, canvas, small)),
        space,
        Part(panels.level(shot, canvas)),
        Part(trace_lines(shot, canvas, 4 if rows >= 34 else 2), 6),
        space,
        picture,
        Part(lanes(shot.slices, canvas, 3), 5),
        space,
        Part(panels.heard(shot, canvas, 1 if rows < 30 else 3), 7),
        Part(panels.cause(shot.diagnosis, canvas, 0), 1),
        Part(_reasons(shot, canvas), 3),
        Part(notice),
    ]
    lines = fitted(parts, rows)
    at = next((i for i, line in enumerate(lines) if line is picture.lines[0]), None)
    if at is not None:
        high = min(MOST_ROWS, LEAST_ROWS + rows - len(lines))
        lines[at : at + LEAST_ROWS] = _picture(shot, canvas, high)
    return lines


def _picture(shot: Snapshot, canvas: Canvas, rows: int) -> Lines:
    return spectrogram(
        shot.slices, shot.bands_hz, canvas, rows, floor_db=shot.floor_db, calibrated=shot.calibrated
    )


def banner_of(shot: Snapshot) -> tuple[str, str]:
    """Return what stands in large letters, and its style; a sound stays there for some seconds, to be read."""
    if shot.heard and shot.heard[0][1] >= NAMED:
        return shot.heard[0][0].upper(), "bold magenta"
    if shot.glimpse is not None:
        return f"{shot.glimpse[0].upper()}?", "bold magenta"
    if late := next((s.kinds[0] for s in reversed(shot.slices[-STAYS:]) if s.kinds), None):
        return late.upper(), "bold magenta"
    if shot.outside >= NAMED:
        return "OUTSIDE", "bold yellow"
    if shot.diagnosis is not None and shot.diagnosis.silent:
        return "SILENT", "bold green"
    return "LISTEN", "bold cyan"


def _banner(shot: Snapshot, canvas: Canvas, small: bool) -> Lines:
    words, style = banner_of(shot)
    return list(BigWords((words,), style, most_rows=1 if small else None).rendered(canvas.width, canvas.ascii_only))


def _reasons(shot: Snapshot, canvas: Canvas) -> Lines:
    diagnosis = shot.diagnosis
    if diagnosis is None or diagnosis.silent or not diagnosis.causes:
        return []
    return panels.because(diagnosis.causes[0], canvas, 3)


def why_sheet(shot: Snapshot, canvas: Canvas) -> Lines:
    """Return every likely cause with its reasons."""
    diagnosis = shot.diagnosis
    if diagnosis is None or diagnosis.silent:
        return panels.cause(diagnosis, canvas, 0)
    lines: Lines = []
    for cause in diagnosis.causes:
        lines += panels.wrapped("cause", f"{cause.name}, {percent_text(cause.probability)}", canvas, panels.CAUSE_STYLE)
        lines += panels.because(cause, canvas, 20)
        lines.append(Text(""))
    return lines


def sounds_sheet(shot: Snapshot, canvas: Canvas) -> Lines:
    """Return the newest sounds."""
    return panels.sounds(shot, canvas, len(shot.sounds)) or panels.wrapped("sounds", "none has ended yet", canvas)
