"""What the coach went through, as plain values that a logbook can keep, and back.

A session is its list of entries in order; replaying them through a new coach gives the same coach, since
nothing in it depends on a clock or on chance that is not seeded from the installation.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import asdict
from typing import TYPE_CHECKING, Any, cast

from tuner.errors import ConfigError
from tuner.rig import Rig
from tuner.terms import SOUND_KINDS, Heard, Levels, Reading, Step

if TYPE_CHECKING:
    from tuner.coach.coach import Coach

SCHEMA = 1


def seed_of(rig: Rig) -> int:
    """Return a seed that depends on the description alone."""
    described = repr(tuple(sorted(rig.assumed))) + repr({k: v for k, v in asdict(rig).items() if k != "assumed"})
    return int.from_bytes(hashlib.sha256(described.encode()).digest()[:8], "big")


def reading_to_plain(reading: Reading) -> dict[str, Any]:
    """Return a reading without its single sounds, as values that JSON can hold."""
    levels = {k: list(v) if isinstance(v, tuple) else v for k, v in asdict(reading.levels).items()}
    return {
        "duration_s": reading.duration_s, "clean_s": reading.clean_s, "levels": levels,
        "heard": [asdict(h) for h in reading.heard], "excess_db": reading.excess_db,
        "outside_share": reading.outside_share, "dropped": reading.dropped, "clipped": reading.clipped,
        "features": dict(reading.features),
    }


def reading_from_plain(plain: Mapping[str, Any]) -> Reading:
    """Return the reading that ``reading_to_plain`` wrote.

    Raises
    ------
    ConfigError
        When the values are not those of a reading.
    """
    try:
        levels: dict[str, Any] = {k: tuple(v) if isinstance(v, list) else v for k, v in plain["levels"].items()}
        heard = tuple(Heard(**h) for h in plain["heard"])
        reading = Reading(
            duration_s=plain["duration_s"], clean_s=plain["clean_s"], levels=Levels(**levels), sounds=(), heard=heard,
            excess_db=plain["excess_db"], outside_share=plain["outside_share"], dropped=plain["dropped"],
            clipped=plain["clipped"], features=dict(plain["features"]),
        )
    except (KeyError, TypeError, AttributeError) as error:
        raise ConfigError(f"state holds a reading that cannot be read ({error}): begin a new session") from None
    if any(h.kind not in SOUND_KINDS for h in heard):
        raise ConfigError("state holds a sound kind that is not known: begin a new session")
    return reading


def session_state(entries: list[dict[str, Any]], rig: Rig) -> dict[str, Any]:
    """Return the whole session as plain values."""
    return {"schema": SCHEMA, "rig": rig.name, "seed": seed_of(rig), "entries": [dict(e) for e in entries]}


def session_entries(state: Mapping[str, Any], rig: Rig) -> list[dict[str, Any]]:
    """Return the entries of a saved session.

    Raises
    ------
    ConfigError
        When the state has another schema or belongs to another installation.
    """
    if state.get("schema") != SCHEMA:
        raise ConfigError(f"state schema={state.get('schema')!r} must be {SCHEMA}: begin a new session")
    if state.get("seed") != seed_of(rig):
        raise ConfigError(f"state rig={state.get('rig')!r} must be the rig at hand: the description has changed since")
    return cast(list[dict[str, Any]], list(state.get("entries", [])))


def replay(entry: Mapping[str, Any], coach: Coach) -> None:
    """Take a coach through one entry of a saved session.

    Raises
    ------
    ConfigError
        When the entry is of no known sort.
    """
    if "heard" in entry:
        coach.hear_reading(reading_from_plain(entry["heard"]))
    elif "did" in entry:
        control, amount, unit, wait_s = entry["did"]
        coach.did(Step(control, amount, unit, wait_s, ""))
    elif "looked" in entry:
        coach.look(*entry["looked"])
    elif "advised" in entry:
        coach.advise()
    else:
        raise ConfigError(f"state entry {sorted(entry)} must be heard, advised, did or looked: begin a new session")
