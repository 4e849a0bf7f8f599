"""The logbook on the screen: the list of sessions, and one session in full."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from rich.console import Console, ConsoleOptions, RenderResult
from rich.text import Text

from tuner.logbook.rows import Gap, KeptDiagnosis, KeptLook, KeptMove, KeptReading, KeptSound, Note, Session
from tuner.plain import plain
from tuner.screens import panels
from tuner.screens.lines import canvas_of
from tuner.screens.meters import trace
from tuner.screens.panels import Canvas, Lines
from tuner.screens.words import clock_text, count_text, duration_text, level_text, percent_text
from tuner.units import amount_text

MOST_SOUNDS = 20


def _ended(session: Session) -> str:
    return session.outcome or ("cut off" if session.ended is None else "")


def _verdict(session: Session) -> str:
    if session.last_silent is None:
        return session.outcome or "no verdict"
    return "silent" if session.last_silent else session.last_cause or "not silent"


@dataclass(frozen=True, slots=True)
class LogList:
    """The sessions, newest first, one a line."""

    sessions: tuple[Session, ...]
    path: Path

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Draw the list."""
        canvas = canvas_of(console)
        yield Text(f"{'no':>5}  {'when':<16}  {'verb':<7}  {'for':<11}  {'level':>7}  what it came to", style="cyan")
        for session in self.sessions:
            level = "" if session.last_laeq_db is None else f"{session.last_laeq_db:.1f}"
            line = Text(plain(
                f"{session.id:>5}  {session.started.astimezone():%Y-%m-%d %H:%M}  {session.verb:<7}  "
                f"{duration_text(session.seconds):<11}  {level:>7}  {_verdict(session)}"
            ), no_wrap=True)
            about = (", ".join(session.tags), session.rig_name or session.device, self._extra(session))
            line.append(plain(f"  {f' {canvas.dot} '.join(x for x in about if x)}"), "dim")
            line.truncate(max(canvas.width, console.width - 1), overflow="crop" if canvas.ascii_only else "ellipsis")
            yield line
        total = count_text(len(self.sessions), "session")
        yield Text(plain(f"{total} in {self.path}"), style="dim", no_wrap=True, overflow="ignore")

    def _extra(self, session: Session) -> str:
        words = []
        if session.moves:
            words.append(count_text(session.moves, "move"))
        if session.clips:
            words.append(count_text(session.clips, "clip"))
        if session.gaps:
            words.append(count_text(session.gaps, "gap"))
        if session.ended is None:
            words.append("cut off")
        return ", ".join(words)


@dataclass(frozen=True, slots=True)
class SessionPage:
    """One session: what it was, the level's course, verdicts, moves, sounds, gaps, notes."""

    session: Session
    readings: tuple[KeptReading, ...]
    diagnoses: tuple[KeptDiagnosis, ...]
    moves: tuple[KeptMove, ...]
    looks: tuple[KeptLook, ...]
    sounds: tuple[KeptSound, ...]
    gaps: tuple[Gap, ...]
    notes: tuple[Note, ...]

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Draw the page."""
        yield from panels.laid_out(self._lines(canvas_of(console)))

    def _lines(self, canvas: Canvas) -> Iterator[Text]:
        s = self.session
        yield panels.rule(canvas)
        about = f"{s.id} {canvas.dot} {s.verb} {canvas.dot} {s.started.astimezone():%d %B %Y, %H:%M:%S}"
        yield from panels.wrapped("session", about, canvas, "bold")
        if s.rig_name:
            yield from panels.wrapped("rig", s.rig_name, canvas)
        device = f"{s.device}, {s.sample_rate_hz} Hz, {'calibrated' if s.calibrated else 'not calibrated'}"
        yield from panels.wrapped("heard by", device, canvas)
        ended = f", {_ended(s)}" if _ended(s) else ""
        heard = f"{duration_text(s.seconds)}, {count_text(s.sounds, 'sound')}{ended}"
        yield from panels.wrapped("heard", heard, canvas)
        if s.place or s.gain:
            yield from panels.wrapped("set up", f"{s.place or 'place not said'}, gain {s.gain or 'not said'}", canvas)
        if s.tags:
            yield from panels.wrapped("tags", ", ".join(s.tags), canvas)
        for note in self.notes:
            yield from panels.wrapped("note", note.text, canvas)
        yield from self._course(canvas)
        for when_s, lines in sorted(self._events(canvas), key=lambda event: event[0]):
            for number, line in enumerate(lines):
                yield Text(f"{clock_text(when_s) if number == 0 else '':<8} ", style="dim").append_text(line)
        yield from self._sound_lines(canvas)

    def _course(self, canvas: Canvas) -> Lines:
        levels = [r.level_db for r in self.readings if r.level_db is not None]
        width = canvas.width - panels.LABEL_COLUMNS
        if not levels:
            return []
        if len(levels) > width:
            step = len(levels) / width
            levels = [max(levels[int(i * step) : max(int(i * step) + 1, int((i + 1) * step))]) for i in range(width)]
        line = Text(f"{'course':<{panels.LABEL_COLUMNS}}", style=panels.LABEL_STYLE)
        return [line.append_text(trace(levels, None, width, canvas.ascii_only))]

    def _events(self, canvas: Canvas) -> Iterator[tuple[float, Lines]]:
        narrow = Canvas(canvas.width - panels.LABEL_COLUMNS, canvas.ascii_only)
        for gap in self.gaps:
            length = f", {duration_text(gap.length_s)} missing" if gap.length_s else ""
            yield gap.start_s, panels.wrapped("gap", gap.note + length, narrow)
        for diagnosis in self.diagnoses:
            yield diagnosis.end_s, self._verdict_lines(diagnosis, narrow)
        for move in self.moves:
            yield move.at_s + 0.001, self._move_lines(move, narrow)
        for look in self.looks:
            yield look.at_s, panels.wrapped("look", f"{look.text} {look.answer or 'cannot say'}", narrow)

    def _verdict_lines(self, diagnosis: KeptDiagnosis, canvas: Canvas) -> Lines:
        level = level_text(diagnosis.levels.laeq_db, diagnosis.levels.calibrated)
        if diagnosis.silent:
            return panels.wrapped("verdict", f"silent, {level}", canvas, panels.SILENT_STYLE)
        if not diagnosis.causes:
            return panels.wrapped("verdict", f"not silent, {level}", canvas)
        best = diagnosis.causes[0]
        lines = panels.wrapped(
            "cause", f"{best.name}, {percent_text(best.probability)} sure, {level}", canvas, panels.CAUSE_STYLE
        )
        for number, reason in enumerate(best.because[:3]):
            lines += panels.wrapped("because" if number == 0 else "", reason, canvas)
        return lines

    def _move_lines(self, move: KeptMove, canvas: Canvas) -> Lines:
        # What is logged is shown by its sign: a later program may know controls that this one does not.
        sign = "+" if move.amount > 0 else "-"
        what = f"{move.control} {sign}{amount_text(move.amount, move.unit)}" if move.amount else "by hand"
        if move.done is None:
            what += ", not answered"
        elif move.amount and move.done == 0:
            what += ", declined"
        elif move.done != move.amount:
            what += f", done: {'+' if move.done > 0 else '-'}{amount_text(move.done, move.unit)}"
        lines = panels.wrapped("move", what, canvas, panels.MOVE_STYLE) + panels.wrapped("why", move.why, canvas)
        if move.expected:
            lines += panels.wrapped("expected", move.expected, canvas)
        if move.seen:
            lines += panels.wrapped("seen", move.seen, canvas)
        return lines

    def _sound_lines(self, canvas: Canvas) -> Iterator[Text]:
        for number, sound in enumerate(self.sounds[:MOST_SOUNDS]):
            level = "" if sound.level_db is None else f", {sound.level_db:.1f} dB(A)"
            words = (
                f"{clock_text(sound.start_s)} to {clock_text(sound.end_s)}  {sound.kind:<8} "
                f"{duration_text(sound.end_s - sound.start_s)}{level}, {percent_text(sound.confidence)} sure"
            )
            yield from panels.wrapped("sounds" if number == 0 else "", words, canvas, most=1)
        if len(self.sounds) > MOST_SOUNDS:
            yield from panels.wrapped("", f"and {len(self.sounds) - MOST_SOUNDS} more", canvas, "dim")
