"""``tune`` on the demo's tank: the first move and a question at a common size, and the end on a wide screen."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from tests.desks import PaperDesk
from tests.pictures.drawing import tidied
from tuner.coach import Coach
from tuner.logbook.store import Logbook, Opening
from tuner.screens.box import heights_of
from tuner.screens.full.app import page_text
from tuner.screens.snapshot import Snapshot
from tuner.screens.theme import Look
from tuner.signatures.listener import Listener
from tuner.verbs.demo import NAME, SEED, WINDOW_S
from tuner.verbs.hearing import Hearing
from tuner.verbs.keeper import ObedientKeeper, ScreenKeeper
from tuner.verbs.subjects import rehearsal_of, rehearsal_subject
from tuner.verbs.tune import BOX_DRAWS
from tuner.verbs.tunescreen import TuneScreen
from tuner.verbs.tuning import Tuning
from tuner.water.standing import standing


class _All:
    """Keeps the newest state of each phase, by how many moves were made before."""

    def __init__(self) -> None:
        self.shots: dict[tuple[str, int], Snapshot] = {}

    def show(self, snapshot: Snapshot, /) -> None:
        """Take a state."""
        self.shots[snapshot.phase, len(snapshot.moves)] = snapshot


def tuned(scratch: Path) -> dict[tuple[str, int], Snapshot]:
    """Tune as the verb does, by an obedient hand, and return the states."""
    subject = rehearsal_subject(rehearsal_of(SEED), None, PaperDesk().desk, "the rehearsal rig")
    floor, all_ = subject.room.floor, _All()
    with (
        Logbook(scratch / "tune.sqlite", clock=lambda: datetime(2026, 3, 1, 18, tzinfo=UTC)) as logbook,
        logbook.begin(Opening("tune", subject.name, subject.sample_rate)) as entry,
    ):
        face = Snapshot(
            f"tune {NAME}", subject.name, "listening", 0.0, subject.offset_db is not None, session=entry.id,
            floor_db=floor.levels.laeq_db if floor else None,
        )
        ears = Listener(subject.sample_rate, subject.rig, floor, offset_db=subject.offset_db)
        box = heights_of(subject.rig, standing(subject.rig, np.random.default_rng(0), BOX_DRAWS))
        Tuning(
            Coach(subject.rig, floor), subject.ears, ObedientKeeper(), Hearing(ears, entry, all_, face), WINDOW_S,
            box=box,
        ).run()
    return all_.shots


async def _drawn(shot: Snapshot, columns: int, rows: int) -> str:
    screen = TuneScreen(ScreenKeeper(None), Look(), None)
    async with screen.screen.run_test(size=(columns, rows)) as pilot:
        screen.show(shot)
        while NAME not in page_text(screen.screen):
            await pilot.pause(0.02)
        await pilot.pause(0.1)
        return screen.screen.export_screenshot(title="hushweir tune")


def pictures(scratch: Path) -> Iterator[tuple[str, str]]:
    """Give each picture's name and its SVG."""
    shots = tuned(scratch)
    done = next(shot for (phase, _), shot in shots.items() if phase == "done")
    yield "tune-move", tidied(asyncio.run(_drawn(shots["move", 0], 80, 24)), "tune-move")
    asks = next(shot for (phase, _), shot in shots.items() if phase == "question")
    yield "tune-look", tidied(asyncio.run(_drawn(asks, 80, 24)), "tune-look")
    yield "tune-end", tidied(asyncio.run(_drawn(done, 120, 36)), "tune-end")
