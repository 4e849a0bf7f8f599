"""Events: probabilities every half second become sounds with start, end, level and confidence."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

import numpy as np

from tuner.signatures.ears import LOOK_S
from tuner.signatures.kind import Signature
from tuner.terms import Sound, SoundKind


@dataclass(slots=True)
class _Open:
    """An event under way: first and last active look, and what was gathered from the active ones."""

    first: int
    last: int
    power: float
    probability: float
    looks: int


class EventTracker:
    """Turn one kind's probability into events, by its signature's rule. One probability a look, in order."""

    def __init__(self, signature: Signature) -> None:
        self._rule = signature
        self.reset()

    def reset(self) -> None:
        """Be as new."""
        self._recent: deque[float] = deque(maxlen=self._rule.smooth)
        self._open: _Open | None = None
        self._at = -1

    @property
    def active(self) -> bool:
        """Whether the newest look belongs to an event."""
        return self._open is not None and self._open.last == self._at

    def push(self, probability: float, power: float, at: int, kind: SoundKind) -> tuple[Sound, ...]:
        """Take the probability and the A-weighted mean square of look number ``at``; return an event that has ended."""
        self._at = at
        self._recent.append(probability)
        mean = float(np.mean(self._recent))
        ended: tuple[Sound, ...] = ()
        if self._open is None:
            if mean >= self._rule.on:
                self._open = _Open(at, at, power, probability, 1)
            return ended
        if mean >= self._rule.off:
            self._open.last = at
            self._open.power += power
            self._open.probability += probability
            self._open.looks += 1
        elif (at - self._open.last) * LOOK_S > self._rule.gap_s:
            ended = self._close(kind)
        return ended

    def flush(self, kind: SoundKind) -> tuple[Sound, ...]:
        """End the stream: return the event under way, if it is long enough, and be as new."""
        ended = self._close(kind) if self._open is not None else ()
        self.reset()
        return ended

    def under_way(self, kind: SoundKind) -> tuple[Sound, ...]:
        """Return the event under way, if it is long enough already, without ending it."""
        return () if self._open is None else self._sound(self._open, kind)

    def _close(self, kind: SoundKind) -> tuple[Sound, ...]:
        event, self._open = self._open, None
        return () if event is None else self._sound(event, kind)

    def _sound(self, event: _Open, kind: SoundKind) -> tuple[Sound, ...]:
        # A look speaks for the second before it: the event began half a look before the middle of its first one.
        start_s = (event.first + 1) * LOOK_S
        end_s = (event.last + 2) * LOOK_S
        if end_s - start_s < self._rule.shortest_s:
            return ()
        level_db = 10.0 * float(np.log10(event.power / event.looks + 1e-20))
        return (Sound(kind, start_s, end_s, level_db, event.probability / event.looks),)
