"""The overflow box in cross-section, to scale: tank and weir at the left, the three pipes, and every height's name.

Each row stands for the same height; a feature lies in the row nearest to it, and its name beside that row. Where two
names want one row, the second moves and an arrow shows which way its feature lies.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from rich.text import Text

from tuner.rig import Rig
from tuner.units import INCH_M
from tuner.water.standing import Standing

BOX_COLUMNS = 22
LABEL_COLUMNS = 16
LEAST_ROWS = 8
_WEIR, _WALL = 2, 21  # columns
_SIPHON, _HOOD, _CHANNEL, _EMERGENCY = 5, 9, 12, 17  # left wall of each pipe
_WATER_STYLE, _PIPE_STYLE, _LABEL_STYLE = "blue", "bold", ""


RowOf = Callable[[float], int]


@dataclass(frozen=True, slots=True)
class Mark:
    """A height in the box with its name; ``assumed`` marks it as not measured."""

    height_m: float
    name: str
    assumed: bool = False


@dataclass(frozen=True, slots=True)
class BoxHeights:
    """Heights above the box floor. The running level is a band, ``tank_m`` the tank's surface."""

    depth: Mark
    weir: Mark
    rim: Mark
    crest: Mark
    mouth: Mark
    inlet: Mark
    level_low_m: float
    level_high_m: float
    tank_m: float

    @property
    def marks(self) -> tuple[Mark, ...]:
        """The named heights, highest first."""
        marks = (self.depth, self.weir, self.rim, self.crest, self.mouth, self.inlet)
        return tuple(sorted(marks, key=lambda mark: -mark.height_m))


def heights_of(rig: Rig, stand: Standing) -> BoxHeights:
    """Return the heights of a rig with its running level."""

    def mark(dotted: str, height_m: float, name: str) -> Mark:
        return Mark(height_m, name, dotted in rig.assumed)

    crest_m = rig.channel.crest_height_m
    return BoxHeights(
        depth=mark("box.depth_m", rig.box.depth_m, "box rim"),
        weir=mark("weir.height_m", rig.weir.height_m, "weir edge"),
        rim=mark("emergency.rim_height_m", rig.emergency.rim_height_m, "E rim"),
        crest=mark("channel.crest_height_m", rig.channel.crest_height_m, "O crest"),
        mouth=mark("channel.inlet_height_m", rig.channel.inlet_height_m, "O mouth"),
        inlet=mark("siphon.inlet_height_m", rig.siphon.inlet_height_m, "S inlet"),
        level_low_m=crest_m + stand.over_crest_m.low, level_high_m=crest_m + stand.over_crest_m.high,
        tank_m=rig.weir.height_m + stand.over_weir_m.middle,
    )


@dataclass(frozen=True, slots=True)
class _Ink:
    wall: str
    pipe: str
    top: str
    corner_left: str
    corner_right: str
    floor: str
    foot_left: str
    foot_right: str
    water: str
    surface: str
    full: str
    vent: str
    tick: str
    up: str
    down: str


_LINES = _Ink("│", "║", "═", "╔", "╗", "─", "└", "┘", "░", "~", "▓", "o", "┤", "↑", "↓")
_ASCII = _Ink("|", "|", "=", "+", "+", "-", "+", "+", ".", "~", "#", "o", "+", "^", "v")


def row_of(height_m: float, top_m: float, rows: int) -> int:
    """Return the row of a height, counted from the floor's row 0 to the top's row ``rows - 1``.

    >>> row_of(0.0, 0.3, 13), row_of(0.16, 0.3, 13), row_of(0.3, 0.3, 13)
    (0, 6, 12)
    """
    return max(0, min(rows - 1, round(height_m / top_m * (rows - 1))))


def number_text(height_m: float, us: bool) -> str:
    """Return a height as a bare number, in millimetres or inches."""
    return f"{height_m / INCH_M:.1f}" if us else f"{height_m * 1e3:.0f}"


def box_grid(h: BoxHeights, rows: int, *, ascii_only: bool) -> tuple[list[list[str]], RowOf]:
    """Return the drawing's cells, from the floor's row up, and which row a height lies in."""
    ink = _ASCII if ascii_only else _LINES
    top_m = max(h.depth.height_m, h.tank_m, h.rim.height_m)
    grid = [[" "] * BOX_COLUMNS for _ in range(rows)]

    def at(height_m: float) -> int:
        return row_of(height_m, top_m, rows)

    _draw_water(grid, h, at, ink)
    _draw_pipes(grid, h, at, ink)
    _draw_walls(grid, h, at, ink)
    return grid, at


def box_lines(h: BoxHeights, rows: int, *, us: bool, ascii_only: bool) -> list[Text]:
    """Return the drawing, ``rows`` lines for the box and two that name the pipes, ``BOX + LABEL`` columns wide."""
    ink = _ASCII if ascii_only else _LINES
    rows = max(rows, LEAST_ROWS)
    grid, at = box_grid(h, rows, ascii_only=ascii_only)
    labels = _labels(h, at, rows, us, ink)
    lines = []
    for row in reversed(range(rows)):
        line = Text(no_wrap=True)
        for cell in grid[row]:
            style = _WATER_STYLE if cell in (ink.water, ink.surface) else _PIPE_STYLE if cell in _pipe_ink(ink) else ""
            line.append(cell, style)
        line.append(f"{labels.get(row, ''):<{LABEL_COLUMNS}}"[:LABEL_COLUMNS], _LABEL_STYLE)
        lines.append(line)
    names = [" "] * BOX_COLUMNS
    for column, letter in ((_SIPHON, "S"), (_CHANNEL, "O"), (_EMERGENCY, "E")):
        names[column + 1] = letter
    lines.append(Text(f"{''.join(names)}{'S siphon O open':<{LABEL_COLUMNS}}"))
    lines.append(Text(f"{'':<{BOX_COLUMNS}}{'E dry emergency':<{LABEL_COLUMNS}}"))
    return lines


def _pipe_ink(ink: _Ink) -> tuple[str, ...]:
    return (ink.pipe, ink.top, ink.corner_left, ink.corner_right, ink.full)


def _draw_water(grid: list[list[str]], h: BoxHeights, at: RowOf, ink: _Ink) -> None:
    low, high, tank = at(h.level_low_m), at(h.level_high_m), at(h.tank_m)
    for row in range(1, high + 1):
        for column in range(_WEIR + 1, _WALL):
            grid[row][column] = ink.surface if row >= low else ink.water
    for row in range(tank + 1):
        for column in range(_WEIR):
            grid[row][column] = ink.surface if row == tank else ink.water


def _draw_pipes(grid: list[list[str]], h: BoxHeights, at: RowOf, ink: _Ink) -> None:
    crest, mouth, top = at(h.crest.height_m), at(h.mouth.height_m), len(grid) - 1
    for row in range(1, max(at(h.inlet.height_m), 1) + 1):
        _pipe(grid[row], _SIPHON, ink.full, ink)
    for row in range(1, crest + 1):
        _pipe(grid[row], _CHANNEL, " ", ink)
    roof = min(crest + 2, top)
    for row in range(min(mouth, crest), roof):
        grid[row][_HOOD] = grid[row][_CHANNEL + 2] = ink.pipe
        if row > crest:
            for column in range(_HOOD + 1, _CHANNEL + 2):
                grid[row][column] = " "
    for column in range(_HOOD, _CHANNEL + 3):
        grid[roof][column] = ink.top
    grid[roof][_HOOD], grid[roof][_CHANNEL + 2] = ink.corner_left, ink.corner_right
    if roof < top:
        grid[roof + 1][_CHANNEL + 1] = ink.vent
    for row in range(1, at(h.rim.height_m) + 1):
        _pipe(grid[row], _EMERGENCY, " ", ink)


def _pipe(row: list[str], left: int, inside: str, ink: _Ink) -> None:
    row[left], row[left + 1], row[left + 2] = ink.pipe, inside, ink.pipe


def _draw_walls(grid: list[list[str]], h: BoxHeights, at: RowOf, ink: _Ink) -> None:
    for row in range(at(h.weir.height_m) + 1):
        grid[row][_WEIR] = ink.wall
    if (tank := at(h.tank_m)) > at(h.weir.height_m):
        grid[tank][_WEIR] = ink.surface
    for row in range(at(h.depth.height_m) + 1):
        grid[row][_WALL] = ink.wall
    for mark in h.marks:
        if at(mark.height_m) <= at(h.depth.height_m):
            grid[at(mark.height_m)][_WALL] = ink.tick
    for column in range(_WEIR + 1, _WALL):
        grid[0][column] = ink.floor
    grid[0][_WEIR], grid[0][_WALL] = ink.foot_left, ink.foot_right


def _labels(h: BoxHeights, at: RowOf, rows: int, us: bool, ink: _Ink) -> dict[int, str]:
    """Return what stands beside each row; names that want the same row are moved apart, in the order of heights."""
    low, high = number_text(h.level_low_m, us), number_text(h.level_high_m, us)
    level = low if low == high else f"{low}-{high}"
    wanted = [(m.height_m, f"{number_text(m.height_m, us)}{'?' if m.assumed else ''} {m.name}") for m in h.marks]
    wanted.append(((h.level_low_m + h.level_high_m) / 2, f"{level} water"))
    wanted.append((0.0, f"0 {'in' if us else 'mm'} box floor"))
    wanted.sort(reverse=True)
    wishes = [at(height) for height, _ in wanted]
    places = list(wishes)
    for i in range(len(places) - 2, -1, -1):  # from the floor up, each at least a row over the one below
        places[i] = max(places[i], places[i + 1] + 1)
    over = places[0] - (rows - 1)
    if over > 0:
        places[0] -= over
        for i in range(1, len(places)):
            places[i] = min(places[i], places[i - 1] - 1)
    labels = {}
    for (_, text), place, wish in zip(wanted, places, wishes, strict=True):
        arrow = " " if place == wish else ink.down if place > wish else ink.up
        labels[place] = f"{arrow}{text}"
    return labels
