"""The page of a checked rig file: what it says, what is implausible, what assumed figures cost; and of a new fact."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rich.console import Console, ConsoleOptions, RenderResult
from rich.text import Text

from tuner.rig import FACT_NEEDS, Fact, Rig, measures, value_text, walk
from tuner.screens import panels
from tuner.screens.flowpage import BAD, GOOD, band_text, flow_band, heading
from tuner.screens.lines import canvas_of
from tuner.screens.panels import Canvas, Lines, wrapped
from tuner.screens.words import count_text, percent_text
from tuner.units import flow_text
from tuner.water.certainty import Narrowing
from tuner.water.controls import WindowBands
from tuner.water.flood import FloodCheck
from tuner.water.plausible import Remark, shown
from tuner.water.worth import Worth

MOST_MEASURES = 8
LEAST_SAVING = 0.005  # below it a saving is chance
_NAME, _VALUE = 26, 11  # columns
_OPTIONS = {
    "just slurps": '--just-slurps-at "..."', "just gurgles": '--just-gurgles-at "..."',
    "return flow": '--bucket "..." --in "..."',
}


@dataclass(frozen=True, slots=True)
class CheckFindings:
    """What was found in a rig file. ``flood_needs`` names the failures (numbered from 1) that wait for a field."""

    rig: Rig
    file: str
    given: int
    remarks: tuple[Remark, ...]
    window: WindowBands
    measures: tuple[Worth, ...]
    facts: tuple[Worth, ...]
    flood: FloodCheck
    flood_needs: dict[str, tuple[int, ...]]
    us: bool


def fact_text(fact: Fact, rig: Rig, *, us: bool) -> str:
    """Return a measured fact for people.

    >>> fact_text(Fact(kind="slurp period", setting=1.375, period_s=12.0), Rig(), us=False)
    'slurp period: 12 s at 1.375 turns'
    """
    unit = "turns" if rig.siphon.valve.kind == "gate" else "degrees"
    figure = ""
    if fact.period_s is not None and "period_s" in FACT_NEEDS[fact.kind]:
        figure = f"{fact.period_s:g} s"
    elif fact.flow_m3_s is not None:
        figure = flow_text(fact.flow_m3_s, us=us)
    at = "" if fact.setting is None else f"at {fact.setting:g} {unit}"
    speed = "" if fact.speed is None else f"pumps at {100 * fact.speed:g} %"
    return f"{fact.kind}: " + ", ".join(filter(None, (" ".join(filter(None, (figure, at))), speed)))


def sureness(window: WindowBands, us: bool) -> str:
    """Return what is known of the window, as bands."""
    if window.setting_mid is None:
        return "no quiet window is likely"
    middle, wide = band_text(window.setting_mid, window.unit), band_text(window.setting_width, window.unit)
    return f"middle at {middle} open, wide {wide} or {flow_band(window.width_m3_s, us)}"


@dataclass(frozen=True, slots=True)
class CheckPage:
    """Draws ``CheckFindings``."""

    findings: CheckFindings

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Draw the page."""
        yield from panels.laid_out(self._lines(canvas_of(console)))

    def _lines(self, canvas: Canvas) -> Iterator[Text]:
        f = self.findings
        count = len(f.rig.assumed)
        yield heading(f"rig check {canvas.dot} {f.rig.name}", f"{f.given} given, {count} assumed", canvas)
        yield from wrapped("siphon", self._siphon(), canvas)
        pumps = ", ".join(f"{p.name} {flow_text(p.flow_m3_s, us=f.us)}" for p in f.rig.pumps)
        yield from wrapped("pump" if len(f.rig.pumps) == 1 else "pumps", pumps, canvas)
        for number, fact in enumerate(f.rig.facts, 1):
            yield from wrapped("facts" if number == 1 else "", f"{number}  {fact_text(fact, f.rig, us=f.us)}", canvas)
        yield from wrapped("window", sureness(f.window, f.us), canvas, "bold")
        yield panels.rule(canvas)
        yield from self._remarks(canvas)
        yield panels.rule(canvas)
        yield from self._measures(canvas)

    def _siphon(self) -> str:
        f, valve = self.findings, self.findings.rig.siphon.valve
        full = f"{valve.turns:g}{self._mark('siphon.valve.turns')} turns" if valve.kind == "gate" else "a quarter turn"
        bore = value_text(f.rig.siphon.inner_diameter_m, measures(f.rig.siphon)["inner_diameter_m"], us=f.us)
        drop = value_text(f.rig.siphon.drop_m, measures(f.rig.siphon)["drop_m"], us=f.us)
        return (
            f"{bore}{self._mark('siphon.inner_diameter_m')} inside, falls {drop}{self._mark('siphon.drop_m')},"
            f" {valve.kind} valve of {full}"
        )

    def _mark(self, dotted: str) -> str:
        return "?" if dotted in self.findings.rig.assumed else ""

    def _remarks(self, canvas: Canvas) -> Lines:
        f = self.findings
        if not f.remarks:
            return wrapped("plumbing", "nothing implausible", canvas, GOOD)
        lines: Lines = []
        for remark in f.remarks:
            names = ", ".join(shown(name) + self._mark(name) for name in remark.fields)
            guessed = bool(remark.fields) and len(remark.rests_on(f.rig.assumed)) == len(remark.fields)
            title = remark.kind.upper() + ("?" if guessed else "")  # only guessed figures say so
            lines += wrapped(title, f"{remark.says[0].upper()}{remark.says[1:]}.", canvas,
                             BAD if remark.kind == "fault" else "bold")
            lines += wrapped("mend" if remark.kind == "fault" else "check", remark.fix, canvas)
            lines += wrapped("from", names, canvas, "dim") if names else []
        return lines

    def _measures(self, canvas: Canvas) -> Iterator[Text]:
        f = self.findings
        worth = [w for w in f.measures if w.saved >= LEAST_SAVING]
        if not f.rig.assumed:
            yield from wrapped("measure", "nothing is assumed", canvas, GOOD)
        elif worth:
            yield from wrapped("measure", "first what narrows the window's bands most:", canvas, "bold")
            yield Text(f"{'':<9}{'field':<{_NAME}}{'assumed':<{_VALUE}}{'middle':>7} {'width':>6}  floods", "dim")
            for number, item in enumerate(worth[:MOST_MEASURES], 1):
                yield from self._measure(number, item, canvas)
            if len(worth) > MOST_MEASURES:
                yield from wrapped("", f"and {len(worth) - MOST_MEASURES} more that narrow them less", canvas, "dim")
        waits = [name for name in f.flood_needs if name not in {w.name for w in worth[:MOST_MEASURES]}]
        if waits:
            yield from wrapped("and", "for the flood check, which cannot tell without them:", canvas, "bold")
            for name in waits:
                numbers = ", ".join(map(str, f.flood_needs[name]))
                yield from wrapped("", f"{shown(name)} ({self._how(name)}): failure {numbers}", canvas)
        rest = len(f.rig.assumed) - len(worth) - len([n for n in waits if n not in {w.name for w in worth}])
        if rest > 0:
            yield from wrapped("", f"{count_text(rest, 'other assumed figure')} cost next to nothing", canvas, "dim")
        for number, item in enumerate(f.facts):
            yield from wrapped(
                "facts" if number == 0 else "",
                f"{item.how}: narrows the middle by about {percent_text(round(item.setting_saved, 2))}", canvas,
            )
        if f.facts:
            option = _OPTIONS[f.facts[0].name]
            yield from wrapped("then", f"hushweir rig fit {f.file} {option}", canvas, "bold")

    def _measure(self, number: int, item: Worth, canvas: Canvas) -> Lines:
        f = self.findings
        head, _, tail = item.name.rpartition(".")
        part = dict(walk(f.rig))[head]
        value = value_text(getattr(part, tail), measures(part)[tail], us=f.us)
        floods = ", ".join(map(str, f.flood_needs.get(item.name, ())))
        line = Text(f"{number:>8} {shown(item.name):<{_NAME}}{value:<{_VALUE}}")
        line.append(f"{_saved(item.setting_saved):>7} {_saved(item.width_saved):>6}  {floods}")
        return [line, *wrapped("", f"  {item.how}", canvas, "dim")]

    def _how(self, dotted: str) -> str:
        head, _, tail = dotted.rpartition(".")
        return measures(dict(walk(self.findings.rig))[head])[tail].how


def _saved(share: float) -> str:
    return "-" if share < LEAST_SAVING else f"-{percent_text(round(share, 2) or 0.005)}"


@dataclass(frozen=True, slots=True)
class FitPage:
    """What a new fact has gained: the window's bands before and after."""

    rig: Rig
    narrowing: Narrowing
    us: bool

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Draw the bands one over the other, on one scale."""
        canvas = canvas_of(console)
        lines = [heading(f"rig fit {canvas.dot} {self.rig.name}", count_text(len(self.rig.facts), "fact"), canvas)]
        for number, fact in enumerate(self.rig.facts, 1):
            words = f"{number}  {fact_text(fact, self.rig, us=self.us)}"
            lines += wrapped("facts" if number == 1 else "", words, canvas)
        lines += self._bars(canvas)
        lines += wrapped("before", sureness(self.narrowing.before, self.us), canvas)
        lines += wrapped("after", sureness(self.narrowing.after, self.us), canvas, "bold")
        lines += wrapped("so", self.narrowing.says, canvas, BAD if self.narrowing.after.facts_strained else "")
        yield from panels.laid_out(lines)

    def _bars(self, canvas: Canvas) -> Lines:
        before, after = self.narrowing.before.setting_mid, self.narrowing.after.setting_mid
        if before is None or after is None:
            return []
        width = canvas.width - panels.LABEL_COLUMNS
        full = self.rig.siphon.valve.full
        lines: Lines = []
        for name, band in (("before", before), ("after", after)):
            first, last = (max(0, min(width - 1, round(v / full * (width - 1)))) for v in (band.low, band.high))
            middle = max(first, min(last, round(band.middle / full * (width - 1))))
            ink, dot, mid = ("=", ".", "|") if canvas.ascii_only else ("━", "·", "┃")
            bar = "".join(
                mid if i == middle else ink if first <= i <= last else dot for i in range(width)
            )
            lines.append(Text.assemble((f"{name:<{panels.LABEL_COLUMNS}}", panels.LABEL_STYLE), bar))
        end = f"{full:g} {self.narrowing.after.unit}s open"
        lines.append(Text(f"{'':<{panels.LABEL_COLUMNS}}0{end:>{width - 1}}", "dim"))
        return lines
