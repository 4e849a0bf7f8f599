"""A whole tuning on its full screen, by textual's pilot: with keys only, with the mouse only, with no hands at all."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Awaitable, Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from textual.pilot import Pilot

from tests.test_verbs_tuning import LOOK, RATE, SILENCE, STEP, Ear, Script, Tape, noisy
from tuner.logbook.store import Logbook, Opening
from tuner.screens.full.app import FullScreen, page_text
from tuner.screens.full.dialogs import Ask
from tuner.screens.snapshot import Snapshot
from tuner.screens.theme import Look
from tuner.terms import Block, Step
from tuner.verbs.handsfree import HandsFreeKeeper
from tuner.verbs.hearing import Hearing
from tuner.verbs.keeper import Keeper, ScreenKeeper
from tuner.verbs.tunescreen import TuneScreen
from tuner.verbs.tuning import Tuned, Tuning

WINDOW_S = 5.0


class Patient(Tape):
    """Noise that grows softer at every move; while the keeper thinks, the tape waits for a key."""

    def __init__(self, hand_after_s: float | None = None) -> None:
        super().__init__()
        self.pressed = threading.Event()
        self._level = 0.1
        self._hand_after_s = hand_after_s
        self._asked_at: int | None = None
        self._rng = np.random.default_rng(7)

    def _blocks(self, duration_s: float) -> Iterator[Block]:
        for block in super()._blocks(duration_s):
            noise = self._level * self._rng.standard_normal(block.samples.size)
            yield replace(block, samples=noise.astype(np.float32))

    def asked(self, asked: object) -> None:
        self._asked_at = self.at if isinstance(asked, Step) else None

    def idle(self) -> Iterator[Block]:
        if self._hand_after_s is None:
            self.pressed.wait(0.02)
            self.pressed.clear()
        elif self._asked_at is not None and self.at - self._asked_at >= self._hand_after_s * RATE:
            self._asked_at = None
            self._level *= 0.5
        yield from self._blocks(0.1)


class Stage:
    """The tuning behind its screen, in a thread of its own."""

    has_failed = False

    def __init__(self, tmp_path: Path, script: Script, tape: Patient, *, hands_free: bool = False) -> None:
        self.script, self.tape = script, tape
        self.keeper = ScreenKeeper()
        press = self.keeper.press

        def heard(key: str, words: str) -> str:
            complaint = press(key, words)
            tape.pressed.set()
            return complaint

        self.keeper.press = heard  # type: ignore[method-assign]
        keeper: Keeper = HandsFreeKeeper(self.keeper, RATE) if hands_free else self.keeper
        self._screen = TuneScreen(self.keeper, Look(), None)
        self.app: FullScreen[Snapshot] = self._screen.screen
        self.app.work = self
        self._path = tmp_path / "log.sqlite"
        self._keeper = keeper
        self.tuned: list[Tuned] = []
        self._thread = threading.Thread(target=self._run, daemon=True)

    @property
    def is_over(self) -> bool:
        return bool(self.tuned)

    def begin(self) -> None:
        self._thread.start()

    def end(self) -> None:
        self._thread.join(30.0)

    def _run(self) -> None:
        with (
            Logbook(self._path, clock=lambda: datetime(2026, 3, 1, tzinfo=UTC)) as logbook,
            logbook.begin(Opening("tune", "a tape", RATE)) as entry,
        ):
            face = Snapshot("tune", "a tape", "listening", 0.0, False)
            hearing = Hearing(Ear(), entry, self._screen, face)  # type: ignore[arg-type]
            tuning = Tuning(self.script, self.tape, self._keeper, hearing, WINDOW_S)  # type: ignore[arg-type]
            self.tuned.append(tuning.run())


Act = Callable[[Stage, Pilot[None]], Awaitable[None]]


def play(stage: Stage, act: Act) -> None:
    async def run() -> None:
        async with stage.app.run_test(size=(80, 24)) as pilot:
            stage.begin()
            await act(stage, pilot)
            await until(pilot, lambda: not stage.app.is_running)

    asyncio.run(run())
    stage.end()


async def until(pilot: Pilot[None], true: Callable[[], bool]) -> None:
    for _ in range(1500):
        if true():
            return
        await pilot.pause(0.01)
    raise AssertionError("it did not come about")


async def sees(stage: Stage, pilot: Pilot[None], words: str) -> None:
    await until(pilot, lambda: words in page_text(stage.app))


async def click(stage: Stage, pilot: Pilot[None], words: str, page: str = "Page") -> None:
    shown = [line.plain for line in stage.app.screen.query_one(page)._lines]  # type: ignore[attr-defined]
    row = max(i for i, line in enumerate(shown) if words in line)
    await pilot.click(page, offset=(shown[row].index(words) + 1, row))


def tuning() -> Script:
    """A coach that has a move, a look and another move before it is silent."""
    return Script([noisy(50.0), noisy(45.0), SILENCE], [STEP, LOOK, replace(STEP, why="it still gurgles"), None])


def check(stage: Stage, amounts: list[float]) -> None:
    (tuned,) = stage.tuned
    assert not tuned.has_quit
    assert tuned.last is SILENCE
    assert stage.tape.moves == amounts
    assert [m.done for m in tuned.moves] == amounts


def test_with_keys_only(tmp_path: Path) -> None:
    async def act(stage: Stage, pilot: Pilot[None]) -> None:
        await sees(stage, pilot, STEP.why)
        await pilot.press("enter")
        await sees(stage, pilot, LOOK.text)
        await pilot.press("2")
        await sees(stage, pilot, "it still gurgles")
        await pilot.press("plus", *"1/4", "enter")
        await sees(stage, pilot, "the end")
        await pilot.press("enter")

    stage = Stage(tmp_path, tuning(), Patient())
    play(stage, act)
    check(stage, [0.125, 0.25])
    assert ("bubbles", "in surges") in stage.script.log


def test_with_the_mouse_only(tmp_path: Path) -> None:
    async def act(stage: Stage, pilot: Pilot[None]) -> None:
        await sees(stage, pilot, STEP.why)
        await click(stage, pilot, " Enter  done")
        await sees(stage, pilot, LOOK.text)
        await click(stage, pilot, " 2  in surges")
        await sees(stage, pilot, "it still gurgles")
        await click(stage, pilot, " +  more/less")
        await until(pilot, lambda: isinstance(stage.app.screen, Ask))
        await pilot.pause()
        await click(stage, pilot, " 1/4 ", "Ask Page")
        await sees(stage, pilot, "the end")
        await click(stage, pilot, " Enter  end")

    stage = Stage(tmp_path, tuning(), Patient())
    play(stage, act)
    check(stage, [0.125, 0.25])
    assert ("bubbles", "in surges") in stage.script.log


def test_with_no_hands_on_the_computer(tmp_path: Path) -> None:
    async def act(stage: Stage, pilot: Pilot[None]) -> None:
        await sees(stage, pilot, "the end")
        await pilot.press("q")  # only to leave the end, which stays to be read

    stage = Stage(tmp_path, tuning(), Patient(hand_after_s=6.0), hands_free=True)
    play(stage, act)
    check(stage, [0.125, 0.125])
    assert ("bubbles", None) in stage.script.log


@pytest.mark.parametrize("key", ["u", "n", "p"])
def test_undo_note_and_pause_reach_the_loop(tmp_path: Path, key: str) -> None:
    async def act(stage: Stage, pilot: Pilot[None]) -> None:
        await sees(stage, pilot, STEP.why)
        if key == "n":
            await pilot.press("n", *"wet", "enter")
            await sees(stage, pilot, "kept in the log: wet")
        elif key == "p":
            await pilot.press("p")
            await sees(stage, pilot, "go on")
            await pilot.press("p")
            await sees(stage, pilot, "pause")
        await pilot.press("enter")
        await sees(stage, pilot, "it still gurgles")
        if key == "u":
            await pilot.press("u")
            await sees(stage, pilot, "takes move 1 back")
        await pilot.press("enter")
        await sees(stage, pilot, "the end")
        await pilot.press("enter")

    heard = [noisy(50.0), noisy(45.0), SILENCE]
    stage = Stage(tmp_path, Script(heard, [STEP, replace(STEP, why="it still gurgles"), None]), Patient())
    play(stage, act)
    check(stage, [0.125, -0.125] if key == "u" else [0.125, 0.125])
