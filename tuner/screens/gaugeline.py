"""The quiet window as a scale: its two edges, and where the installation is believed to stand between them."""

from __future__ import annotations

from rich.text import Text

from tuner.coach.gauge import Gauge
from tuner.screens.panels import LABEL_COLUMNS, LABEL_STYLE, Canvas, Lines, wrapped
from tuner.screens.words import percent_text

BEYOND = 0.75  # widths of the window that are shown on each side of it
_LEFT, _RIGHT = "slurps ", " gurgles"


def gauge_scale(gauge: Gauge, width: int, ascii_only: bool) -> Text:
    """Return the scale in ``width`` columns: edges, the band of eight guesses in ten, and its middle.

    >>> gauge_scale(Gauge(0.25, 0.5, 0.75, 0.1, 0.8, 0.1, 0, 0, 0, 0, 0), 21, True).plain
    '......[ ==@== ]......'
    """
    beyond, edge_low, edge_high, quiet, band, middle = (
        (".", "[", "]", " ", "=", "@") if ascii_only else ("·", "┣", "┫", "━", "▓", "◆")
    )

    def column(place: float) -> int:
        share = (min(max(place, -BEYOND), 1.0 + BEYOND) + BEYOND) / (1.0 + 2.0 * BEYOND)
        return round(share * (width - 1))

    cells = [(beyond, "dim")] * width
    low, high = column(0.0), column(1.0)
    for at in range(low, high + 1):
        cells[at] = (quiet, "green")
    for at in range(column(gauge.place_low), column(gauge.place_high) + 1):
        cells[at] = (band, "cyan")
    cells[low], cells[high] = (edge_low, "bold green"), (edge_high, "bold green")
    cells[column(gauge.place)] = (middle, "bold")
    return Text.assemble(*cells, no_wrap=True)


def gauge_lines(gauge: Gauge | None, canvas: Canvas, *, words: int = 2) -> Lines:
    """Return the scale with its ends named, and below it how sure that is, in at most ``words`` lines."""
    if gauge is None:
        return []
    line = Text(f"{'window':<{LABEL_COLUMNS}}", LABEL_STYLE, no_wrap=True)
    ends = len(_LEFT) + len(_RIGHT)
    width = max(9, min(61, canvas.width - LABEL_COLUMNS - ends))
    line.append(_LEFT, "none")
    line.append_text(gauge_scale(gauge, width, canvas.ascii_only))
    line.append(_RIGHT, "none")
    return [line, *wrapped("believed", believed_words(gauge), canvas, most=words)] if words else [line]


def believed_words(gauge: Gauge) -> str:
    """Return how sure the belief is, and its levels in millimetres above the floor of the box."""
    sides = [(gauge.inside, "inside"), (gauge.below, "slurp side"), (gauge.above, "gurgle side")]
    said = ", ".join(f"{percent_text(share)} {where}" for share, where in sides)
    level = f"{1000 * gauge.level_low_m:.0f}-{1000 * gauge.level_high_m:.0f} mm"
    return f"{said}; water {level}, quiet {1000 * gauge.low_edge_m:.0f}-{1000 * gauge.high_edge_m:.0f} mm"
