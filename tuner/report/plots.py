"""The pictures of a page, drawn by matplotlib: spectrogram, third-octaves, their change, and the timeline.

Each function returns the text of an SVG. All are as wide as a phone shows them, in stand-in colours that the page
names (``svg``). Colour never carries a meaning alone: shapes, lines and words say the same.
"""

from __future__ import annotations

import io
import logging
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from tuner.report.svg import AFTER, BEFORE, DIM, HEARING, INK, PAPER, ROOM, RULE
from tuner.saying import clock_text
from tuner.sound.bands import nominal_name

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.axis import Axis

logging.getLogger("matplotlib").setLevel(logging.ERROR)  # where its cache of fonts lies is no business of a keeper

Floats = NDArray[np.float64]

WIDTH = 400.0  # units of a drawing; a phone shows about 358 of its own
MOST_COLUMNS = 400  # of a spectrogram: finer than a page shows
SPAN_DB = 60.0
_NAMED_HZ = (31.5, 63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0, 16000.0)
_STYLE: Mapping[Any, Any] = {
    "svg.fonttype": "none", "svg.hashsalt": "hushweir", "font.size": 11.5, "font.family": "sans-serif",
    "axes.edgecolor": RULE, "axes.labelcolor": INK, "text.color": INK, "xtick.color": RULE, "ytick.color": RULE,
    "xtick.labelcolor": INK, "ytick.labelcolor": INK, "axes.spines.top": False, "axes.spines.right": False,
    "axes.facecolor": "none", "figure.facecolor": "none", "hatch.linewidth": 0.8, "legend.frameon": False,
    "legend.handlelength": 1.8, "legend.columnspacing": 1.4, "legend.borderaxespad": 0.0,
}
_UNITS = 302  # of the timeline's width
_LEFT, _RIGHT = 46.0, 20.0  # the last time may stand half beyond the end


@dataclass(frozen=True, slots=True)
class Track:
    """A row of the timeline: its name, and from when to when it holds (s)."""

    name: str
    spans: tuple[tuple[float, float], ...]
    outside: bool = False


@contextmanager
def _sheet(height: float, top: float, bottom: float, left: float = _LEFT) -> Iterator[tuple[Axes, io.StringIO]]:
    """Give axes to draw on, with margins in units of the drawing; the file holds the drawing afterwards."""
    from matplotlib import rc_context
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    file = io.StringIO()
    with rc_context(dict(_STYLE)):
        figure = Figure(figsize=(WIDTH / 72.0, height / 72.0))
        FigureCanvasSVG(figure)
        axes = figure.add_axes((
            left / WIDTH, bottom / height, (WIDTH - left - _RIGHT) / WIDTH, (height - top - bottom) / height
        ))
        yield axes, file
        figure.savefig(file, format="svg", metadata={"Date": None, "Creator": None})


def band_number(hz: Floats | float) -> Floats:
    """Return the number of a third-octave on a scale of ten a decade, which spaces pitch evenly."""
    return np.asarray(10.0 * np.log10(np.asarray(hz, dtype=np.float64)))


def spectrogram_scale(bands_db: Sequence[Floats]) -> tuple[float, float]:
    """Return the lowest and highest level (dB, multiples of 5) of one scale for all the spectrograms given."""
    found = [b[np.isfinite(b)] for b in bands_db]
    levels = np.concatenate([f for f in found if f.size] or [np.zeros(1)])
    high = 5.0 * np.ceil(float(np.quantile(levels, 0.999)) / 5.0)
    low = 5.0 * np.floor(float(np.quantile(levels, 0.02)) / 5.0)
    return max(min(low, high - 10.0), high - SPAN_DB), high


def spectrogram(
    second: NDArray[np.int64], bands_hz: Floats, bands_db: Floats, scale_db: tuple[float, float],
    pitch_hz: tuple[float, float], unit: str,
) -> str:
    """Draw the third-octaves of each second, shape (n, b), on a given scale of levels and pitches."""
    from matplotlib.ticker import MaxNLocator

    columns, edges_s = _columns(second, bands_db)
    with _sheet(250.0, 26.0, 62.0) as (axes, file):
        bottom, top = (float(x) for x in band_number(np.array(pitch_hz)))
        if columns.size:
            own = band_number(bands_hz)
            image = axes.imshow(
                np.ma.masked_invalid(columns.T), origin="lower", aspect="auto", interpolation="none", cmap="cividis",
                vmin=scale_db[0], vmax=scale_db[1], extent=(*edges_s, float(own[0]) - 0.5, float(own[-1]) + 0.5),
            )
            place = axes.inset_axes((0.36, -0.30, 0.64, 0.045))
            bar = axes.figure.colorbar(image, cax=place, orientation="horizontal")
            bar.outline.set_visible(False)
            bar.locator = MaxNLocator(nbins=7, integer=True, steps=[1, 2, 5, 10])
            bar.update_ticks()
            place.tick_params(length=0, labelsize=10.5)
            axes.text(-0.01, -0.3, unit, transform=axes.transAxes, fontsize=10.5, color=DIM)
        axes.set_ylim(bottom - 0.5, top + 0.5)
        _pitch_ticks(axes.yaxis, pitch_hz)
        _time_ticks(axes, edges_s)
        axes.text(0.0, 1.04, "Hz", transform=axes.transAxes, color=DIM, ha="right", fontsize=10.5)
    return file.getvalue()


def _columns(second: NDArray[np.int64], bands_db: Floats) -> tuple[Floats, tuple[float, float]]:
    """Return energy means of at most ``MOST_COLUMNS`` equal stretches, NaN where nothing was heard, and the span."""
    if not second.size:
        return np.zeros((0, 0)), (0.0, 1.0)
    first, last = int(second[0]), int(second[-1]) + 1
    step = -(-(last - first) // MOST_COLUMNS)
    count = -(-(last - first) // step)
    at = (second - first) // step
    power = np.zeros((count, bands_db.shape[1]))
    np.add.at(power, at, 10.0 ** (bands_db / 10.0))
    heard = np.bincount(at, minlength=count)[:, None]
    with np.errstate(divide="ignore", invalid="ignore"):
        levels = np.where(heard > 0, 10.0 * np.log10(power / heard), np.nan)
    return levels, (float(first), float(first + count * step))


def bands(
    bands_hz: Floats, before_db: Floats | None, after_db: Floats, room: tuple[Floats, Floats] | None,
    threshold: tuple[Floats, Floats] | None, unit: str,
) -> str:
    """Draw third-octave levels: bars after, a stepped line before, the room and the threshold of hearing as lines.

    ``room`` and ``threshold`` are pairs of centres (Hz) and levels (dB).
    """
    from matplotlib.patheffects import withStroke

    number = band_number(bands_hz)
    edge = [withStroke(linewidth=4.4, foreground=PAPER)]  # lines stay apart from the bars that they cross
    known = [x[np.isfinite(x)] for x in (before_db, after_db, room[1] if room else None) if x is not None]
    levels = np.concatenate([k for k in known if k.size] or [np.zeros(1)])
    lowest = min(float(levels.min()), float(threshold[1].min()) if threshold is not None else np.inf)
    low = 5.0 * np.floor((max(lowest, float(levels.max()) - SPAN_DB) - 2.0) / 5.0)
    high = 5.0 * np.ceil((float(levels.max()) + 2.0) / 5.0)
    with _sheet(290.0, 50.0, 40.0) as (axes, file):
        axes.bar(
            number, np.where(np.isfinite(after_db), after_db, low) - low, 0.74, low, color=AFTER,
            label="after" if before_db is not None else "heard",
        )
        if before_db is not None:
            axes.step(*_steps(number, before_db), where="mid", color=BEFORE, lw=2.2, label="before",
                      path_effects=edge)
        if room is not None:
            axes.step(*_steps(band_number(room[0]), room[1]), where="mid", color=ROOM, lw=1.6, ls=(0, (1, 1.2)),
                      label="room, pumps off", path_effects=edge)
        if threshold is not None:
            axes.plot(band_number(threshold[0]), threshold[1], color=HEARING, lw=1.6, ls=(0, (5, 2)),
                      label="hearing threshold", path_effects=edge)
        axes.set_ylim(low, high)
        _along_bands(axes, bands_hz)
        axes.text(-0.12, 1.05, unit, transform=axes.transAxes, color=DIM, ha="left", fontsize=10.5)
        axes.legend(loc="lower right", bbox_to_anchor=(1.0, 1.02), ncols=2, fontsize=10.5)
    return file.getvalue()


def _steps(number: Floats, levels_db: Floats) -> tuple[Floats, Floats]:
    """Return a line that begins and ends with its outer bands' edges."""
    levels = np.where(np.isfinite(levels_db), levels_db, np.nan)
    return np.concatenate([[number[0] - 0.5], number, [number[-1] + 0.5]]), levels[[0, *range(levels.size), -1]]


def change(bands_hz: Floats, change_db: Floats, low_db: Floats, high_db: Floats) -> str:
    """Draw the change of each third-octave with its bounds; what cannot be told from no change is hollow."""
    number = band_number(bands_hz)
    reach = 3.0 * np.ceil(max(3.0, float(np.abs(np.concatenate([low_db, high_db])).clip(max=40.0).max())) / 3.0)
    with _sheet(290.0, 50.0, 40.0) as (axes, file):
        axes.axhline(0.0, color=INK, lw=0.9)
        for chosen, colour, shape, filled, name in (
            (high_db < 0.0, AFTER, "o", True, "quieter"), (low_db > 0.0, BEFORE, "s", True, "louder"),
            ((high_db >= 0.0) & (low_db <= 0.0), DIM, "D", False, "cannot be told"),
        ):
            if chosen.any():
                around = np.abs(np.stack([(change_db - low_db)[chosen], (high_db - change_db)[chosen]]))
                axes.errorbar(
                    number[chosen], change_db[chosen], around, fmt=shape, ms=5.2, color=colour, lw=1.4,
                    mfc=colour if filled else PAPER, mew=1.3, label=name,
                )
        axes.set_ylim(-reach, reach)
        _along_bands(axes, bands_hz)
        axes.text(-0.12, 1.05, "dB", transform=axes.transAxes, color=DIM, ha="left", fontsize=10.5)
        axes.legend(loc="lower right", bbox_to_anchor=(1.0, 1.02), ncols=3, fontsize=10.5)
    return file.getvalue()


def timeline(
    span_s: tuple[float, float], tracks: Sequence[Track], heard_s: Sequence[tuple[float, float]],
    moves_s: Sequence[float], gaps_s: Sequence[tuple[float, float]], parts: Sequence[tuple[str, float, float]] = (),
) -> str:
    """Draw when each kind sounded, the moves as numbered lines, gaps hatched, and the parts that are compared.

    ``heard_s`` are the stretches that were listened to: a pale band through every row.
    """
    height = 24.0 * max(1, len(tracks)) + 40.0 + 40.0
    with _sheet(height, 40.0, 40.0, 78.0) as (axes, file):
        least = (span_s[1] - span_s[0]) / _UNITS  # narrower than a unit nothing is seen
        for row, track in enumerate(tracks):
            _blocks(axes, row, _merged(heard_s, span_s), RULE, alpha=0.45)
            spans = _merged(track.spans, span_s)
            if track.outside:
                _blocks(axes, row, spans, "none", edge=DIM, hatch="////")
            else:
                _blocks(axes, row, spans, INK)
        rows = max(1, len(tracks))
        for a, b in gaps_s:
            axes.axvspan(a, max(b, a + least), facecolor="none", edgecolor=DIM, hatch="xxxx", lw=0.0)
        for name, a, b in parts:
            axes.plot([a, b], [-0.62, -0.62], color=BEFORE if name == "before" else AFTER, lw=4.0, clip_on=False,
                      solid_capstyle="butt")
            axes.text((a + b) / 2.0, -0.85, name, ha="center", va="bottom", fontsize=10.5, clip_on=False)
        last = -np.inf
        for number, at_s in enumerate(moves_s, 1):
            axes.axvline(at_s, color=BEFORE, lw=1.2, ls=(0, (4, 2)))
            if at_s - last > 12.0 * least:  # numbers do not stand on each other
                axes.text(at_s, rows - 0.42, str(number), ha="center", va="top", fontsize=10.5, clip_on=False,
                          color=BEFORE)
                last = at_s
        axes.set_ylim(rows - 0.45, -0.55)
        axes.set_yticks(range(len(tracks)), [t.name for t in tracks])
        axes.tick_params(axis="y", length=0)
        axes.spines["left"].set_visible(False)
        axes.set_xlim(*span_s)
        _time_ticks(axes, span_s, pad=15.0 if moves_s else 3.0)
    return file.getvalue()


def _merged(spans: Sequence[tuple[float, float]], span_s: tuple[float, float]) -> list[tuple[float, float]]:
    """Return spans in whole units of the drawing, none narrower than one, those that touch as one."""
    from_s, unit_s = span_s[0], (span_s[1] - span_s[0]) / _UNITS
    inked = np.zeros(_UNITS + 2, dtype=np.int8)
    for a, b in spans:
        first = min(max(int((a - from_s) / unit_s), 0), _UNITS - 1)
        inked[first + 1 : max(min(round((b - from_s) / unit_s), _UNITS), first + 1) + 1] = 1
    edges = np.flatnonzero(np.diff(inked))
    return [(from_s + a * unit_s, from_s + b * unit_s) for a, b in edges.reshape(-1, 2).tolist()]


def _blocks(
    axes: Axes, row: int, spans: Sequence[tuple[float, float]], face: str, *, edge: str = "none",
    hatch: str | None = None, alpha: float = 1.0,
) -> None:
    """Draw all blocks of a row as one shape."""
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path

    if spans:
        low, high = row - 0.34, row + 0.34
        corners = [((a, low), (b, low), (b, high), (a, high), (a, low)) for a, b in spans]
        codes = [Path.MOVETO, Path.LINETO, Path.LINETO, Path.LINETO, Path.CLOSEPOLY] * len(spans)
        shape = Path(np.array(corners).reshape(-1, 2), codes)
        axes.add_patch(PathPatch(shape, facecolor=face, edgecolor=edge, hatch=hatch, alpha=alpha, linewidth=0.6))


def _along_bands(axes: Axes, bands_hz: Floats) -> None:
    """Lay the third-octaves out from left to right, with faint lines for the levels."""
    number = band_number(bands_hz)
    axes.set_xlim(number[0] - 0.8, number[-1] + 0.8)
    axes.grid(axis="y", color=RULE, lw=0.6, alpha=0.6)
    axes.set_axisbelow(True)
    _pitch_ticks(axes.xaxis, (float(bands_hz[0]), float(bands_hz[-1])))
    axes.set_xlabel("Hz", color=DIM, labelpad=1)
    axes.tick_params(axis="y", length=0)


def _pitch_ticks(axis: Axis, pitch_hz: tuple[float, float]) -> None:
    low, high = pitch_hz
    named = [hz for hz in _NAMED_HZ if 0.9 * low <= hz <= 1.1 * high]
    axis.set_ticks([float(band_number(hz)) for hz in named], [nominal_name(hz) for hz in named])


def _time_ticks(axes: Axes, span_s: tuple[float, float], pad: float = 3.0) -> None:
    length = span_s[1] - span_s[0]
    step = next((s for s in (5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600) if length / s <= 6), 7200)
    while length / step > 6:
        step *= 2
    at = np.arange(np.ceil(span_s[0] / step) * step, span_s[1] + 0.5, step)
    axes.set_xlim(*span_s)
    axes.set_xticks(at, [clock_text(float(s)) for s in at])
    axes.tick_params(axis="x", pad=pad)
