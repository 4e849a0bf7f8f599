"""Very large letters, to be read from the floor under a cabinet: five rows of blocks for each line of words.

A letter is five rows of at most five columns. On a wide terminal every column is drawn twice as wide.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rich.console import Console, ConsoleOptions, RenderResult
from rich.style import StyleType
from rich.text import Text

ROWS = 5
_GAP = 1
_SPACE = 3

_SHAPES = """
A .###. #...# ##### #...# #...#
B ####. #...# ####. #...# ####.
C .#### #.... #.... #.... .####
D ####. #...# #...# #...# ####.
E ##### #.... ####. #.... #####
F ##### #.... ####. #.... #....
G .#### #.... #..## #...# .####
H #...# #...# ##### #...# #...#
I ### .#. .#. .#. ###
J ..### ...#. ...#. #..#. .##..
K #..#. #.#.. ##... #.#.. #..#.
L #... #... #... #... ####
M #...# ##.## #.#.# #...# #...#
N #...# ##..# #.#.# #..## #...#
O .###. #...# #...# #...# .###.
P ####. #...# ####. #.... #....
Q .###. #...# #.#.# #..#. .##.#
R ####. #...# ####. #..#. #...#
S .#### #.... .###. ....# ####.
T ##### ..#.. ..#.. ..#.. ..#..
U #...# #...# #...# #...# .###.
V #...# #...# .#.#. .#.#. ..#..
W #...# #...# #.#.# ##.## #...#
X #...# .#.#. ..#.. .#.#. #...#
Y #...# .#.#. ..#.. ..#.. ..#..
Z ##### ...#. ..#.. .#... #####
0 .##. #..# #..# #..# .##.
1 .#. ##. .#. .#. ###
2 ###. ...# .##. #... ####
3 ###. ...# .##. ...# ###.
4 #..# #..# #### ...# ...#
5 #### #... ###. ...# ###.
6 .### #... ###. #..# .##.
7 #### ...# ..#. .#.. .#..
8 .##. #..# .##. #..# .##.
9 .##. #..# .### ...# ###.
/ ....# ...#. ..#.. .#... #....
% ##..# ##.#. ..#.. .#.## #..##
. . . . . #
, .. .. .. .# #.
- ... ... ### ... ...
+ ... .#. ### .#. ...
: . # . # .
! # # # . #
? ###. ...# .##. .... .#..
"""

GLYPHS: dict[str, tuple[str, ...]] = {
    line[0]: tuple(line[2:].split(" ")) for line in _SHAPES.strip().splitlines()
}


def width_of(words: str) -> int:
    """Return the columns that a line of words takes at single width.

    >>> width_of("I"), width_of("HI"), width_of("A A")
    (3, 9, 15)
    """
    widths = [_SPACE if c == " " else len(_glyph(c)[0]) for c in words]
    return sum(widths) + _GAP * max(0, len(widths) - 1)


def _glyph(character: str) -> tuple[str, ...]:
    return GLYPHS.get(character.upper(), GLYPHS["?"])


def rows_of(words: str) -> tuple[str, ...]:
    """Return five rows of '#' and '.' that spell ``words``.

    >>> print("\\n".join(rows_of("1/8")))
    .#......#..##.
    ##.....#..#..#
    .#....#....##.
    .#...#....#..#
    ###.#......##.
    """
    glyphs = [("." * _SPACE,) * ROWS if c == " " else _glyph(c) for c in words]
    return tuple(("." * _GAP).join(glyph[row] for glyph in glyphs) for row in range(ROWS))


@dataclass(frozen=True, slots=True)
class BigWords:
    """Lines of very large words; where they do not fit they are drawn as bold capitals."""

    lines: tuple[str, ...]
    style: StyleType = "bold"
    most_rows: int | None = None

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Draw each line in the largest size that the width and the rows allow."""
        yield from self.rendered(options.max_width, options.ascii_only)

    def rendered(self, width: int, ascii_only: bool) -> Iterator[Text]:
        """Give the rows to print."""
        needed = max((width_of(line) for line in self.lines), default=0)
        rows = len(self.lines) * (ROWS + 1) - 1
        if needed > width or (self.most_rows is not None and rows > self.most_rows):
            for line in self.lines:
                yield Text(line, style=self.style, no_wrap=True, overflow="crop")
            return
        ink = "#" if ascii_only else "█"
        times = 2 if 2 * needed <= width else 1
        for number, line in enumerate(self.lines):
            if number:
                yield Text("")
            for row in rows_of(line):
                drawn = "".join((ink if c == "#" else " ") * times for c in row)
                yield Text(drawn.rstrip(), style=self.style, no_wrap=True, overflow="crop")
