"""What every live page shows of the sound: the level now and second by second, the kinds, what covers them."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Sequence
from dataclasses import replace

from tuner.screens.snapshot import TRACE_S, Snapshot
from tuner.sound.quick import QuickLevel
from tuner.terms import Block, Moment, SoundKind


def surest_first(moment: Moment) -> tuple[tuple[SoundKind, float], ...]:
    """Return the kinds of a moment with their probability, surest first."""
    return tuple(sorted(moment.probability.items(), key=lambda pair: (-pair[1], pair[0])))


class Seconds:
    """The level of each of the newest seconds, from moments of half a second."""

    def __init__(self) -> None:
        self._second: list[Moment] = []
        self._levels: deque[float] = deque(maxlen=TRACE_S)

    def add(self, moment: Moment) -> None:
        """Take the next moment; both of one second make one level."""
        if self._second and math.floor(self._second[0].start_s) != math.floor(moment.start_s):
            self._second = []
        if self._second:
            self._levels.pop()
        self._second.append(moment)
        power = sum(10.0 ** (m.level_db / 10.0) for m in self._second) / len(self._second)
        self._levels.append(10.0 * math.log10(power) if power > 0.0 else -math.inf)

    @property
    def levels_db(self) -> tuple[float, ...]:
        """The levels (dB), oldest first."""
        return tuple(self._levels)


class Instruments:
    """Keeps a snapshot up to date with what is heard; ``meter`` gives the level of a block at once."""

    def __init__(self, face: Snapshot, meter: QuickLevel) -> None:
        self.shot = face
        self._meter = meter
        self._seconds = Seconds()

    def hear(self, block: Block, moments: Sequence[Moment]) -> None:
        """Take a block and the moments that it completed."""
        now_s = block.start_s + block.samples.size / block.sample_rate
        shot = replace(self.shot, elapsed_s=now_s)
        if block.samples.size and (now_db := self._meter(block.samples)) is not None:
            shot = replace(shot, now_db=now_db)
        for moment in moments:
            self._seconds.add(moment)
            shot = replace(
                shot, level_db=moment.level_db, trace_db=self._seconds.levels_db, heard=surest_first(moment),
                outside=moment.outside,
            )
        self.shot = shot
