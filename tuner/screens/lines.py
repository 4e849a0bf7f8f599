"""Screens made of lines, for a pipe, a file, a screen reader or a dumb terminal.

``LineScreen`` prints one line a second and what happens in between. ``StoryScreen`` prints what each listening window
came to and each move, with the move in large letters. Both print nothing twice: they compare a snapshot with the
one before.
"""

from __future__ import annotations

from rich.console import Console
from rich.text import Text

from tuner.screens import panels
from tuner.screens.letters import BigWords
from tuner.screens.panels import Canvas
from tuner.screens.snapshot import Snapshot
from tuner.screens.words import (
    change_text,
    clock_text,
    duration_text,
    level_text,
    move_banner,
    move_text,
    over_room_text,
    percent_text,
)

STORY_COLUMNS = 79


def canvas_of(console: Console) -> Canvas:
    """Return what lines may use of a console; long lines are harder to read than folded ones."""
    return Canvas(min(STORY_COLUMNS, max(20, console.width - 1)), console.options.ascii_only)


def second_line(shot: Snapshot) -> str:
    """Return one second in one line: time, level, what is heard, surest first."""
    parts = [clock_text(shot.told_s), level_text(shot.level_db, shot.calibrated)]
    if over := over_room_text(shot.level_db, shot.floor_db):
        parts.append(over)
    parts.append(", ".join(f"{kind} {percent_text(share)}" for kind, share in shot.heard[:3]) or "-")
    return "  ".join(parts)


class LineScreen:
    """One line a second, and every sound, verdict and notice when it comes."""

    def __init__(self, console: Console) -> None:
        self._console = console
        self._canvas = canvas_of(console)
        self._second = -1
        self._sounds = 0
        self._window = 0
        self._notice = ""

    def show(self, snapshot: Snapshot) -> None:
        """Print what is new in ``snapshot``."""
        if snapshot.notice and snapshot.notice != self._notice:
            self._print(f"{clock_text(snapshot.elapsed_s)}  ! {snapshot.notice}")
        self._notice = snapshot.notice
        new = snapshot.sound_count - self._sounds
        for sound in snapshot.sounds[-new:] if new > 0 else ():
            self._print(f"sound   {panels.sound_words(sound, self._canvas)}")
        self._sounds = snapshot.sound_count
        if snapshot.window > self._window and snapshot.diagnosis is not None:
            self._print(f"heard   {panels.verdict_text(snapshot.diagnosis)}")
        self._window = snapshot.window
        second = int(snapshot.told_s)
        if snapshot.phase == "listening" and second != self._second and snapshot.level_db is not None:
            self._print(second_line(snapshot))
            self._second = second

    def _print(self, text: str) -> None:
        self._console.print(Text(text), soft_wrap=True)


class StoryScreen:
    """The tuning told in order: what a window came to, the move, what came of it."""

    def __init__(self, console: Console) -> None:
        self._console = console
        self._canvas = canvas_of(console)
        self._window = 0
        self._told: object = None
        self._listens = False
        self._settles = False
        self._moves = 0
        self._listens_on = ""
        self._silent_after = self._result_of = -1  # moves
        self._notice = ""

    def show(self, snapshot: Snapshot) -> None:
        """Print what is new in ``snapshot``."""
        if snapshot.notice and snapshot.notice != self._notice:
            self._print(*panels.wrapped("!", snapshot.notice, self._canvas, panels.NOTICE_STYLE))
        self._notice = snapshot.notice
        self._listening(snapshot)
        if snapshot.window > self._window and snapshot.diagnosis is not None:
            self._window = snapshot.window
            self._verdict(snapshot)
        self._asked(snapshot)
        self._settling(snapshot)

    def _listening(self, shot: Snapshot) -> None:
        if shot.phase == "listening" and not self._listens:
            left = "" if shot.left_s is None else f" for {duration_text(shot.left_s)}"
            self._print(Text(""), panels.rule(self._canvas))
            self._print(*panels.wrapped(clock_text(shot.elapsed_s), f"listening{left}", self._canvas, "dim"))
        self._listens = shot.phase == "listening"
        why = shot.step.why if self._listens and shot.step is not None else ""
        if why and why != self._listens_on:
            self._print(*panels.wrapped("next", why, self._canvas))
        self._listens_on = why

    def _verdict(self, shot: Snapshot) -> None:
        diagnosis = shot.diagnosis
        assert diagnosis is not None
        now_db = diagnosis.reading.levels.laeq_db
        level = level_text(now_db, shot.calibrated)
        if over := over_room_text(now_db, shot.floor_db):
            level += f", {over}"
        silent_before = self._silent_after == len(shot.moves)
        self._silent_after = len(shot.moves) if diagnosis.silent else -1
        if diagnosis.silent and silent_before:
            self._print(*panels.wrapped("still", f"silent, {level}", self._canvas))
            return
        if shot.moves and shot.moves[-1].done and self._result_of != len(shot.moves):
            self._result_of = len(shot.moves)
            words = shot.moves[-1].seen or change_text(shot.moves[-1].before_db, now_db)
            self._print(*panels.wrapped("result", words, self._canvas))
        self._print(*panels.wrapped("level", level, self._canvas))
        self._print(panels.bar(now_db, shot.floor_db, shot.calibrated, self._canvas))
        heard = sorted((h for h in diagnosis.reading.heard if h.share > 0), key=lambda h: (-h.share, h.kind))
        listed = ", ".join(f"{h.kind} {percent_text(h.share)} of the time" for h in heard[:3])
        self._print(*panels.wrapped("heard", listed or "nothing that lasts", self._canvas))
        self._print(*panels.cause(diagnosis, self._canvas, 8))

    def _asked(self, shot: Snapshot) -> None:
        asked = shot.step if shot.phase == "move" else shot.question if shot.phase == "question" else None
        if asked is None or asked is self._told:
            return
        self._told = asked
        if shot.phase == "move" and shot.step is not None:
            self._print(Text(""), *panels.wrapped("move", move_text(shot.step), self._canvas, panels.MOVE_STYLE))
            self._print(Text(""))
            self._print(*BigWords(move_banner(shot.step), "bold yellow").rendered(*_paper(self._canvas)))
            self._print(Text(""), *panels.wrapped("why", shot.step.why, self._canvas))
            if shot.step.expect:
                self._print(*panels.wrapped("expect", shot.step.expect, self._canvas))
        elif shot.question is not None:
            self._print(Text(""), *panels.wrapped("look", shot.question.text, self._canvas, panels.MOVE_STYLE))
            choices = ", ".join(f"{n} {choice}" for n, choice in enumerate(shot.question.choices, 1))
            self._print(*panels.wrapped("answer", choices, self._canvas))
        if shot.keys:
            self._print(*panels.wrapped("keys", shot.keys.strip(), self._canvas, "dim"))

    def _settling(self, shot: Snapshot) -> None:
        if len(shot.moves) > self._moves:
            self._moves = len(shot.moves)
            self._print(*panels.wrapped("done", panels.move_words(shot.moves[-1]), self._canvas))
        if shot.phase == "settling" and not self._settles:
            left = "" if shot.left_s is None else f" {duration_text(shot.left_s)}"
            self._print(*panels.wrapped("wait", f"the water settles:{left}", self._canvas, "dim"))
        self._settles = shot.phase == "settling"

    def _print(self, *lines: Text) -> None:
        for line in lines:
            self._console.print(line, soft_wrap=True)


def _paper(canvas: Canvas) -> tuple[int, bool]:
    return canvas.width, canvas.ascii_only
