"""The parts of a screen, each a few lines of text for a given width: header, level, what is heard, cause, moves."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from rich.text import Text

from tuner.plain import plain
from tuner.screens.meters import level_bar, share_bar, span_of
from tuner.screens.snapshot import MoveLine, Snapshot
from tuner.screens.words import (
    change_text,
    clock_text,
    done_text,
    duration_text,
    level_text,
    move_banner,
    over_room_text,
    percent_text,
)
from tuner.terms import Cause, Diagnosis, Sound

Lines = list[Text]
LABEL_COLUMNS = 9
LEAST_SHARE = 0.05  # less is nothing to be told of
NAME_STYLE, LABEL_STYLE, CAUSE_STYLE, MOVE_STYLE, SILENT_STYLE, NOTICE_STYLE = (
    "bold reverse", "cyan", "bold magenta", "bold", "bold green", "bold red",
)


@dataclass(frozen=True, slots=True)
class Canvas:
    """What there is to draw on: columns, whether only ASCII can be shown, and the steps of a picture in colours.

    ``shades`` run from the quietest to the loudest; with none, characters stand for the steps.
    """

    width: int
    ascii_only: bool
    shades: tuple[str, ...] = ()

    @property
    def dot(self) -> str:
        """The sign between two words of one line."""
        return "-" if self.ascii_only else "·"


def laid_out(lines: Iterable[Text]) -> Iterator[Text]:
    """Return the lines of a page as they stand: the terminal neither folds nor cuts them."""
    for line in lines:
        line.no_wrap = True
        line.overflow = "ignore"
        yield line


def labelled(label: str) -> Text:
    """Return a line that begins with a label; what is appended has a style of its own."""
    return Text.assemble((f"{label:<{LABEL_COLUMNS}}", LABEL_STYLE), no_wrap=True)


def wrapped(label: str, text: str, canvas: Canvas, style: str = "", most: int | None = None) -> Lines:
    """Return ``text`` beside a label, folded to the width; at most ``most`` lines, the last one then marked."""
    width = max(10, canvas.width - LABEL_COLUMNS)
    folded = textwrap.wrap(plain(text), width, break_on_hyphens=False) or [""]
    if most is not None and len(folded) > most:
        folded = [*folded[: most - 1], textwrap.shorten(" ".join(folded[most - 1 :]), width, placeholder=" ...")]
    lines = []
    for number, part in enumerate(folded):
        line = Text(no_wrap=True, overflow="crop")
        line.append(f"{label if number == 0 else '':<{LABEL_COLUMNS}}", LABEL_STYLE)
        line.append(part, style)
        lines.append(line)
    return lines


def unfolded(label: str, text: str, style: str = "") -> Lines:
    """Return ``text`` beside a label in one line however long, so that a path in it can be copied."""
    shown = plain(text)
    return [Text.assemble((f"{label:<{LABEL_COLUMNS}}", LABEL_STYLE), (shown, style), no_wrap=True, overflow="ignore")]


def rule(canvas: Canvas) -> Text:
    """Return a line across the screen."""
    return Text(("-" if canvas.ascii_only else "─") * canvas.width, style="dim", no_wrap=True)


def header(snapshot: Snapshot, canvas: Canvas) -> Lines:
    """Return the name, what is going on, the source, and at the right the log's number and the time."""
    right = clock_text(snapshot.elapsed_s)
    if snapshot.session is not None:
        right = f"log {snapshot.session} {canvas.dot} {right}"
    title, source = plain(snapshot.title), plain(snapshot.source)
    left = Text.assemble((" hushweir ", NAME_STYLE), f" {title} ", (f"{canvas.dot} {source}", "dim"))
    room = max(0, canvas.width - len(right) - 1)
    left.truncate(room, overflow="crop" if canvas.ascii_only else "ellipsis", pad=True)
    left.append(" " + right)
    left.no_wrap = True
    return [left, rule(canvas)]


def level(snapshot: Snapshot, canvas: Canvas) -> Lines:
    """Return the level in figures and as a bar against the room; until half a second is over, that of this instant."""
    level_db = snapshot.now_db if snapshot.level_db is None else snapshot.level_db
    words = [level_text(level_db, snapshot.calibrated)]
    if over := over_room_text(level_db, snapshot.floor_db):
        words.append(over)
    first = wrapped("level", f"  {canvas.dot} ".join(words), canvas, "bold", most=1)[0]
    return [first, bar(level_db, snapshot.floor_db, snapshot.calibrated, canvas)]


def bar(level_db: float | None, floor_db: float | None, calibrated: bool, canvas: Canvas) -> Text:
    """Return a level as a bar that stands under the text beside a label."""
    line = Text(" " * LABEL_COLUMNS, no_wrap=True)
    width = canvas.width - LABEL_COLUMNS
    return line.append_text(level_bar(level_db, floor_db, span_of(calibrated), width, canvas.ascii_only))


def heard(snapshot: Snapshot, canvas: Canvas, most: int) -> Lines:
    """Return the kinds that are heard now with their probability, surest first; a glimpse comes before, with "?"."""
    rows: list[tuple[str, float]] = [row for row in snapshot.heard if row[1] >= LEAST_SHARE]
    if snapshot.glimpse is not None:
        kind, share = snapshot.glimpse
        rows = [(f"{kind}?", share), *(row for row in rows if row[0] != kind)]
    lines: Lines = []
    width = max(8, min(40, canvas.width - LABEL_COLUMNS - 18))
    for number, (name, share) in enumerate(rows[:most]):
        line = labelled("hears" if number == 0 else "")
        line.append(f"{name:<9}", "bold")
        line.append_text(share_bar(share, width, canvas.ascii_only))
        line.append(f" {percent_text(share):>5}")
        lines.append(line)
    if not lines:
        words = "nothing of the plumbing" if snapshot.heard else "nothing yet"
        lines.append(wrapped("hears", words, canvas, "dim")[0])
    return lines


def outside(snapshot: Snapshot, canvas: Canvas) -> Lines:
    """Return how much of what is heard is not the plumbing's."""
    words = f"{percent_text(snapshot.outside)} likely that other sound covers the plumbing"
    return wrapped("outside", words, canvas, "dim", most=1)


def verdict_text(diagnosis: Diagnosis) -> str:
    """Return the verdict of a window in a few words."""
    if diagnosis.silent:
        return "silent"
    if not diagnosis.causes:
        return "not silent"
    return f"{diagnosis.causes[0].name}, {percent_text(diagnosis.causes[0].probability)} sure"


def cause(diagnosis: Diagnosis | None, canvas: Canvas, reasons: int) -> Lines:
    """Return the verdict with at most ``reasons`` lines of reasons for the most likely cause."""
    if diagnosis is None:
        return wrapped("cause", "not named yet", canvas, "dim")
    if diagnosis.silent:
        return wrapped("verdict", "silent: nothing of the plumbing is heard over the room", canvas, SILENT_STYLE)
    lines = wrapped("cause", verdict_text(diagnosis), canvas, CAUSE_STYLE, most=1)
    if diagnosis.causes:
        lines += because(diagnosis.causes[0], canvas, reasons)
    return lines


def because(best: Cause, canvas: Canvas, most: int) -> Lines:
    """Return the reasons of a cause, one a line, in at most ``most`` lines."""
    lines: Lines = []
    for number, reason in enumerate(best.because):
        left = most - len(lines)
        if left <= 0:
            break
        lines += wrapped("because" if number == 0 else "", reason, canvas, most=min(2, left))
    return lines


def banner_words(snapshot: Snapshot) -> tuple[str, ...]:
    """Return what stands in very large letters."""
    left = "" if snapshot.left_s is None else f" {max(0, round(snapshot.left_s))}"
    if snapshot.phase == "move" and snapshot.step is not None:
        return move_banner(snapshot.step)
    if snapshot.phase == "question":
        return ("LOOK",)
    if snapshot.phase == "settling":
        return (f"WAIT{left}",)
    if snapshot.phase == "done":
        silent = snapshot.diagnosis is not None and snapshot.diagnosis.silent
        return ("SILENT",) if silent else ("STOPPED",)
    return (f"LISTEN{left}",)


def move_words(move: MoveLine) -> str:
    """Return one move with what came of it."""
    what = done_text(move.step, move.done) if move.done else ("by hand" if move.step.amount == 0 else "declined")
    after = move.seen or change_text(move.before_db, move.after_db)
    return f"{what}: {after}" if after else what


def moves(snapshot: Snapshot, canvas: Canvas, most: int, *, tells: bool = False) -> Lines:
    """Return the newest moves, numbered, newest last; with ``tells`` each with what was expected of it."""
    first = max(0, len(snapshot.moves) - most)
    lines: Lines = []
    for n, move in enumerate(snapshot.moves[first:], first):
        lines.append(_in_one_line("moves" if n == first else "", f"{n + 1}  {move_words(move)}", canvas))
        if tells and move.step.expect and move.done:
            lines.append(_in_one_line("", f"   expected: {move.step.expect}", canvas, "dim"))
    return lines


def _in_one_line(label: str, words: str, canvas: Canvas, style: str = "") -> Text:
    line = labelled(label).append(plain(words), style)
    line.truncate(canvas.width, overflow="crop" if canvas.ascii_only else "ellipsis")
    return line


def sound_words(sound: Sound, canvas: Canvas) -> str:
    """Return one sound in a line."""
    span = f"{clock_text(sound.start_s)} to {clock_text(sound.end_s)}"
    return (
        f"{span}  {sound.kind:<8} {duration_text(sound.duration_s)} {canvas.dot} "
        f"{sound.level_db:.1f} dB(A) {canvas.dot} {percent_text(sound.confidence)} sure"
    )


def sounds(snapshot: Snapshot, canvas: Canvas, most: int) -> Lines:
    """Return the newest sounds that ended, newest last."""
    newest = snapshot.sounds[-most:]
    return [
        wrapped("sounds" if n == 0 else "", sound_words(sound, canvas), canvas, most=1)[0]
        for n, sound in enumerate(newest)
    ]
