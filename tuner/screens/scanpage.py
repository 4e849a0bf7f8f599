"""The page of a scan from place to place: places against sounds, each sound's place marked, and what follows."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rich.console import Console, ConsoleOptions, RenderResult
from rich.text import Text

from tuner.causes.held import UNKNOWN
from tuner.causes.location import ELSEWHERE, Located, Scan
from tuner.screens import panels
from tuner.screens.flowpage import heading
from tuner.screens.lines import canvas_of
from tuner.screens.panels import Canvas
from tuner.screens.words import count_text, duration_text, percent_text
from tuner.terms import PLACES, Diagnosis, Place

SURE_FROM = 0.8
STANDS_OUT_DB = 3.0
MOST_SOUNDS = 4
_PLACE, _CELL = 15, 12  # columns


def sound_name(sound: Located) -> str:
    """Return a sound's name for people.

    >>> sound_name(Located("unknown", 0.5, (), 3.0))
    'sound of no known kind'
    """
    return "sound of no known kind" if sound.kind == UNKNOWN else sound.kind


def found_text(sound: Located) -> str:
    """Return where a sound arises, and how sure that is."""
    if sound.place == ELSEWHERE:
        return f"{sound_name(sound)}: at none of the places held, {percent_text(sound.probability)} sure"
    words = f"{sound_name(sound)} at the {sound.place}, {percent_text(sound.probability)} sure"
    if sound.margin_db >= 1.0:
        return f"{words}, {sound.margin_db:.0f} dB over the next place"
    second = next((o for o in sound.options[1:] if o.place != ELSEWHERE), None)
    return words + (f"; nearly as loud at the {second.place}" if second is not None else "")


@dataclass(frozen=True, slots=True)
class ScanPage:
    """Draws a ``Scan`` with the diagnosis that it leads to; ``about`` says where the sound came from."""

    scan: Scan
    diagnosis: Diagnosis | None
    about: str

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Draw the page."""
        yield from panels.laid_out(self._lines(canvas_of(console)))

    def _lines(self, canvas: Canvas) -> Iterator[Text]:
        scan = self.scan
        held = f"{count_text(len(scan.seconds), 'place')}, {duration_text(sum(scan.seconds.values()))}"
        yield heading(f"locate {canvas.dot} {self.about}", held, canvas)
        yield panels.rule(canvas)
        yield from self._table(canvas)
        yield panels.rule(canvas)
        first = scan.prevailing
        yield from panels.wrapped("found", found_text(first), canvas, "bold")
        if words := _doubt(first):
            yield from panels.wrapped("unsure", words, canvas, "bold")
        for number, sound in enumerate(s for s in scan.sounds if s.kind != first.kind):
            yield from panels.wrapped("also" if number == 0 else "", found_text(sound), canvas)
        for place in scan.disturbed:
            yield from panels.wrapped("!", f"other sound covered it at the {place}: hold it there again", canvas,
                                      panels.NOTICE_STYLE)
        missing = [place for place in PLACES if place not in scan.seconds]
        if missing:
            yield from panels.wrapped("left out", ", ".join(missing), canvas, "dim")
        if self.diagnosis is not None:
            yield from panels.cause(self.diagnosis, canvas, 8)

    def _table(self, canvas: Canvas) -> Iterator[Text]:
        columns = self._columns(canvas)
        head = Text(f"{'place':<{_PLACE}}", "dim")
        for sound in columns:
            head.append(f"{'unknown' if sound.kind == UNKNOWN else sound.kind:>{_CELL}}")
        yield head
        for place in PLACES:
            if place in self.scan.seconds:
                yield self._row(place, columns, canvas)
        legend = f"dB over what all places share; {_mark(canvas)} where it arises, how sure"
        yield Text(f"{'':<{_PLACE}}{legend}", "dim")

    def _row(self, place: Place, columns: tuple[Located, ...], canvas: Canvas) -> Text:
        wins = any(sound.place == place for sound in columns)
        line = Text(f"{place:<{_PLACE}}", "bold" if wins else "")
        for sound in columns:
            option = next(o for o in sound.options if o.place == place)
            level = f"{max(0.0, option.over_db):.0f}"
            if sound.place == place:
                sure = percent_text(option.probability)
                line.append(f"{_mark(canvas) + ' ' + level + '  ' + sure:>{_CELL}}", "bold reverse")
            else:
                line.append(f"{level:>{_CELL - 7}}{'':7}")
        line.rstrip()
        return line

    def _columns(self, canvas: Canvas) -> tuple[Located, ...]:
        first = self.scan.prevailing
        others = [s for s in self.scan.sounds if s.kind != first.kind]
        room = max(1, min(MOST_SOUNDS, (canvas.width - _PLACE) // _CELL))
        return (first, *others)[:room]


def _doubt(sound: Located) -> str:
    """Return what would settle it, or "" when it is settled."""
    if sound.strength_db < STANDS_OUT_DB:
        return "nothing stands out at any place: hold it again while the noise is heard"
    if sound.probability >= SURE_FROM:
        return ""
    places = [f"the {option.place}" for option in sound.options[:2] if option.place != ELSEWHERE]
    more = "hold it at the places left out as well" if len(places) < 2 else ""
    return more or f"hold it once more at {' and '.join(places)}, for longer"


def _mark(canvas: Canvas) -> str:
    return ">" if canvas.ascii_only else "▶"
