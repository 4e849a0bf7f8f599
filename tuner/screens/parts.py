"""Pages from parts, in the order in which they stand; what does not fit is left out, the least needed first."""

from __future__ import annotations

from dataclasses import dataclass

from rich.text import Text

from tuner.screens.panels import Lines


@dataclass(frozen=True, slots=True)
class Part:
    """Some lines and how much they are needed: 0 is never left out, larger numbers go first.

    A text that can be ``cut`` loses its last lines before it is left out altogether.
    """

    lines: Lines
    need: int = 0
    cut: bool = False


def fitted(parts: list[Part], rows: int) -> Lines:
    """Return the lines of the parts that fit into ``rows``, in order; those needed least are left out first."""
    kept = [part for part in parts if part.lines]
    while (over := sum(len(part.lines) for part in kept) - rows) > 0:
        least = max(range(len(kept)), key=lambda i: (kept[i].need, i))
        if kept[least].need == 0:
            break
        if kept[least].cut and len(kept[least].lines) > over:
            kept[least] = Part(kept[least].lines[:-over])
            break
        del kept[least]
    return [line for part in kept for line in part.lines][: max(1, rows)]


def beside(left: Lines, right: Lines, width: int, gap: int = 2) -> Lines:
    """Return two blocks of lines side by side; the left one is ``width`` columns wide."""
    lines: Lines = []
    for row in range(max(len(left), len(right))):
        cell = left[row].copy() if row < len(left) else Text()
        cell.truncate(width, overflow="crop")
        # A text of its own: the left line's style must not run on into the right one.
        line = Text().append_text(cell)
        line.append(" " * (width - cell.cell_len + gap))
        if row < len(right):
            line.append_text(right[row])
        line.no_wrap = True
        lines.append(line)
    return lines
