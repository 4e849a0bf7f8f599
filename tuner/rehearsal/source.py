"""The rehearsal as a source of sound: blocks of 100 ms like those of a microphone or a recording."""

from __future__ import annotations

from collections.abc import Iterator
from types import TracebackType
from typing import Self

from tuner.capture.source import BLOCK_S, block_length
from tuner.rehearsal.rehearsal import Rehearsal
from tuner.terms import Block


class RehearsalSource:
    """A rehearsal that is listened to block by block, without an end: time passes only as blocks are taken."""

    def __init__(self, rehearsal: Rehearsal, name: str = "rehearsal rig") -> None:
        self.sample_rate = rehearsal.sample_rate
        self.name = name
        self.rehearsal = rehearsal
        self._at = 0

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        return None

    def __iter__(self) -> Iterator[Block]:
        length = block_length(self.sample_rate)
        while True:
            samples = self.rehearsal.listen(BLOCK_S)[:length]
            block = Block(samples, self.sample_rate, self._at)
            self._at += len(samples)
            yield block
