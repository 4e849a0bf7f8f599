"""The page of ``restart``: what to switch now, how long it still takes, and the phases of each start as they show."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from rich.text import Text

from tuner.screens import panels
from tuner.screens.chart import trace_lines
from tuner.screens.keybar import Key
from tuner.screens.letters import BigWords
from tuner.screens.panels import Canvas, Lines, wrapped
from tuner.screens.parts import Part, fitted
from tuner.screens.progressparts import span_text, time_lines
from tuner.screens.snapshot import Snapshot
from tuner.screens.words import clock_text, percent_text
from tuner.silence.restart import Expectation, Start

Stage = Literal["ready", "off", "on", "done"]
BEGIN, NOTE, WHY = "enter", "n", "w"
CALL_S = 8.0  # for how long the call to switch stands alone in large letters
COVERED_FROM = 0.5
_STYLES: dict[Stage, str] = {"ready": "bold cyan", "off": "bold yellow", "on": "bold green", "done": "bold"}


@dataclass(frozen=True, slots=True)
class RestartShot:
    """A rehearsal of a power cut at one moment.

    ``shot`` holds the instruments. ``number`` of ``count`` starts is going on in ``stage``, for ``stage_s`` seconds
    and at most ``lasts_s``; ``start`` is what has been found of it so far, ``starts`` are those that are over.
    ``expected`` and ``earlier_s`` are what the installation and earlier runs lead one to expect, ``cautions`` what to
    mind, ``findings`` what it came to, ``restarts`` whether it did by itself (None while that is open).
    """

    shot: Snapshot
    stage: Stage
    number: int
    count: int
    stage_s: float
    lasts_s: float
    start: Start | None = None
    starts: tuple[Start, ...] = ()
    expected: Expectation | None = None
    earlier_s: tuple[float, ...] = ()
    cautions: tuple[str, ...] = ()
    findings: tuple[str, ...] = ()
    restarts: bool | None = None


def restart_keys(state: RestartShot) -> tuple[Key, ...]:
    """Return the keys of the page in a state."""
    word = {"ready": "begin", "done": "end"}.get(state.stage, "begin")
    meaning = "close this screen" if state.stage == "done" else "begin at once: you stand at the pumps' switch"
    return (
        Key(BEGIN, "Enter", word, meaning, works=state.stage in ("ready", "done")),
        Key(WHY, "w", "cautions", "what to mind at a power cut, and what is expected of this installation"),
        Key(NOTE, "n", "note", "words to keep in the log", asks="What is to be kept in the log?",
            works=state.stage != "done"),
    )


def restart_page(state: RestartShot, canvas: Canvas, rows: int) -> Lines:
    """Return the page of a state, at most ``rows`` lines."""
    shot = state.shot
    small = rows < 16 or canvas.width < 44
    space = Part([Text("")], 20)
    waits = state.stage == "ready"
    parts = [
        Part(panels.header(shot, canvas)),
        Part(_banner(state, canvas, rows, small)),
        space,
        Part(_says(state, canvas)),
        Part(_time(state, canvas), 1),
        Part(_cautions(state, canvas) if waits else [], 1, cut=True),
        Part(_found(state, canvas), 2, cut=True),
        Part(_results(state, canvas), 2, cut=True),
        Part(_before(state, canvas), 5),
        space,
        Part(_disturbs(state, canvas), 4),
        Part(panels.level(shot, canvas)[: 1 if rows < 30 else 2], 7),
        Part(trace_lines(shot, canvas, 6 if rows >= 34 else 2), 6),
        Part(panels.heard(shot, canvas, 1 if rows < 30 else 3), 8),
        Part(wrapped("!", shot.notice, canvas, panels.NOTICE_STYLE, most=2) if shot.notice else []),
    ]
    return fitted(parts, rows)


def banner_of(state: RestartShot) -> tuple[str, ...]:
    """Return what stands in large letters."""
    left = f"{max(0, round(state.lasts_s - state.stage_s))}"
    if state.stage == "ready":
        return ("STAND BY", left)
    if state.stage == "off":
        return ("PUMPS OFF", left)
    if state.stage == "on":
        if state.stage_s < CALL_S:
            return ("PUMPS ON", "NOW")
        caught = state.start is not None and state.start.catches_s is not None
        quiet = state.start is not None and state.start.quiet_s is not None
        return ("QUIET" if quiet else "CAUGHT" if caught else "LISTENING", clock_text(state.stage_s))
    if state.restarts is None:
        return ("STOPPED", "PUMPS ON?")
    return ("RESTARTS",) if state.restarts else ("NOT SHOWN",)


def _banner(state: RestartShot, canvas: Canvas, rows: int, small: bool) -> Lines:
    words = banner_of(state)
    if rows < 30:
        words = (" ".join(words),) if len(" ".join(words)) <= 12 else words[:1]
    style = _STYLES[state.stage]
    if state.stage == "done":
        style = "bold green" if state.restarts else "bold yellow"
    return list(BigWords(words, style, most_rows=1 if small else None).rendered(canvas.width, canvas.ascii_only))


def _says(state: RestartShot, canvas: Canvas) -> Lines:
    words = {
        "ready": "go to the pumps' switch; it begins by itself when the time is over, or with Enter",
        "off": "switch the pumps OFF and leave them off; it listens to how the water drains",
        "on": "switch the pumps ON and leave them on; it listens for air, the siphon's catch, and quiet",
        "done": "leave the pumps ON",
    }[state.stage]
    label = f"start {state.number}" if state.stage in ("off", "on") else "do"
    return wrapped(label, words, canvas, "bold", most=2)


def _time(state: RestartShot, canvas: Canvas) -> Lines:
    if state.stage == "done":
        return []
    lines = time_lines(state.stage_s, state.lasts_s, canvas)
    if state.stage == "on":
        words = f"start {state.number} of {state.count}; it ends once it was quiet for a minute"
        lines += wrapped("", words, canvas, most=1)
    return lines


def _cautions(state: RestartShot, canvas: Canvas) -> Lines:
    lines: Lines = []
    for number, words in enumerate(state.cautions):
        lines += wrapped("caution" if number == 0 else "", words, canvas)
    return lines


def _found(state: RestartShot, canvas: Canvas) -> Lines:
    """Return the phases of the present start, as they show by now."""
    if state.stage != "on":
        return []
    if state.start is None:
        return wrapped("so far", "nothing is told from the first twenty seconds", canvas, most=1)
    return _phases("so far", state.start, canvas)


def _phases(label: str, start: Start, canvas: Canvas) -> Lines:
    lines: Lines = []
    for number, (name, from_s, to_s) in enumerate(start.phases):
        lines += wrapped(label if number == 0 else "", f"{span_text(from_s, to_s):<16}  {name}", canvas, most=1)
    return lines


def _results(state: RestartShot, canvas: Canvas) -> Lines:
    """Return each start that is over in a line, and at the end what they say."""
    lines: Lines = []
    for number, start in enumerate(state.starts, 1):
        caught = "the siphon did not catch" if start.catches_s is None else f"caught after {start.catches_s:.0f} s"
        quiet = "not quiet" if start.quiet_s is None else f"quiet after {start.quiet_s:.0f} s"
        lines += wrapped(f"start {number}", f"{caught}, {quiet}", canvas, "bold", most=1)
    for number, words in enumerate(state.findings):
        lines += wrapped("says" if number == 0 else "", words, canvas, "bold", most=3)
    return lines


def _before(state: RestartShot, canvas: Canvas) -> Lines:
    lines: Lines = []
    if state.expected is not None:
        words = f"the siphon catches after {state.expected.low_s:.0f} to {state.expected.high_s:.0f} s"
        lines += wrapped("expected", words, canvas, most=1)
    if state.earlier_s:
        listed = ", ".join(f"{seconds:.0f}" for seconds in state.earlier_s[-6:])
        lines += wrapped("earlier", f"it caught after {listed} s", canvas, most=1)
    return lines


def _disturbs(state: RestartShot, canvas: Canvas) -> Lines:
    if state.stage in ("ready", "done"):
        return []
    outside = state.shot.outside
    style = "bold yellow" if outside >= COVERED_FROM else ""
    return wrapped("disturbs", f"{percent_text(outside)} likely that other sound covers the plumbing", canvas, style)


def caution_sheet(state: RestartShot, canvas: Canvas) -> Lines:
    """Return the cautions, the expectation, and what earlier runs took."""
    return [*_cautions(state, canvas), Text(""), *_before(state, canvas)]
