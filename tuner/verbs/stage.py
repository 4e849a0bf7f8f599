"""Running a loop in its own thread, with this one free for the terminal and for Ctrl-C.

Ctrl-C and errors leave the terminal as it was, end the loop at its next block and close the logbook's entry.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Callable
from typing import Any, Generic, Protocol, TypeVar

from tuner.capture.source import Source
from tuner.screens.theme import Look, theme_for
from tuner.verbs.desk import INTERRUPTED, Desk

Result = TypeVar("Result")
LOOK_IN_S = 0.125


class _Worker(Generic[Result]):
    """Work in a thread of its own, with what it returned or raised.

    Its end is an event, because a ``join`` that Ctrl-C interrupts may take a running thread for one that has ended.
    """

    def __init__(self, work: Callable[[], Result]) -> None:
        self._work = work
        self._results: list[Result] = []
        self._error: BaseException | None = None
        self._over = threading.Event()
        threading.Thread(target=self._run, name="loop", daemon=True).start()

    def _run(self) -> None:
        try:
            self._results.append(self._work())
        except BaseException as error:
            self._error = error
        finally:
            self._over.set()

    @property
    def is_over(self) -> bool:
        """Whether the work has ended."""
        return self._over.is_set()

    @property
    def has_failed(self) -> bool:
        """Whether an error ended the work."""
        return self._over.is_set() and self._error is not None

    def wait(self, wait_s: float) -> None:
        """Wait for the end, at most ``wait_s`` seconds."""
        self._over.wait(wait_s)

    def end(self) -> None:
        """Wait for the end, which somebody has asked for; a second Ctrl-C ends the process on the spot."""
        try:
            self._over.wait()
        except KeyboardInterrupt:
            # The logbook is whole at any moment; closing it under the loop's hands would not be safe.
            os._exit(INTERRUPTED)

    def result(self) -> Result:
        """Return what the work returned, or raise what it raised."""
        if self._error is not None:
            raise self._error
        return self._results[0]


class FullScreenLike(Protocol):
    """A full screen, as far as running it goes."""

    work: Any
    interrupted: bool
    failure: BaseException | None

    def run(self) -> None:
        """Draw until the work has ended or the keeper leaves."""
        ...


def run_full(screen: FullScreenLike, work: Callable[[], Result], stop: Callable[[], None]) -> Result:
    """Run ``work`` behind a full screen and return what it returns; raises what it raises.

    ``stop`` asks the work to end. When Ctrl-C or a fault of the screen ended it, the work is stopped and waited for.
    """
    worker = _Worker(work)
    screen.work = worker
    try:
        screen.run()
    except BaseException:
        stop()
        worker.end()
        raise
    if not worker.is_over:
        stop()
        worker.end()
    if screen.interrupted:
        raise KeyboardInterrupt
    if screen.failure is not None:
        raise screen.failure
    return worker.result()


def end_of(source: Source) -> None:
    """End a microphone's waiting for sound, which may never come; other sources never wait."""
    stop = getattr(source, "stop", None)
    if stop is not None:
        stop()


def look_of(desk: Desk, wish: str) -> Look:
    """Return how a full screen is drawn on this desk; ``wish`` is "auto", "dark" or "light"."""
    console = desk.console
    few = console.color_system in ("standard", "windows", None)
    return Look(
        theme_for(wish, os.environ.get("COLORFGBG", "")),
        "none" if console.no_color else "sixteen" if few else "full", console.options.ascii_only,
    )


def run_plain(work: Callable[[], Result], stop: Callable[[], None]) -> Result:
    """Run ``work``, which prints by itself, and return what it returns; raises what it raises."""
    worker = _Worker(work)
    try:
        while not worker.is_over:
            worker.wait(LOOK_IN_S)
    except BaseException:
        stop()
        worker.end()
        raise
    return worker.result()
