"""``listen`` on the rehearsal rig, in the dark and in the light."""

from __future__ import annotations

import asyncio
import queue
import threading
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from tests.desks import PaperDesk
from tests.pictures.drawing import tidied
from tuner.capture.source import first_seconds
from tuner.logbook.store import Logbook, Opening
from tuner.rehearsal.source import RehearsalSource
from tuner.screens.full.app import page_text
from tuner.screens.snapshot import Snapshot
from tuner.screens.theme import DARK, LIGHT, Look
from tuner.signatures.listener import Listener
from tuner.verbs.demo import SEED
from tuner.verbs.hearing import Hearing
from tuner.verbs.listen import Listening
from tuner.verbs.listenscreen import ListenScreen
from tuner.verbs.subjects import rehearsal_of, rehearsal_subject

HEARD_S = 44.0


class _Newest:
    """Keeps the newest state."""

    def __init__(self) -> None:
        self.shot: Snapshot | None = None

    def show(self, snapshot: Snapshot, /) -> None:
        """Take a state."""
        self.shot = snapshot


def heard(scratch: Path) -> Snapshot:
    """Listen to the demo's tank as the verb does, and return the state at the end."""
    rehearsal = rehearsal_of(SEED)
    subject = rehearsal_subject(rehearsal, None, PaperDesk().desk, "the rehearsal rig")
    source, floor = RehearsalSource(rehearsal), subject.room.floor
    newest = _Newest()
    with (
        Logbook(scratch / "log.sqlite", clock=lambda: datetime(2026, 3, 1, 18, tzinfo=UTC)) as logbook,
        logbook.begin(Opening("listen", source.name, source.sample_rate)) as entry,
    ):
        face = Snapshot(
            "listen", source.name, "listening", 0.0, subject.offset_db is not None, session=entry.id,
            floor_db=floor.levels.laeq_db if floor else None,
        )
        ears = Listener(source.sample_rate, subject.rig, floor, offset_db=subject.offset_db)
        loop = Listening(
            Hearing(ears, entry, newest, face), subject.rig, floor, threading.Event(), queue.SimpleQueue()
        )
        loop.hear(first_seconds(source, HEARD_S))
    assert newest.shot is not None
    return newest.shot


async def _drawn(shot: Snapshot, look: Look, columns: int, rows: int) -> str:
    screen = ListenScreen(lambda _: None, lambda: None)
    app = screen.made(look)
    async with app.run_test(size=(columns, rows)) as pilot:
        screen.show(shot)
        while "cause" not in page_text(app):
            await pilot.pause(0.02)
        await pilot.pause(0.1)
        return app.export_screenshot(title="hushweir listen")


def pictures(scratch: Path) -> Iterator[tuple[str, str]]:
    """Give each picture's name and its SVG."""
    shot = heard(scratch)
    for name, theme in (("listen-dark", DARK), ("listen-light", LIGHT)):
        yield name, tidied(asyncio.run(_drawn(shot, Look(theme=theme), 80, 24)), name)
