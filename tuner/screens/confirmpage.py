"""The page of ``confirm``: what is established so far, how long it still takes, what disturbs it.

The outcome so far stands in large letters; while other sound covers the plumbing they say so instead.
"""

from __future__ import annotations

from dataclasses import dataclass

from rich.text import Text

from tuner.screens import panels
from tuner.screens.chart import trace_lines
from tuner.screens.keybar import Key
from tuner.screens.letters import BigWords
from tuner.screens.panels import Canvas, Lines, wrapped
from tuner.screens.parts import Part, fitted
from tuner.screens.progressparts import point_lines, span_text, time_lines
from tuner.screens.snapshot import Snapshot
from tuner.screens.words import count_text, duration_text, percent_text
from tuner.silence.judgement import Verdict
from tuner.silence.points import Point

WHY, NOTE = "w", "n"
_OUTCOMES = {
    "silent": ("SILENT SO FAR", "SILENT", "bold green"), "audible": ("AUDIBLE", "AUDIBLE", "bold red"),
    "not shown": ("LISTENING", "NOT SHOWN", "bold cyan"),
}


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of the listening that counts for nothing, in seconds from the start, and why."""

    start_s: float
    end_s: float
    words: str


@dataclass(frozen=True, slots=True)
class ConfirmShot:
    """A confirmation at one moment.

    ``shot`` holds the instruments, ``lasts_s`` is how long is to be listened, ``verdict`` and ``points`` what is
    established so far, ``disturbed`` whether the newest moment is covered by other sound, ``stretches`` the newest
    that were.
    """

    shot: Snapshot
    lasts_s: float
    verdict: Verdict | None = None
    points: tuple[Point, ...] = ()
    disturbed: bool = False
    stretches: tuple[Stretch, ...] = ()


def confirm_keys(state: ConfirmShot) -> tuple[Key, ...]:
    """Return the keys of the page in a state."""
    ended = state.shot.phase == "done"
    end = (Key("enter", "Enter", "end", "close this screen; the certificate is printed below"),) if ended else ()
    return (
        *end,
        Key(WHY, "w", "why", "what it rests on, what is missing, what it cannot show, what disturbed it"),
        Key(NOTE, "n", "note", "words to keep in the log", asks="What is to be kept in the log?", works=not ended),
    )


def confirm_page(state: ConfirmShot, canvas: Canvas, rows: int) -> Lines:
    """Return the page of a state, at most ``rows`` lines."""
    shot = state.shot
    small = rows < 16 or canvas.width < 44
    space = Part([Text("")], 20)
    parts = [
        Part(panels.header(shot, canvas)),
        Part(_banner(state, canvas, rows, small)),
        space,
        Part(time_lines(shot.elapsed_s, state.lasts_s, canvas)),
        Part(_disturbs(state, canvas), 2),
        space,
        Part(point_lines(state.points, canvas) or wrapped("so far", "nothing yet", canvas), 1),
        Part(_findings(state, canvas, 2 if rows < 30 else 6), 3, cut=True),
        space,
        Part(panels.level(shot, canvas)[: 1 if rows < 30 else 2], 7),
        Part(trace_lines(shot, canvas, 6 if rows >= 34 else 2), 6),
        Part(panels.heard(shot, canvas, 1 if rows < 30 else 3), 8),
        Part(_newest(state, canvas, 4), 10),
        Part(_further(state, canvas), 12),
        Part(wrapped("!", shot.notice, canvas, panels.NOTICE_STYLE, most=2) if shot.notice else []),
    ]
    return fitted(parts, rows)


def banner_of(state: ConfirmShot) -> tuple[str, str]:
    """Return what stands in large letters, and its style."""
    outcome = "not shown" if state.verdict is None else state.verdict.outcome
    so_far, at_last, style = _OUTCOMES[outcome]
    if state.shot.phase == "done":
        return at_last, style
    return ("DISTURBED", "bold yellow") if state.disturbed else (so_far, style)


def _banner(state: ConfirmShot, canvas: Canvas, rows: int, small: bool) -> Lines:
    words, style = banner_of(state)
    lines: tuple[str, ...] = (words,)
    if state.shot.phase != "done" and rows >= 30:
        lines = (words, f"{duration_text(max(0.0, state.lasts_s - state.shot.elapsed_s)).upper()} LEFT")
    return list(BigWords(lines, style, most_rows=1 if small else None).rendered(canvas.width, canvas.ascii_only))


def _disturbs(state: ConfirmShot, canvas: Canvas) -> Lines:
    shot, verdict = state.shot, state.verdict
    words = f"{percent_text(shot.outside)} likely now that other sound covers the plumbing"
    if shot.phase == "done":
        words = "nothing did" if not state.stretches else "see the stretches below"
    if verdict is not None and (lost_s := verdict.heard_s - verdict.clean_s) > 0.0:
        words = f"{duration_text(lost_s)} covered by other sound do not count"
        if shot.phase != "done":
            words += f"; {percent_text(shot.outside)} likely now"
    return wrapped("disturbs", words, canvas, "bold yellow" if state.disturbed else "", most=1)


def _findings(state: ConfirmShot, canvas: Canvas, most: int) -> Lines:
    """Return what is audible, else what keeps silence from being shown."""
    verdict = state.verdict
    if verdict is None:
        return []
    label, words, style = ("audible", verdict.heard, "bold red") if verdict.heard else ("missing", verdict.why, "")
    lines: Lines = []
    for number, word in enumerate(words[:most]):
        lines += wrapped(label if number == 0 else "", word, canvas, style, most=2)
    if len(words) > most:
        lines += wrapped("", f"and {count_text(len(words) - most, 'more reason')}: key w", canvas)
    return lines


def _newest(state: ConfirmShot, canvas: Canvas, most: int) -> Lines:
    lines: Lines = []
    for number, stretch in enumerate(state.stretches[-most:]):
        words = f"{span_text(stretch.start_s, stretch.end_s)}  {stretch.words}"
        lines += wrapped("covered" if number == 0 else "", words, canvas, most=1)
    return lines


def _further(state: ConfirmShot, canvas: Canvas) -> Lines:
    words = () if state.verdict is None else state.verdict.further
    return [line for n, word in enumerate(words) for line in wrapped("more" if n == 0 else "", word, canvas, most=2)]


def why_sheet(state: ConfirmShot, canvas: Canvas) -> Lines:
    """Return everything that the verdict so far says of itself, and what disturbed it."""
    lines = point_lines(state.points, canvas)
    verdict = state.verdict
    if verdict is None:
        return [*lines, *wrapped("so far", "nothing is established yet", canvas)]
    for label, words in (
        ("audible", verdict.heard), ("missing", verdict.why), ("rests on", verdict.rests_on),
        ("cannot", verdict.cannot_show), ("more", verdict.further),
    ):
        if words:
            lines.append(Text(""))
        for number, word in enumerate(words):
            lines += wrapped(label if number == 0 else "", word, canvas)
    return [*lines, Text(""), *(_newest(state, canvas, len(state.stretches)) or wrapped("covered", "nothing", canvas))]
