"""A steady sound that stays as loud whatever is moved: the room's, not the drains'.

Without a measured room a fan's or the microphone's own hiss looks like a tap's, and a far refrigerator like a pump.
What the drains give off follows the flow: a tap's hiss grows or fades with every move that is made for it. So a hiss or
hum that never pauses, alone, and stands at one level through several settings is taken for the room's from then on, as
long as it stands there. The coach says so at the end, for only the room with the pumps off proves it.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from tuner.causes.diagnosis import heard_kinds
from tuner.causes.rules import Silence
from tuner.terms import Reading, SoundKind

STEADY: tuple[SoundKind, ...] = ("hiss", "hum")
PAUSELESS_DB = 1.0  # over the quiet tenth of its own window: a sound below this never pauses
SAME_DB = 1.0  # between windows, of the level exceeded nine tenths of the time
SETTINGS = 3  # at which it must have stood


@dataclass(slots=True)
class Unmoved:
    """The levels (LA90, dB) at which each steady sound was heard alone, by the number of moves made before."""

    _stood_db: dict[SoundKind, dict[int, float]] = field(default_factory=dict)

    def of(self, reading: Reading, moves: int, silence: Silence) -> tuple[SoundKind, ...]:
        """Note a reading after so many moves, and return the kinds heard in it that are taken for the room's."""
        heard = heard_kinds(reading, silence)
        if not heard or not set(heard) <= set(STEADY):
            return ()
        level_db = reading.levels.la90_db
        found = []
        for kind in heard:
            stood = reading.of(kind)
            if stood is None or stood.excess_db > PAUSELESS_DB:
                continue
            levels_db = self._stood_db.setdefault(kind, {})
            levels_db[moves] = level_db
            same = [other for other in levels_db.values() if abs(other - level_db) <= SAME_DB]
            if len(same) >= SETTINGS:
                found.append(kind)
        return tuple(found)


def without(reading: Reading, kinds: tuple[SoundKind, ...]) -> Reading:
    """Return the reading without what it says of ``kinds``; levels and sounds stay as they were heard."""
    return replace(reading, heard=tuple(h for h in reading.heard if h.kind not in kinds)) if kinds else reading
