"""A noise among other sound, or in the midst of silence: whether it may be acted on at its first hearing.

Much of a household sounds like water for a second or two, and not all of it is told from water. While other sound has
been about lately, or when it has been silent since the last move, a noise that is neither plain nor regular is
listened for again before anything is turned, and until then it teaches the belief nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from tuner.causes.facts import presence
from tuner.causes.rules import Silence
from tuner.terms import SOUND_KINDS, CauseName, Diagnosis, Reading

PLAIN_LIVELY, PLAIN_STILL = 0.6, 0.3  # presence from which a sound is beyond doubt
FAINT_DB = 1.0  # over the measured room: a window that stands no higher is never plain in the midst of silence
SURE = 1.0  # sum of a cause's probabilities over the doubtful hearings from which it is believed
HINT_LIVELY, HINT_STILL = 0.5, 0.05  # probability of a cause from which a hearing speaks for it at all
LIVELY_S = 300.0  # for which a room counts as lively after other sound was heard
AGAIN_WITHIN_S = 80.0  # of listening, in which the same cause must be heard twice in a lively room
AGAIN_IN_SILENCE_S = 300.0  # the same in a still one: a slow cycle takes minutes


@dataclass(slots=True)
class Doubts:
    """What was heard in doubt since the last move; ``count`` is how many doubtful hearings there were.

    ``over_room`` tells that the room was measured.
    """

    over_room: bool
    count: int = 0
    _listened_s: float = 0.0
    _lively_until_s: float = -1.0
    _was_silent: bool = False
    _hints: list[tuple[float, dict[CauseName, float]]] = field(default_factory=list)

    def is_doubtful(self, diagnosis: Diagnosis, silence: Silence) -> bool:
        """Note one listening, and tell whether what was heard must be heard again before it counts."""
        reading = diagnosis.reading
        self._listened_s += reading.duration_s
        if reading.outside_share >= silence.other_sound:
            self._lively_until_s = self._listened_s + LIVELY_S
        lively = self.lively
        if diagnosis.silent:
            self._was_silent = True
            return False
        if not (lively or self._was_silent):
            return False
        if not self._faint(reading) and is_plain(reading, PLAIN_LIVELY if lively else PLAIN_STILL):
            return False
        within_s = AGAIN_WITHIN_S if lively else AGAIN_IN_SILENCE_S
        lately = [hints for at_s, hints in self._hints if self._listened_s - at_s <= within_s]
        now = hints_of(diagnosis, HINT_LIVELY if lively else HINT_STILL)
        self._hints.append((self._listened_s, now))
        if lately and any(p + sum(h.get(c, 0.0) for h in lately) >= SURE for c, p in now.items()):
            return False
        self.count += 1
        return True

    @property
    def lively(self) -> bool:
        """Whether other sound was about lately."""
        return self._listened_s <= self._lively_until_s

    def _faint(self, reading: Reading) -> bool:
        excess_db = reading.excess_db if self.over_room and self._was_silent else None
        return excess_db is not None and excess_db < FAINT_DB

    def moved(self) -> None:
        """Note a move: what was heard before it tells nothing of what is heard after it."""
        self.count = 0
        self._was_silent = False
        self._hints.clear()


def is_plain(reading: Reading, presence_from: float) -> bool:
    """Tell whether a sound fills so much of the window, or returns regularly."""
    regular = any(heard.period_s is not None for heard in reading.heard)
    return regular or any(presence(reading, kind) >= presence_from for kind in SOUND_KINDS)


def hints_of(diagnosis: Diagnosis, least: float) -> dict[CauseName, float]:
    """Return the causes that a doubtful hearing speaks for, from a least probability on, with their probabilities."""
    told = (c for c in diagnosis.causes if c.name not in ("unknown", "outside noise"))
    return {c.name: c.probability for c in told if c.probability >= least}
