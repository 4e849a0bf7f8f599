"""The last half minute as a picture: pitch upwards, time to the right, and below it when which sound was heard.

Two pitches share a character cell (its upper and its lower half) where there are colours; without colours one
character a cell stands for how loud it was. Levels are A-weighted: what shows is what is heard.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from rich.style import Style
from rich.text import Text

from tuner.screens.panels import LABEL_COLUMNS, LABEL_STYLE, Canvas, Lines
from tuner.screens.snapshot import Slice
from tuner.screens.words import duration_text
from tuner.sound.weighting import a_weighting_db
from tuner.terms import SoundKind

LEAST_SPAN_DB = 40.0
UNDER_ROOM_DB = 12.0  # a band of a quiet room lies about so far under the sum of all bands
LOUD_SHARE = 0.99  # of the picture's cells: a slammed door must not darken the rest
SLICE_S = 0.5
LOWEST_HZ = 50.0  # what lies below is hardly heard
_MARKED_HZ = (125.0, 500.0, 2000.0, 8000.0)
_UPPER_HALF = "▀"
_SIGNS, _ASCII_SIGNS = " ░▒▓█", " .:-=+*#%@"
_PLAIN = "not bold default"
Steps = NDArray[np.int64]


def spectrogram(
    slices: Sequence[Slice], bands_hz: Sequence[float], canvas: Canvas, rows: int, *,
    floor_db: float | None = None, calibrated: bool = False,
) -> Lines:
    """Return the newest slices as ``rows`` lines, the last of them the axis of time.

    One column is one slice of half a second, the newest at the right; ``bands_hz`` are the third-octave centres of
    the slices. Where the room's level is known the scale begins just under it, so that a quiet room stays dark.
    A slice without bands (sound that was lost) is left empty.
    """
    columns, high = max(1, canvas.width - LABEL_COLUMNS), max(1, rows - 1)
    inks = () if canvas.ascii_only else canvas.shades
    signs = _ASCII_SIGNS if canvas.ascii_only else _SIGNS
    pixels, low_db, high_db = _pixels(slices[-columns:], bands_hz, high * (2 if inks else 1), floor_db)
    steps = _steps(pixels, low_db, high_db, len(inks or signs))
    pad = " " * (columns - steps.shape[1])
    marks = _marks(bands_hz, high)
    lines: Lines = []
    for row in range(high):
        line = Text(f"{marks.get(row, ''):>{LABEL_COLUMNS - 1}} {pad}", LABEL_STYLE, no_wrap=True, overflow="crop")
        if inks:
            _half_blocks(line, steps[2 * row], steps[2 * row + 1], inks)
        else:
            line.append("".join(signs[max(0, step)] for step in steps[row]), _PLAIN)
        lines.append(line)
    lines.append(_axis(columns, low_db, high_db, inks or signs, calibrated=calibrated))
    return lines


def _pixels(
    slices: Sequence[Slice], bands_hz: Sequence[float], rows: int, floor_db: float | None
) -> tuple[NDArray[np.float64], float, float]:
    """Return the A-weighted levels, shape (rows, slices), the highest pitch first, with the scale's two ends."""
    weights = a_weighting_db(np.asarray(bands_hz, dtype=np.float64))
    empty = np.full(len(bands_hz), np.nan)
    bands = [np.asarray(s.bands_db) + weights if len(s.bands_db) == len(bands_hz) else empty for s in slices]
    levels = np.stack(bands, axis=1)[_lowest(bands_hz) :] if bands else np.full((1, 0), np.nan)
    # A row takes the loudest of the bands that fall into it: a tone must not thin out in a small picture.
    edges = np.linspace(0, levels.shape[0], rows + 1)
    first = np.minimum(edges[:-1].astype(int), levels.shape[0] - 1)
    last = np.maximum(np.ceil(edges[1:] - 1e-9).astype(int), first + 1)
    pixels = np.stack([levels[a:b].max(axis=0) for a, b in zip(first, last, strict=True)])[::-1]
    finite = pixels[np.isfinite(pixels)]
    if not finite.size:
        return pixels, -LEAST_SPAN_DB, 0.0
    low = float(np.quantile(finite, 0.05)) if floor_db is None else floor_db - UNDER_ROOM_DB
    low = 5.0 * np.floor(low / 5.0)  # in steps, so that the scale does not swim
    high = max(low + LEAST_SPAN_DB, 10.0 * np.ceil(float(np.quantile(finite, LOUD_SHARE)) / 10.0))
    return pixels, float(low), float(high)


def _lowest(bands_hz: Sequence[float]) -> int:
    """Return the first band that is shown."""
    return sum(hz < LOWEST_HZ * 0.95 for hz in bands_hz)


def _steps(pixels: NDArray[np.float64], low_db: float, high_db: float, count: int) -> Steps:
    """Return the step of each pixel, 0 to ``count - 1``; -1 where there is no sound at all to show."""
    share = (np.nan_to_num(pixels, nan=low_db, neginf=low_db) - low_db) / (high_db - low_db)
    steps: Steps = np.clip(share * count, 0, count - 1).astype(np.int64)
    steps[np.isnan(pixels)] = -1
    return steps


def _half_blocks(line: Text, upper: Steps, lower: Steps, inks: tuple[str, ...]) -> None:
    start = 0
    for column in range(1, upper.size + 1):
        if column < upper.size and upper[column] == upper[start] and lower[column] == lower[start]:
            continue
        run = column - start
        if upper[start] < 0:
            line.append(" " * run)
        else:
            line.append(_UPPER_HALF * run, Style(color=inks[upper[start]], bgcolor=inks[lower[start]], bold=False))
        start = column


def _marks(bands_hz: Sequence[float], rows: int) -> dict[int, str]:
    """Return the pitches to write beside the rows, by row."""
    marks: dict[int, str] = {}
    shown = bands_hz[_lowest(bands_hz) :]
    for wanted in _MARKED_HZ:
        if not shown or not shown[0] <= wanted <= shown[-1] * 1.01:
            continue
        nearest = min(range(len(shown)), key=lambda i: abs(np.log(shown[i] / wanted)))
        row = rows - 1 - min(rows - 1, int((nearest + 0.5) / len(shown) * rows))
        marks[row] = f"{wanted / 1000:g} kHz" if wanted >= 1000 else f"{wanted:g} Hz"
    return marks


def _axis(columns: int, low_db: float, high_db: float, steps: tuple[str, ...] | str, *, calibrated: bool) -> Text:
    """Return the line under the picture: how long ago, and what is how loud."""
    line = Text(" " * LABEL_COLUMNS, no_wrap=True, overflow="crop")
    ago = f"{duration_text(columns * SLICE_S)} ago"
    scale = Text(f"{low_db:.0f} ")
    for step in steps:
        scale.append(step, _PLAIN) if isinstance(steps, str) else scale.append("  ", Style(bgcolor=step))
    scale.append(f" {high_db:.0f} dB(A){'' if calibrated else ' re full scale'}")
    gap = columns - len(ago) - scale.cell_len - len("now")
    if gap < 4:  # too narrow for both: the scale matters less
        words = f"{ago:<{max(0, columns - 3)}}now"[:columns]
        return Text(f"{'':<{LABEL_COLUMNS}}{words}", "dim", no_wrap=True, overflow="crop")
    line.append(f"{ago}{' ' * (gap // 2)}", "dim")
    line.append_text(scale)
    line.append(f"{' ' * (gap - gap // 2)}now", "dim")
    return line


def lanes(slices: Sequence[Slice], canvas: Canvas, most: int) -> Lines:
    """Return one line for each kind of sound that was heard, the one heard longest first: its name, and when."""
    columns = max(1, canvas.width - LABEL_COLUMNS)
    shown = slices[-columns:]
    counts: Counter[SoundKind] = Counter(kind for s in shown for kind in s.kinds)
    ink, none = ("=", ".") if canvas.ascii_only else ("━", "·")
    lines: Lines = []
    for kind, _ in sorted(counts.items(), key=lambda pair: (-pair[1], pair[0]))[:most]:
        line = Text(f"{kind:<{LABEL_COLUMNS}}", "bold", no_wrap=True, overflow="crop")
        line.append(" " * (columns - len(shown)))
        is_heard = [kind in s.kinds for s in shown]
        start = 0
        for column in range(1, len(is_heard) + 1):
            if column == len(is_heard) or is_heard[column] != is_heard[start]:
                line.append((ink if is_heard[start] else none) * (column - start),
                            "bold magenta" if is_heard[start] else "dim")
                start = column
        lines.append(line)
    return lines
