"""A steady hiss that stays as loud whatever is moved: the room's, not the drains'.

Without a measured room a fan's or the microphone's own hiss looks like a tap's. What the drains give off follows the
flow: a tap's hiss grows or fades with every move that is made for it. So a hiss that never pauses, without a drain's
sound beside it, and stands at one level through several settings is taken for the room's from then on, as long as it
stands there; so is one that wavers, once the belief, which knows what the moves should have done to a tap's, is sure.
The coach says so at the end, for only the room with the pumps off proves it. A hum is left out: a pump's own does not
follow the valves either.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from tuner.causes.diagnosis import heard_kinds
from tuner.causes.rules import Silence
from tuner.coach.belief import Belief
from tuner.coach.leading import HARDLY
from tuner.terms import Floor, Reading, SoundKind

BESIDE: frozenset[SoundKind] = frozenset({"hiss", "hum"})  # what may be heard in a window that counts
PAUSELESS_DB = 1.0  # over the quiet tenth of its own window: a sound below this never pauses
SAME_DB = 1.0  # between windows, of the level exceeded nine tenths of the time
SETTINGS = 3  # at which it must have stood
SURELY_BESIDE = 0.8  # belief from which a hiss is taken for something beside the drains without its level


@dataclass(slots=True)
class Unmoved:
    """The levels (LA90, dB) at which a hiss was heard, by the number of moves made before."""

    _stood_db: dict[int, float] = field(default_factory=dict)

    def is_rooms(self, reading: Reading, moves: int, silence: Silence) -> bool:
        """Note a reading after so many moves, and tell whether the hiss in it is taken for the room's."""
        hiss = reading.of("hiss")
        if hiss is None or hiss.excess_db > PAUSELESS_DB or not hisses_alone(reading, silence):
            return False
        level_db = reading.levels.la90_db
        self._stood_db[moves] = level_db
        return sum(abs(other - level_db) <= SAME_DB for other in self._stood_db.values()) >= SETTINGS

    def is_beside(
        self, reading: Reading, moves: int, silence: Silence, floor: Floor | None, belief: Belief | None
    ) -> bool:
        """Tell whether a hiss that stands alone is taken for something beside the drains, by its level or the belief.

        ``floor`` is the measured room, in which a hiss that stands at one level is not the room's; ``belief`` is None
        where it is not trusted.
        """
        if floor is None and self.is_rooms(reading, moves, silence):
            return True
        if not moves or belief is None or not hisses_alone(reading, silence):
            return False
        return belief.causes()["vent too closed"] < HARDLY and belief.makes_beside("hiss") >= SURELY_BESIDE


def hisses_alone(reading: Reading, silence: Silence) -> bool:
    """Tell whether a hiss counts as heard, and nothing else but a hum."""
    heard = heard_kinds(reading, silence, in_a_row=True)
    return "hiss" in heard and BESIDE.issuperset(heard)


def without_hiss(reading: Reading) -> Reading:
    """Return the reading without what it says of a hiss; levels and sounds stay as they were heard."""
    return replace(reading, heard=tuple(h for h in reading.heard if h.kind != "hiss"))
