"""The immediate guide: while a hand turns, is the sound getting better, worse, or is there no change yet?

It compares the last few seconds with the listening window before the move. It is quick, not sure: the water follows a
valve within seconds to a minute, so its word is a hint, and the listening window after the settle time decides.
Sounds that come and go (gulps, flushes) must have stayed away for longer than they used to before they count as gone.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass
from math import log10
from typing import Literal

from tuner.terms import CYCLIC_KINDS, Reading, SoundKind, Step
from tuner.units import amount_text

Trend = Literal["better", "worse", "no change", "listening"]

RECENT_S = 3.0
CLEAR_DB = 1.5  # within the scatter of a few seconds against a window, below
WORSE_DB = 3.0
HEARD_FROM = 0.3  # share or probability
GONE_BELOW = 0.15
NEW_FROM = 0.6
CYCLES = 1.5  # of a sound that comes and goes, in which it must stay away
USUAL_CYCLE_S = 15.0
ALARMING: tuple[SoundKind, ...] = ("roar", "flush", "slurp", "gurgle")


@dataclass(frozen=True, slots=True)
class Advice:
    """What the guide says: the trend, what to do about it, whether that is to stop, and the change of level (dB)."""

    trend: Trend
    words: str
    stop: bool
    change_db: float | None


@dataclass(frozen=True, slots=True)
class _Moment:
    at_s: float
    level_db: float
    probability: Mapping[SoundKind, float]


class Guide:
    """Follows one move from the moment at which it was advised.

    Parameters
    ----------
    before
        The listening window before the move.
    step
        The move that was advised.
    """

    def __init__(self, before: Reading, step: Step) -> None:
        self._before = before
        self._step = step
        self._culprits = {h.kind: h for h in before.heard if h.share >= HEARD_FROM}
        self._absent_since_s: float | None = None
        self._recent: deque[_Moment] = deque()

    def hear(self, at_s: float, level_db: float, probability: Mapping[SoundKind, float]) -> Advice:
        """Take the next half second, heard at ``at_s``, and return what is to be said now."""
        self._recent.append(_Moment(at_s, level_db, probability))
        while self._recent[0].at_s < at_s - RECENT_S:
            self._recent.popleft()
        if at_s - self._recent[0].at_s < RECENT_S - 1.0:
            return Advice("listening", "", False, None)
        present = any(self._now(kind) >= GONE_BELOW for kind in self._culprits)
        self._absent_since_s = None if present else at_s if self._absent_since_s is None else self._absent_since_s
        return self._judge(at_s)

    def _now(self, kind: SoundKind) -> float:
        return sum(m.probability.get(kind, 0.0) for m in self._recent) / len(self._recent)

    def _judge(self, at_s: float) -> Advice:
        power = sum(10.0 ** (m.level_db / 10.0) for m in self._recent) / len(self._recent)
        before_power = 10.0 ** (self._before.levels.laeq_db / 10.0)
        change_db = 10.0 * log10(power / before_power) if power > 0.0 and before_power > 0.0 else None
        new = next((k for k in ALARMING if k not in self._culprits and self._now(k) >= NEW_FROM), None)
        if new is not None:
            return Advice("worse", f"stop: now it {_VERBS[new]}", True, change_db)
        if change_db is not None and change_db >= WORSE_DB:
            return Advice("worse", "stop, and go no further this way", True, change_db)
        size = amount_text(self._step.amount, self._step.unit)
        if self._culprits and self._absent_since_s is not None:
            away_s = at_s - self._absent_since_s
            if away_s >= max((self._patience_s(k) for k in self._culprits), default=0.0):
                return Advice("better", "stop: it is gone", True, change_db)
            return Advice("better", "wait: it has stopped, but it may come back", False, change_db)
        weaker = any(self._now(k) < 0.5 * h.probability for k, h in self._culprits.items() if k not in CYCLIC_KINDS)
        if weaker or (change_db is not None and change_db <= -CLEAR_DB):
            return Advice("better", f"a little more, up to {size}", False, change_db)
        return Advice("no change", f"go on, up to {size}; the water takes its time", False, change_db)

    def _patience_s(self, kind: SoundKind) -> float:
        if kind not in CYCLIC_KINDS:
            return RECENT_S / 2.0
        return CYCLES * (self._culprits[kind].period_s or USUAL_CYCLE_S)


_VERBS: dict[SoundKind, str] = {"roar": "roars", "flush": "flushes", "slurp": "gulps air", "gurgle": "gurgles"}
