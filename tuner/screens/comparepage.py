"""A comparison on the screen: the sentence, then level, bands, sounds, causes, moves and restarts."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from dataclasses import dataclass

from rich.console import Console, ConsoleOptions, RenderResult
from rich.text import Text

from tuner.logbook.comparison import Comparison, Restarts, SideFacts
from tuner.logbook.rows import DatedMove
from tuner.logbook.soundchange import SoundChange, SoundRate
from tuner.screens import panels
from tuner.screens.lines import canvas_of
from tuner.screens.panels import Canvas
from tuner.screens.words import count_text, duration_text, level_text, percent_text
from tuner.sound.bands import nominal_name
from tuner.units import amount_text

MOST_MOVES = 12
MOST_NOTES = 6
_SHOWN_CAUSE = 0.05
_BAR_DB = 12.0  # a change of a third-octave that fills half the bar


@dataclass(frozen=True, slots=True)
class ComparePage:
    """The page of one comparison; ``sentence`` stands first."""

    comparison: Comparison
    sentence: str

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Draw the page."""
        yield from panels.laid_out(self._lines(canvas_of(console)))

    def _lines(self, canvas: Canvas) -> Iterator[Text]:
        c = self.comparison
        for line in textwrap.wrap(f"{self.sentence[:1].upper()}{self.sentence[1:]}.", canvas.width):
            yield Text(line, "bold")
        yield panels.rule(canvas)
        yield from panels.wrapped("before", _side_words(c.before), canvas)
        yield from panels.wrapped("after", _side_words(c.after), canvas)
        for obstacle in c.obstacles:
            yield from panels.wrapped("refused", obstacle.words, canvas, panels.NOTICE_STYLE)
        if c.obstacles:
            yield from panels.wrapped("", "what follows holds all the same: it needs no common scale", canvas, "dim")
        yield from self._levels(canvas)
        for number, change in enumerate(c.sounds):
            yield from panels.wrapped("sounds" if number == 0 else "", _sound_words(change), canvas)
        yield from self._causes(canvas)
        yield from self._between(canvas)
        yield from _restarts(c.restarts, canvas)
        for number, doubt in enumerate(c.doubts):
            yield from panels.wrapped("mind" if number == 0 else "", doubt, canvas)

    def _levels(self, canvas: Canvas) -> Iterator[Text]:
        c = self.comparison
        if c.level is None:
            return
        then, now = (level_text(x, c.calibrated) for x in (c.level.before_db, c.level.after_db))
        yield from panels.wrapped("level", f"{then} before, {now} after", canvas)
        basis = "session by session" if c.basis == "sessions" else "second by second"
        sure = f"change {c.level.change_db:+.1f} dB(A), from {c.level.low_db:+.1f} to {c.level.high_db:+.1f} " \
            f"(each bound {100 * c.confidence:.0f} % sure, {basis})"
        yield from panels.wrapped("", sure, canvas)
        for number, band in enumerate(c.bands):
            line = Text(f"{'bands' if number == 0 else '':<{panels.LABEL_COLUMNS}}", style=panels.LABEL_STYLE)
            line.append(f"{nominal_name(band.hz or 0.0):>6} Hz ", "default")
            line.append_text(_change_bar(band.change_db, min(24, max(9, canvas.width - 48)), canvas.ascii_only))
            line.append(f" {band.change_db:+5.1f} dB ({band.low_db:+.1f} to {band.high_db:+.1f})", "default")
            yield line

    def _causes(self, canvas: Canvas) -> Iterator[Text]:
        c = self.comparison
        shown = [x for x in c.causes if max(x.before, x.after) >= _SHOWN_CAUSE]
        if c.before.windows or c.after.windows:
            then, now = (
                f"{side.silent_windows} of {count_text(side.windows, 'window')} silent" for side in (c.before, c.after)
            )
            yield from panels.wrapped("causes", f"{then} before, {now} after", canvas)
        for cause in shown[:5]:
            words = f"{cause.name:<24} {percent_text(cause.before):>5} before, {percent_text(cause.after):>5} after"
            yield from panels.wrapped("", words, canvas)

    def _between(self, canvas: Canvas) -> Iterator[Text]:
        c = self.comparison
        for number, move in enumerate(c.moves[-MOST_MOVES:]):
            yield from panels.wrapped("between" if number == 0 else "", _move_words(move), canvas)
        if len(c.moves) > MOST_MOVES:
            yield from panels.wrapped("", f"and {len(c.moves) - MOST_MOVES} moves before these", canvas, "dim")
        for number, note in enumerate(c.notes[-MOST_NOTES:]):
            text = " ".join(note.note.text.split())
            words = f"{note.note.made.astimezone():%d %b %Y}  {text}"
            yield from panels.wrapped("notes" if number == 0 else "", words, canvas, most=2)


def _side_words(side: SideFacts) -> str:
    words = f"{side.words}; {duration_text(side.heard_s)}, {duration_text(side.clean_s)} of it undisturbed"
    about = ", ".join((*side.rig_names, *side.devices))
    return f"{words}; {about}" if about else words


def _rate_words(rate: SoundRate) -> str:
    if not rate.bouts:
        return f"none (under {rate.high_per_hour:.0f} an hour)"
    return f"{percent_text(rate.share)} of the time, {rate.per_hour:.0f} an hour " \
        f"({rate.low_per_hour:.0f} to {rate.high_per_hour:.0f})"


def _sound_words(change: SoundChange) -> str:
    ratio = ""
    if change.ratio is not None:
        ratio = f"; ratio {change.ratio:.2g} ({change.ratio_low:.2g} to {change.ratio_high:.2g})"
    then, now = _rate_words(change.before), _rate_words(change.after)
    return f"{change.kind}, {change.fate}: {then} before, {now} after{ratio}"


def _move_words(dated: DatedMove) -> str:
    move = dated.move
    done = move.done if move.done is not None else move.amount
    what = f"{move.control} {'+' if done > 0 else '-'}{amount_text(done, move.unit)}"
    return f"{dated.made.astimezone():%d %b %Y}  {what}" + (f": {move.seen}" if move.seen else "")


def _restarts(restarts: Restarts, canvas: Canvas) -> Iterator[Text]:
    parts = []
    for name, times, failed in (
        ("before", restarts.before_s, restarts.before_failed), ("after", restarts.after_s, restarts.after_failed),
    ):
        if times:
            middle = sorted(times)[len(times) // 2]
            span = f" ({min(times):.0f} to {max(times):.0f} s)" if len(times) > 1 else ""
            parts.append(f"siphon caught after {middle:.0f} s{span} {name}")
        if failed:
            parts.append(f"did not catch in {count_text(failed, 'start')} {name}")
    if parts:
        yield from panels.wrapped("restart", ", ".join(parts), canvas)


def _change_bar(change_db: float, width: int, ascii_only: bool) -> Text:
    """Return a bar that grows from the middle: to the left when quieter, to the right when louder."""
    half = max(2, width // 2)
    filled = min(half, round(abs(change_db) / _BAR_DB * half))
    full, empty, middle = ("#", ".", "|") if ascii_only else ("▇", "·", "┃")
    left = empty * (half - filled) + full * filled if change_db < 0 else empty * half
    right = full * filled + empty * (half - filled) if change_db > 0 else empty * half
    style = "cyan" if change_db < 0 else "bold magenta"
    bar = Text(no_wrap=True)
    for part, drawn in ((left, change_db < 0), (middle, False), (right, change_db > 0)):
        for char in part:
            bar.append(char, style if drawn and char == full else "dim")
    return bar
