"""``confirm`` and ``restart`` on a rehearsal rig: what is established so far, and the phases of a start."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from tests.pictures.drawing import tidied
from tuner.capture.source import first_seconds
from tuner.logbook.store import Logbook, Opening
from tuner.rehearsal.cases import draw_case
from tuner.rehearsal.source import RehearsalSource
from tuner.screens.confirmpage import ConfirmShot
from tuner.screens.full.app import FullScreen, page_text
from tuner.screens.restartpage import RestartShot
from tuner.screens.snapshot import Snapshot
from tuner.screens.theme import Look
from tuner.signatures.listener import measure_floor
from tuner.silence.confirmation import Confirmation
from tuner.silence.restart import expected_restart
from tuner.sound.quick import QuickLevel
from tuner.verbs import confirming, restarting
from tuner.verbs.confirm import SIMULATED
from tuner.verbs.confirmscreen import ConfirmScreen
from tuner.verbs.ears import RehearsalEars
from tuner.verbs.instruments import Instruments
from tuner.verbs.opening import Room, simulated_scale
from tuner.verbs.restart import CAUTIONS
from tuner.verbs.restartscreen import RestartScreen

SEED, RATE, ROOM_S = 7, 48_000, 30.0
HEARD_S, LASTS_S = 100.0, 120.0
OFF_S, LOOKED_AT_S = 20.0, 46.0


class _Newest:
    """Keeps the newest state, and lets somebody look at it."""

    def __init__(self) -> None:
        self.state: Any = None
        self.looked: Callable[[Any], None] = lambda _: None

    def show(self, state: Any, /) -> None:
        """Take a state."""
        self.state = state
        self.looked(state)


def _face(title: str, session: int, floor_db: float, calibrated: bool) -> Snapshot:
    return Snapshot(
        title, "the rehearsal rig", "listening", 0.0, calibrated, session=session, floor_db=floor_db
    )


def confirmed(scratch: Path) -> ConfirmShot:
    """Confirm as the verb does, and return the newest state before the end."""
    rehearsal, newest = draw_case(None, SEED, sample_rate=RATE), _Newest()
    offset_db = rehearsal.full_scale_offset_db
    floor = measure_floor(rehearsal.floor(ROOM_S), RATE, offset_db=offset_db)
    confirmation = Confirmation(RATE, floor, SIMULATED, rig=rehearsal.rig, offset_db=offset_db)
    with _logbook(scratch, "confirm") as logbook, logbook.begin(Opening("confirm", "a rig", RATE)) as entry:
        face = _face("confirm", entry.id, floor.levels.laeq_db, True)
        instruments = Instruments(face, QuickLevel(RATE, offset_db))
        teller = confirming.ScreenTeller(instruments, LASTS_S, confirmation.limits, newest)
        loop = confirming.Confirming(confirmation, entry, None, teller)
        loop.hear(first_seconds(RehearsalSource(rehearsal), HEARD_S))
    state: ConfirmShot = newest.state
    return state


def restarted(scratch: Path) -> RestartShot:
    """Restart as the verb does, and return the state some time into the first start."""
    rehearsal, newest = draw_case(None, SEED, sample_rate=RATE), _Newest()
    scale = simulated_scale(rehearsal.full_scale_offset_db)
    floor = measure_floor(rehearsal.floor(ROOM_S), RATE, offset_db=scale.offset_db)
    with _logbook(scratch, "restart") as logbook, logbook.begin(Opening("restart", "a rig", RATE)) as entry:
        face = _face("restart", entry.id, floor.levels.laeq_db, True)
        state = RestartShot(
            face, "ready", 1, 3, 0.0, 0.0, expected=expected_restart(rehearsal.rig), cautions=CAUTIONS
        )
        teller = restarting.ScreenTeller(Instruments(face, QuickLevel(RATE, scale.offset_db)), state, newest)
        ears = RehearsalEars(rehearsal, None, lambda _: None)
        place = restarting.Place("a rig", RATE, ears, rehearsal.rig, Room(floor), scale, rehearsal.pumps)
        loop = restarting.Restarting(place, OFF_S, 3, entry, teller)

        def leave_in_time(found: RestartShot) -> None:
            if found.stage == "on" and found.stage_s >= LOOKED_AT_S:
                loop.leave()

        newest.looked = leave_in_time
        teller.begin()
        loop.run()
    found: RestartShot = newest.state
    return found


def _logbook(scratch: Path, name: str) -> Logbook:
    return Logbook(scratch / f"{name}.sqlite", clock=lambda: datetime(2026, 3, 1, 18, tzinfo=UTC))


async def _drawn(app: FullScreen[Any], state: Any, words: str, title: str) -> str:
    async with app.run_test(size=(80, 24)) as pilot:
        app.show(state)
        while words not in page_text(app):
            await pilot.pause(0.02)
        await pilot.pause(0.1)
        return app.export_screenshot(title=title)


def pictures(scratch: Path) -> Iterator[tuple[str, str]]:
    """Give each picture's name and its SVG."""
    confirm = ConfirmScreen(None).made(Look(), lambda _: None, lambda: None)
    svg = asyncio.run(_drawn(confirm, confirmed(scratch), "so far", "hushweir confirm --quick"))
    yield "confirm", tidied(svg, "confirm")
    restart = RestartScreen(None).made(Look(), lambda: None, lambda _: None, lambda: None)
    svg = asyncio.run(_drawn(restart, restarted(scratch), "so far", "hushweir restart"))
    yield "restart", tidied(svg, "restart")
