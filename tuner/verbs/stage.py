"""Running a loop in its own thread, with this one free for the terminal and for Ctrl-C.

Ctrl-C and errors leave the terminal as it was, end the loop at its next block and close the logbook's entry.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Generic, TypeVar

from tuner.screens.keys import Keys
from tuner.screens.live import REFRESH_PER_S, LiveScreen
from tuner.verbs.desk import Desk

Result = TypeVar("Result")
JOIN_S = 10.0  # a block of sound and a transaction take far less


class _Worker(threading.Thread, Generic[Result]):
    """A thread that keeps what its work returned or raised."""

    def __init__(self, work: Callable[[], Result]) -> None:
        super().__init__(name="loop", daemon=True)
        self._work = work
        self.results: list[Result] = []
        self.error: BaseException | None = None

    def run(self) -> None:
        """Do the work."""
        try:
            self.results.append(self._work())
        except BaseException as error:
            self.error = error


def run_live(
    desk: Desk, screen: LiveScreen, work: Callable[[], Result], press: Callable[[str], None], stop: Callable[[], None]
) -> Result:
    """Run ``work`` behind a full screen and return what it returns; raises what it raises.

    ``press`` takes every key; ``stop`` asks the work to end, from this thread. On Ctrl-C the work is waited for.
    """
    worker = _Worker(work)
    with Keys(desk.keys) as keys, screen:
        worker.start()
        try:
            while worker.is_alive():
                for key in keys.poll(1.0 / REFRESH_PER_S):
                    press(key)
                screen.refresh()
        except BaseException:
            stop()
            worker.join(JOIN_S)
            raise
    return _result(worker)


def run_plain(work: Callable[[], Result], stop: Callable[[], None]) -> Result:
    """Run ``work``, which prints by itself, and return what it returns; raises what it raises."""
    worker = _Worker(work)
    worker.start()
    try:
        while worker.is_alive():
            worker.join(1.0 / REFRESH_PER_S)
    except BaseException:
        stop()
        worker.join(JOIN_S)
        raise
    return _result(worker)


def _result(worker: _Worker[Result]) -> Result:
    worker.join()
    if worker.error is not None:
        raise worker.error
    return worker.results[0]
