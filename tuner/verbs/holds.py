"""What the microphone in the hand gives: a few seconds at a place, from a live source or from the rehearsal rig."""

from __future__ import annotations

import queue
import threading
from collections.abc import Iterator
from types import TracebackType
from typing import Protocol, Self

import numpy as np

from tuner.capture.source import Source, first_seconds
from tuner.rehearsal.rehearsal import Rehearsal
from tuner.screens.keys import Keys
from tuner.terms import Block, Place, Samples
from tuner.verbs.desk import Desk

IDLE_S = 0.1


class Holds(Protocol):
    """The microphone in the hand."""

    def hold(self, place: Place, seconds: float) -> Samples | None:
        """Return the next ``seconds`` of sound, heard at a place; None when some of it was lost."""
        ...

    def idle(self) -> bool:
        """Let about a tenth of a second pass; False when no more sound will come."""
        ...


class LiveHolds:
    """A live source: the keeper carries it."""

    def __init__(self, source: Source) -> None:
        self._ended = False
        self._blocks = self._taken(iter(source))

    def _taken(self, blocks: Iterator[Block]) -> Iterator[Block]:
        yield from blocks
        self._ended = True

    def hold(self, place: Place, seconds: float) -> Samples | None:  # noqa: ARG002 - the keeper has carried it there
        """Return the next ``seconds``; what was heard on the way has been let go."""
        blocks = list(first_seconds(self._blocks, seconds))
        lost = any(block.dropped or block.note for block in blocks[1:])
        parts = [block.samples for block in blocks]
        whole = bool(blocks) and not lost and sum(map(len, parts)) >= 0.9 * seconds * blocks[0].sample_rate
        return np.concatenate(parts) if whole else None

    def idle(self) -> bool:
        """Let the sound of a tenth of a second go."""
        for _ in first_seconds(self._blocks, IDLE_S):
            pass
        return not self._ended


class RehearsalHolds:
    """The simulated rig: carried and held by itself."""

    def __init__(self, rehearsal: Rehearsal, desk: Desk, *, cup: bool) -> None:
        self._rehearsal = rehearsal
        self._desk = desk
        self._cup = cup

    def hold(self, place: Place, seconds: float) -> Samples | None:
        """Carry it there and return what it heard."""
        return self._rehearsal.hold(place, seconds, cup=self._cup)

    def idle(self) -> bool:
        """Wait a moment; the simulated water stands still meanwhile."""
        self._desk.sleep(IDLE_S)
        return True


class Presses:
    """What the keeper presses: single keys on a terminal, else lines. ``poll`` gives a word, or None yet.

    "" is Enter; the end of the lines is "q".
    """

    def __init__(self, desk: Desk) -> None:
        self._keys = Keys(desk.keys) if desk.is_live else None
        self._waiting: list[str] = []
        self._lines: queue.SimpleQueue[str] = queue.SimpleQueue()
        self._stream = desk.keys

    def __enter__(self) -> Self:
        if self._keys is not None:
            self._keys.__enter__()
        else:
            # A thread of its own, because waiting for a line must not keep the microphone waiting.
            threading.Thread(target=self._read, name="answers", daemon=True).start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._keys is not None:
            self._keys.__exit__(kind, error, trace)

    def _read(self) -> None:
        for line in self._stream:
            self._lines.put(line.strip().lower())
        self._lines.put("q")

    def poll(self) -> str | None:
        """Return the next word, or None when nothing was pressed yet."""
        if self._keys is None:
            try:
                return self._lines.get_nowait()
            except queue.Empty:
                return None
        self._waiting.extend(key.strip().lower() for key in self._keys.poll(0.0))
        return self._waiting.pop(0) if self._waiting else None
