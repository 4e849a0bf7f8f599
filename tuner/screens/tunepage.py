"""The page of ``tune``: the next move very large, what is heard, the guide, the box and what is believed of it.

A wide page shows the box at its right throughout; a common one shows it below, whenever no move stands in large
letters. Parts that do not fit are left out, the least needed first, and every one can be opened by a key.
"""

from __future__ import annotations

from rich.text import Text

from tuner.screens import panels
from tuner.screens.box import BOX_COLUMNS, LABEL_COLUMNS, LEAST_ROWS, box_lines
from tuner.screens.chart import trace_lines
from tuner.screens.gaugeline import gauge_lines
from tuner.screens.keybar import Key
from tuner.screens.letters import BigWords
from tuner.screens.panels import Canvas, Lines, wrapped
from tuner.screens.parts import Part, beside, fitted
from tuner.screens.snapshot import Snapshot
from tuner.screens.words import duration_text, percent_text

WIDE_FROM, BOX_WIDTH, BOX_ROWS, REASON_ROWS = 118, BOX_COLUMNS + LABEL_COLUMNS, 24, 8
# Rows of the trace, and whether the moves come with what was expected of them: as much as there is room for.
_GENEROSITY = ((10, True), (7, True), (5, True), (4, False), (2, False))
_BANNER_STYLE = {"move": "bold yellow", "question": "bold yellow", "done": "bold green"}
_TREND = {"better": ("▼ better", "v better"), "worse": ("▲ worse", "^ worse"), "no change": ("= no change",) * 2}
_AMOUNTS = {
    "turn": ("1/16", "1/8", "1/4", "1/2", "1"), "degree": ("1", "2", "4", "8"), "percent": ("1", "2", "5", "10"),
}


def tune_keys(shot: Snapshot) -> tuple[Key, ...]:
    """Return the keys of the page in a state."""
    asked, ended = shot.phase in ("move", "question"), shot.phase == "done"
    turns = shot.phase == "move" and shot.step is not None and shot.step.amount != 0.0
    unit = shot.step.unit if shot.step is not None else "turn"
    said = "cannot say" if shot.phase == "question" else "done"
    done = Key("enter", "Enter", said, "the move is made as shown; to a question: I cannot say", ("d",), works=asked)
    if ended:
        done = Key("enter", "Enter", "end", "close this screen")
    looks = () if shot.question is None else tuple(
        Key(str(n), str(n), choice, f"answer: {choice}") for n, choice in enumerate(shot.question.choices, 1)
    )
    return (
        *looks, done,
        Key("plus", "+", "more/less", "another amount was turned than the one shown: say which", ("minus",),
            asks=f"How far was it turned, in {unit}s? The other way: with a minus sign.".replace("percents", "percent"),
            choices=_AMOUNTS[unit], works=turns),
        Key("x", "x", "cannot", "this cannot be done: ask for another move", ("s",), works=asked),
        Key("u", "u", "undo", "take the last move back", works=bool(shot.moves) and not ended),
        Key("g", "g", "best", "go back to the best setting so far", works=bool(shot.moves) and not ended),
        Key("w", "w", "why", "what speaks for this, and what else it may be"),
        Key("b", "b", "box", "the box, the quiet window, and what is believed"),
        Key("p", "p", "go on" if shot.is_paused else "pause", "stop listening for a while, or go on", ("space",),
            works=not ended),
        Key("n", "n", "note", "words to keep in the log", asks="What is to be kept in the log?", works=not ended),
    )


def tune_page(shot: Snapshot, canvas: Canvas, rows: int) -> Lines:
    """Return the page of a state, at most ``rows`` lines."""
    head = panels.header(shot, canvas)
    if canvas.width < WIDE_FROM or rows < 20 or shot.box is None:
        return [*head, *_main(shot, canvas, rows - len(head), with_box=True)][:rows]
    left = Canvas(canvas.width - BOX_WIDTH - 2, canvas.ascii_only, canvas.shades)
    main = _main(shot, left, rows - len(head), with_box=False)
    side = _side(shot, Canvas(BOX_WIDTH, canvas.ascii_only, canvas.shades), rows - len(head))
    return [*head, *beside(main, side, left.width)][:rows]


def _side(shot: Snapshot, canvas: Canvas, rows: int) -> Lines:
    assert shot.box is not None
    high = max(LEAST_ROWS, min(BOX_ROWS, rows - 8))
    lines = box_lines(shot.box, high, us=False, ascii_only=canvas.ascii_only)
    return [*lines, Text(""), *gauge_lines(shot.gauge, canvas, words=5)][:rows]


def _main(shot: Snapshot, canvas: Canvas, rows: int, *, with_box: bool) -> Lines:
    waits = shot.phase in ("move", "question")
    # While nothing is asked of the keeper, the box is worth more than what can wait; the cause then stands beside it.
    shows_box = with_box and not waits and shot.box is not None and canvas.width >= BOX_WIDTH and rows >= 20
    room = rows - (LEAST_ROWS + 2 if shows_box else 0)
    lines = _instruments(shot, canvas, rows, room, with_box=with_box, shows_box=shows_box)
    if shows_box and shot.box is not None:
        box = box_lines(shot.box, min(BOX_ROWS, rows - len(lines) - 2), us=False, ascii_only=canvas.ascii_only)
        right = Canvas(canvas.width - BOX_WIDTH - 2, canvas.ascii_only)
        lines += beside(box, _reasons(shot, right, len(box)) if _aside(shows_box, canvas) else [], BOX_WIDTH)
    return lines


def _aside(shows_box: bool, canvas: Canvas) -> bool:
    return shows_box and canvas.width >= BOX_WIDTH + 32


def _instruments(
    shot: Snapshot, canvas: Canvas, rows: int, room: int, *, with_box: bool, shows_box: bool
) -> Lines:
    """Return everything but the box, in ``room`` lines; room that is left makes the trace higher."""
    for trace_rows, tells in _GENEROSITY if rows >= 30 else _GENEROSITY[-1:]:
        parts = _parts(shot, canvas, rows, trace_rows, tells, with_box=with_box, shows_box=shows_box)
        if sum(len(part.lines) for part in parts) <= room:
            break
    return fitted(parts, room)


def _parts(
    shot: Snapshot, canvas: Canvas, rows: int, trace_rows: int, tells: bool, *, with_box: bool, shows_box: bool
) -> list[Part]:
    waits = shot.phase in ("move", "question")
    belief = gauge_lines(shot.gauge, canvas, words=1 if rows < 30 else 2) if with_box else []
    reasons = REASON_ROWS if tells and not waits and not with_box else 0
    return [
        Part(_level(shot, canvas), 8 if waits else 3),
        Part(trace_lines(shot, canvas, trace_rows), 9 if waits else 7),
        Part(panels.heard(shot, canvas, 3 if rows >= 30 else 1), 10),
        Part(panels.cause(shot.diagnosis, canvas, reasons), 12 if waits or _aside(shows_box, canvas) else 4),
        Part([Text("")], 6 if waits else 15),
        Part(_banner(shot, canvas, rows), 0),
        Part([Text("")], 16),
        Part(_guide(shot, canvas), 1),
        Part(_reason(shot, canvas), 2, cut=True),
        Part(_notice(shot, canvas), 1),
        Part(belief[:1], 5), Part(belief[1:], 5 if shows_box else 11),
        Part(_margins(shot, canvas), 2, cut=True),
        Part([Text("")], 20),
        Part(panels.moves(shot, canvas, 3 if rows < 30 else 8, tells=tells), 6),
    ]


def _banner(shot: Snapshot, canvas: Canvas, rows: int) -> Lines:
    words, style = panels.banner_words(shot), _BANNER_STYLE.get(shot.phase, "bold cyan")
    if shot.is_paused:
        words, style = ("PAUSED",), "bold yellow"
    elif shot.phase == "move" and shot.advice is not None and shot.advice.stop:
        words, style = ("STOP",), "bold red"
    return list(BigWords(words, style, most_rows=rows - 4).rendered(canvas.width, canvas.ascii_only))


def _level(shot: Snapshot, canvas: Canvas) -> Lines:
    return panels.level(shot, canvas)[:1]


def _guide(shot: Snapshot, canvas: Canvas) -> Lines:
    advice = shot.advice
    if shot.phase != "move" or advice is None:
        return []
    if advice.trend == "listening":
        return wrapped("guide", "turn now: the sound is followed", canvas)
    sign = _TREND[advice.trend][1 if canvas.ascii_only else 0]
    change_db = advice.change_db
    # A sound that grows weaker may leave the level a little higher: such a figure would only seem to contradict.
    agrees = change_db is not None and not (advice.trend == "better" and change_db > 0.0)
    change = f" ({change_db:+.1f} dB)" if agrees else ""
    style = {"better": "bold green", "worse": "bold red", "no change": "bold"}[advice.trend]
    return wrapped("guide", f"{sign}{change}: {advice.words}", canvas, style, most=2)


def _reason(shot: Snapshot, canvas: Canvas) -> Lines:
    step, question = shot.step, shot.question
    if shot.phase == "listening" and step is not None:
        return wrapped("why", step.why, canvas, most=3)
    if shot.phase == "move" and step is not None:
        lines = wrapped("why", step.why, canvas, "bold" if step.amount == 0 else "", most=5 if step.amount == 0 else 3)
        if step.expect:
            lines += wrapped("expect", step.expect, canvas, most=2)
        if shot.is_hands_free:
            lines += wrapped("then", "nothing to press: it hears when the move is made", canvas, most=1)
        return lines
    if shot.phase == "question" and question is not None:
        return wrapped("look", question.text, canvas, "bold", most=4)  # the answers stand at their keys
    if shot.phase == "settling" and shot.moves:
        words = "the water settles; then it listens again"
        left = "" if shot.left_s is None else f" in {duration_text(shot.left_s)}"
        expect = shot.moves[-1].step.expect
        lines = wrapped("wait", words + left, canvas, most=1)
        return [*lines, *(wrapped("expect", expect, canvas, most=2) if expect else [])]
    return []


def _notice(shot: Snapshot, canvas: Canvas) -> Lines:
    return wrapped("!", shot.notice, canvas, panels.NOTICE_STYLE, most=2) if shot.notice else []


def _margins(shot: Snapshot, canvas: Canvas) -> Lines:
    summary = shot.summary
    if shot.phase != "done" or summary is None:
        return []
    style = panels.SILENT_STYLE if summary.tuned else panels.NOTICE_STYLE
    lines = wrapped("end", summary.text, canvas, style, most=3)
    if summary.less_flow is not None and summary.more_flow is not None:
        words = (
            f"the quiet should bear {percent_text(summary.less_flow)} less and {percent_text(summary.more_flow)} more"
            " flow from the pump"
        )
        lines += wrapped("margin", words, canvas, "bold", most=2)
    return lines


def _reasons(shot: Snapshot, canvas: Canvas, rows: int) -> Lines:
    lines = panels.cause(shot.diagnosis, canvas, max(0, rows - 1))
    return lines[:rows]


def why_sheet(shot: Snapshot, canvas: Canvas) -> Lines:
    """Return everything that speaks for the present advice, every likely cause, and all moves."""
    lines: Lines = []
    if shot.step is not None:
        lines += [*wrapped("why", shot.step.why, canvas), *wrapped("expect", shot.step.expect or "-", canvas), Text("")]
    if shot.diagnosis is None:
        lines += wrapped("cause", "not named yet: a listening window must end first", canvas)
    elif shot.diagnosis.silent:
        lines += panels.cause(shot.diagnosis, canvas, 0)
    else:
        for cause in shot.diagnosis.causes:
            lines += wrapped("cause", f"{cause.name}, {percent_text(cause.probability)}", canvas, panels.CAUSE_STYLE)
            lines += panels.because(cause, canvas, 8)
    lines.append(Text(""))
    lines += panels.heard(shot, canvas, 9)
    for number, move in enumerate(shot.moves, 1):
        lines += [Text(""), *wrapped(f"move {number}", panels.move_words(move), canvas, "bold")]
        lines += wrapped("expected", move.step.expect or "-", canvas)
        lines += wrapped("seen", move.seen or "not heard yet", canvas)
    return lines


def box_sheet(shot: Snapshot, canvas: Canvas) -> Lines:
    """Return the box to scale, the quiet window, and what is believed."""
    if shot.box is None:
        return wrapped("box", "nothing is known of the water yet", canvas)
    box = box_lines(shot.box, 16, us=False, ascii_only=canvas.ascii_only)
    return [*box, Text(""), *gauge_lines(shot.gauge, canvas, words=6)]
