"""A tuning that was left: what the coach went through is kept in the logbook, and taken up again another day."""

from __future__ import annotations

from tuner.coach import Coach
from tuner.errors import ConfigError
from tuner.logbook.store import Logbook
from tuner.rig import Rig
from tuner.terms import Floor


def keep_coach(logbook: Logbook, coach: Coach, device: str, sample_rate_hz: int, session: int | None) -> None:
    """Keep what the coach of a session went through."""
    logbook.keep_proof("tuning", device, sample_rate_hz, coach.state, coach.rig.name, session)


def kept_coach(logbook: Logbook, rig: Rig, floor: Floor | None) -> tuple[Coach, int | None]:
    """Return the coach of the last tuning of a rig that was left, and its session.

    Raises
    ------
    ConfigError
        When none was kept, or the rig's description has changed since.
    """
    kept = next(iter(logbook.proofs("tuning", rig_name=rig.name, newest=1)), None)
    if kept is None:
        raise ConfigError(
            f"{logbook.path} must hold a tuning of {rig.name!r} that was left: begin one with 'hushweir tune'"
        )
    return Coach.restore(kept.body, rig, floor), kept.session
