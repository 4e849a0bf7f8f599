"""The flow page: the box to scale beside what each pipe carries and how wide the quiet window is; then what floods."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rich.console import Console, ConsoleOptions, RenderResult
from rich.text import Text

from tuner.rig import Rig
from tuner.screens import panels
from tuner.screens.box import BOX_COLUMNS, LABEL_COLUMNS, box_lines, heights_of
from tuner.screens.lines import canvas_of
from tuner.screens.panels import Canvas, Lines, wrapped
from tuner.units import flow_text, length_text, turns_text
from tuner.water.band import Band
from tuner.water.capacity import PartCheck
from tuner.water.controls import WindowBands
from tuner.water.flood import FloodCheck
from tuner.water.standing import Standing
from tuner.water.verdict import FloodCase

BOX_ROWS = 15
GAP = 2
SIDE_BY_SIDE = BOX_COLUMNS + LABEL_COLUMNS + GAP + 38  # columns below which the box stands over the figures
GOOD, BAD = "bold green", "bold red"
_NAMES = {"emergency pipe": "dry emergency", "weir": "weir head", "siphon inlet": "over inlet"}
_SHORT = {
    "pumps stop: back-siphon into the sump": "back-siphon",
    "all drains blocked: the sump is pumped into the tank": "sump into tank",
    "siphon blocked at full pump flow": "siphon blocked",
    "siphon and open channel blocked at full pump flow": "siphon and channel blocked",
}
_LEVELS = ("emergency.inner_diameter_m", "emergency.rim_height_m", "box.depth_m", "tank.glass_above_m", "weir.height_m")
_FLOOD_RESTS_ON: dict[int, tuple[str, ...]] = {  # by the number of the failure: the figures that its verdict hangs on
    1: ("sump.length_m", "sump.width_m", "sump.level_m", "sump.rim_m", "returns.nozzle_depth_m", "tank.length_m",
        "tank.width_m"),
    2: ("sump.pump_chamber_m3", "tank.length_m", "tank.width_m", "tank.glass_above_m"),
    3: (*_LEVELS, "channel.inner_diameter_m"),
    4: _LEVELS,
    5: (*_LEVELS, "siphon.valve.turns"),
    7: (*_LEVELS, "siphon.bleed_hole_m", "siphon.outlet_depth_m"),
}
_LABELS = {"open channel": "channel", "emergency pipe": "dry pipe", "siphon inlet": "inlet", "return pump": "pump"}
_RESTS_ON = {  # the fields that each part's figure hangs on most
    "return pump": ("pump.0.head_m", "returns.static_head_m"),
    "siphon": ("siphon.inner_diameter_m", "siphon.drop_m", "siphon.run_m"),
    "open channel": ("channel.inner_diameter_m",),
    "emergency pipe": ("emergency.inner_diameter_m", "emergency.rim_height_m", "box.depth_m"),
    "weir": ("weir.length_m", "weir.open_share"),
    "siphon inlet": ("siphon.inlet_height_m", "siphon.inlet_diameter_m"),
}


@dataclass(frozen=True, slots=True)
class FlowFindings:
    """Everything that was computed of a rig."""

    rig: Rig
    file: str
    parts: tuple[PartCheck, ...]
    window: WindowBands
    flood: FloodCheck
    stand: Standing
    us: bool


def digits_text(value: float) -> str:
    """Return a figure with two digits that count, or whole.

    >>> digits_text(0.184), digits_text(1.06), digits_text(12.4)
    ('0.18', '1.1', '12')
    """
    if abs(value) < 0.995:
        return f"{value:.2f}"
    return f"{value:.1f}" if abs(value) < 9.95 else f"{value:.0f}"


def band_text(band: Band | None, unit: str, factor: float = 1.0) -> str:
    """Return a band as "0.2 to 0.4 turn".

    >>> band_text(Band(0.2, 0.3, 0.41), "turn"), band_text(None, "turn")
    ('0.20 to 0.41 turn', 'cannot tell')
    """
    if band is None:
        return "cannot tell"
    low, high = digits_text(band.low * factor), digits_text(band.high * factor)
    plural = "s" if unit in ("turn", "degree") and band.high * factor > 1 else ""
    span = low if low == high else f"{low} to {high}"
    return f"{span} {unit}{plural}"


def flow_band(band: Band | None, us: bool) -> str:
    """Return a band of flow.

    >>> flow_band(Band(1e-4, 1.5e-4, 2e-4), us=False)
    '360 to 720 L/h'
    """
    if band is None:
        return "cannot tell"
    low, high = flow_text(band.low, us=us), flow_text(band.high, us=us)
    return low if low == high else f"{low.split()[0]} to {high}"


@dataclass(frozen=True, slots=True)
class FlowPage:
    """The first screen: pipes, window, controls, and the flood check in a line."""

    findings: FlowFindings

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Draw the page."""
        canvas = canvas_of(console)
        yield from panels.laid_out(self._lines(canvas))

    def _lines(self, canvas: Canvas) -> Iterator[Text]:
        f = self.findings
        box = box_lines(heights_of(f.rig, f.stand), BOX_ROWS, us=f.us, ascii_only=canvas.ascii_only)
        figures = [*self._parts(), *self._window()]
        if canvas.width >= SIDE_BY_SIDE:
            left_columns = BOX_COLUMNS + LABEL_COLUMNS + GAP
            yield heading(f"flow {canvas.dot} {f.rig.name}", "", Canvas(left_columns - 1, canvas.ascii_only)).append(
                "big enough?", panels.LABEL_STYLE
            )
            for row in range(max(len(box), len(figures))):
                left = box[row].copy() if row < len(box) else Text()
                left.pad_right(left_columns - left.cell_len)
                yield left.append_text(figures[row] if row < len(figures) else Text())
        else:
            yield heading(f"flow {canvas.dot} {f.rig.name}", "", canvas)
            yield from box
            yield Text("big enough?", panels.LABEL_STYLE)
            yield from figures
        yield from wrapped("park", f.window.advice, canvas, "bold")
        yield from wrapped("floods", flood_line(f.flood), canvas, "" if f.flood.verdict == "holds" else BAD, most=2)
        yield from wrapped("?", self._assumed(), canvas, "dim", most=1)

    def _assumed(self) -> str:
        f = self.findings
        if not f.rig.assumed:
            return "nothing is assumed; each band holds in 9 cases of 10"
        return f"assumed ({len(f.rig.assumed)} figures): 'hushweir rig check' tells what to measure first"

    def _parts(self) -> Lines:
        lines: Lines = []
        for part in self.findings.parts:
            first = part.numbers[0]
            middle = first.band.middle
            us = self.findings.us
            has = flow_text(middle, us=us) if first.unit == "m3/s" else length_text(middle, us=us)
            good = part.size in ("big enough", "just big enough")
            if any(name in self.findings.rig.assumed for name in _RESTS_ON.get(part.part, ())):
                has += "?"
            line = Text(f"{_NAMES.get(part.part, part.part):<13}{has:>10} ")
            line.append(part.size if good else part.size.upper(), GOOD if good else BAD)
            lines.append(line)
        return lines

    def _window(self) -> Lines:
        f, w = self.findings, self.findings.window
        lines = [Text("quiet window", panels.LABEL_STYLE)]
        if w.setting_mid is None or w.exists_share < 0.2:
            lines.append(Text("none that is likely", BAD))
            lines.append(_figure("1 step", self._step()))
            return lines
        rows = [("wide", band_text(w.setting_width, w.unit)), ("", flow_band(w.width_m3_s, f.us))]
        if w.speed_width_percent is not None:
            rows.append(("", band_text(w.speed_width_percent, "% of pump speed")))
        rows.append((self._step_name(), f"moves {self._step()}"))
        rows += [
            (f"{c.step:g} % pump", f"moves {flow_band(c.flow_m3_s, f.us)}") for c in w.controls if c.unit == "percent"
        ]
        middle = digits_text(w.setting_mid.middle)
        rows += [
            ("middle", f"near {middle}: {band_text(w.setting_mid, w.unit)} open"),
            ("gurgles", f"under {band_text(w.setting_low, w.unit)}"),
            ("slurps", f"over {band_text(w.slurp_setting, w.unit)}"),
            ("vent tap", self._vent()),
        ]
        if f.stand.described:
            rows.append(("now", self._now()))
        return [*lines, *(_figure(name, words) for name, words in rows)]

    def _vent(self) -> str:
        w = self.findings.window
        return f"{band_text(w.vent_mid_turns, 'turn')} open"

    def _step_name(self) -> str:
        return turns_text(self.findings.window.step) if self.findings.window.unit == "turn" else "1 degree"

    def _step(self) -> str:
        return flow_band(self.findings.window.step_m3_s, self.findings.us)

    def _now(self) -> str:
        stand, setting = self.findings.stand, self.findings.rig.siphon.valve.setting
        where = "perhaps quiet"
        if stand.quiet_share > 0.8:
            where = "quiet"
        elif stand.slurping_share > 0.8:
            where = "slurps"
        elif stand.gurgling_share > 0.8:
            where = "gurgles"
        unit = self.findings.window.unit
        plural = "" if (setting or 0.0) <= 1 else "s"
        return f"{setting:g} {unit}{plural}: {where}"


def _figure(name: str, words: str) -> Text:
    return Text.assemble(f"{name:<9}", (words, "bold" if name in ("wide", "middle") else ""))


def case_name(case: FloodCase) -> str:
    """Return a failure's name in few words."""
    return _SHORT.get(case.name, case.name)


def flood_line(flood: FloodCheck) -> str:
    """Return the flood check in a line: how many of the failures hold, and which do not, by number and name."""
    total = len(flood.cases)
    words = []
    for verdict in ("does not hold", "cannot tell"):
        named = [
            f"{number} {case_name(case)}"
            for number, case in enumerate(flood.cases, 1)
            if case.verdict == verdict
        ]
        if named:
            words.append(f"{verdict.upper()}: {', '.join(named)}")
    holds = sum(case.verdict in ("holds", "holds narrowly") for case in flood.cases)
    if not words:
        return f"all {total} failures hold" + ("; some narrowly" if flood.verdict == "holds narrowly" else "")
    return "; ".join([f"{holds} of {total} hold", *words])


@dataclass(frozen=True, slots=True)
class FloodPage:
    """The second part: the seven failures with numbers and what would mend them, and the cautions."""

    findings: FlowFindings

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Draw the page."""
        yield from panels.laid_out(self._lines(canvas_of(console)))

    def _lines(self, canvas: Canvas) -> Iterator[Text]:
        f = self.findings
        verdict = f"worst: {f.flood.verdict}"
        yield heading(f"what floods {canvas.dot} {f.rig.name}", verdict, canvas)
        for number, case in enumerate(f.flood.cases, 1):
            yield from self._case(number, case, canvas)
        yield from wrapped("?", "rests on figures that are assumed, not measured", canvas, "dim")
        yield panels.rule(canvas)
        for part in f.parts:
            words = part.says if not part.note else f"{part.says} ({part.note})"
            yield from wrapped(_LABELS.get(part.part, part.part), words, canvas)
        yield panels.rule(canvas)
        for number, caution in enumerate(f.flood.cautions):
            yield from wrapped("caution" if number == 0 else "", f"{canvas.dot} {caution}", canvas)

    def _case(self, number: int, case: FloodCase, canvas: Canvas) -> Lines:
        style = GOOD if case.verdict in ("holds", "holds narrowly") else BAD
        guessed = any(name in self.findings.rig.assumed for name in _FLOOD_RESTS_ON.get(number, ()))
        title = Text.assemble(
            (f"{number:<{panels.LABEL_COLUMNS}}", panels.LABEL_STYLE),
            (f"{case.verdict.upper()}{'?' if guessed else ''}: ", style),
            (case.name, "bold"),
        )
        lines: Lines = [title, *wrapped("", case.says, canvas)]
        for figure in case.numbers:
            lines += wrapped("", f"{figure.name}: {figure.text(us=self.findings.us)}", canvas, "dim", most=1)
        for n, words in enumerate(case.mend):
            lines += wrapped("mend" if n == 0 else "or", words, canvas)
        fields = ", ".join(words.partition(":")[0] for words in case.measure if ": " in words)
        tests = [words for words in case.measure if ": " not in words]
        for n, words in enumerate([fields, *tests] if fields else tests):
            lines += wrapped("measure" if n == 0 else "and", words, canvas)
        return lines


def heading(left: str, right: str, canvas: Canvas) -> Text:
    """Return the name of a page, and a few words at its right end."""
    line = Text.assemble((" hushweir ", panels.NAME_STYLE), f" {left}")
    line.truncate(max(0, canvas.width - len(right) - 1), pad=True)
    line.append(f" {right}")
    return line
