"""Whether the measured room is still the room: its age, how disturbed it was, and what the running system says."""

from __future__ import annotations

from datetime import datetime, timedelta

from tuner.terms import Floor

STALE = timedelta(days=7)
CHANGED_DB = 2.0
DISTURBED_SHARE = 0.3


def room_doubts(floor: Floor, made: datetime | None, now: datetime, quietest_db: float | None) -> tuple[str, ...]:
    """Return what speaks against a kept floor.

    ``quietest_db`` is the level that the running system exceeded for 90 % of the time: water never makes a room
    quieter, so a running system below the floor means that the room, or the microphone's place or gain, has changed.
    """
    doubts = []
    if made is not None and now - made > STALE:
        doubts.append(f"the room was measured {(now - made).days} days ago: measure it again with 'hushweir floor'")
    if floor.duration_s > 0.0 and 1.0 - floor.clean_s / floor.duration_s > DISTURBED_SHARE:
        share = 1.0 - floor.clean_s / floor.duration_s
        doubts.append(f"{share:.0%} of the time in which the room was measured was disturbed: measure it again")
    if quietest_db is not None and quietest_db < floor.levels.la90_db - CHANGED_DB:
        under = floor.levels.la90_db - quietest_db
        doubts.append(
            f"the running system is {under:.1f} dB quieter than the room was: the room, the microphone's place or its "
            "gain has changed; measure the room again"
        )
    return tuple(doubts)
