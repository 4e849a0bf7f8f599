"""What stands in the way of comparing levels, and what has to be said beside a comparison.

Levels may be compared when the same microphone stood at the same place with the same gain, and both sides are
calibrated or neither is. Sounds, causes, moves and restart times do not need any of that.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from tuner.logbook.side import Side

Matter = Literal["microphone", "gain", "calibration", "place", "time"]

LEAST_CLEAN_S = 16  # fewer cells bear no bound
ROOM_DB = 3.0  # closer to the room than this, it is the room that is heard
ROOM_SHIFT_DB = 3.0
_SAME_OFFSET_DB = 0.05
_MUTE_SHARE = 0.05


@dataclass(frozen=True, slots=True)
class Obstacle:
    """Why levels are not compared: what differs, and in words what that means."""

    matter: Matter
    words: str


def obstacles(before: Side, after: Side, *, same_setup: bool = False) -> tuple[Obstacle, ...]:
    """Return what forbids to compare levels; empty when nothing does.

    ``same_setup`` is the keeper's word that microphone, place and gain were the same, whatever their names say. It
    does not make calibrated and relative levels the same, nor a short time longer.
    """
    found: list[Obstacle] = []
    if not same_setup:
        found += _named(before, after)
    calibrated = [{s.part.session.calibrated for s in side.stretches} for side in (before, after)]
    if calibrated[0] | calibrated[1] == {True, False}:
        state = {frozenset({True}): "calibrated", frozenset({False}): "not calibrated"}
        then, now = (state.get(frozenset(c), "partly calibrated") for c in calibrated)
        found.append(Obstacle(
            "calibration", f"{then} before, {now} after: levels re 20 µPa and re full scale have nothing in common"
        ))
    for side, name in ((before, "before"), (after, "after")):
        if side.clean_s < LEAST_CLEAN_S:
            found.append(Obstacle(
                "time", f"only {side.clean_s} undisturbed seconds {name}: at least {LEAST_CLEAN_S} are needed"
            ))
    return tuple(found)


def _named(before: Side, after: Side) -> list[Obstacle]:
    found: list[Obstacle] = []
    then, now = (_names(s.part.session.device for s in side.stretches) for side in (before, after))
    if len(then | now) > 1:
        found.append(Obstacle("microphone", f"another microphone: {_listed(then)} before, {_listed(now)} after"))
    elif len(gains := _names(s.part.session.gain for side in (before, after) for s in side.stretches)) > 1:
        # A calibration belongs to its gain: with one of its own on each side the levels are the same kind of figure.
        if len(_offsets(before, after)) < 2:
            found.append(Obstacle("gain", f"another gain: {_listed(gains)}"))
    elif not _all_calibrated(before, after) and len(_offsets(before, after)) > 1:
        found.append(Obstacle("gain", "the microphone's calibration was another one: its gain was changed"))
    then, now = (_names(place_of(side)) for side in (before, after))
    if len({place.casefold() for place in then | now}) > 1:
        found.append(Obstacle("place", f"another place: {_listed(then)} before, {_listed(now)} after"))
    return found


def place_of(side: Side) -> tuple[str, ...]:
    """Return where each stretch was heard, in the keeper's words; "" where nobody said."""
    return tuple(s.part.session.place or (s.floor.place if s.floor else "") for s in side.stretches)


def doubts(before: Side, after: Side) -> tuple[str, ...]:
    """Return what a sceptic should know beside the difference of levels."""
    found: list[str] = []
    sides = ((before, "before"), (after, "after"))
    if not _all_calibrated(before, after):
        found.append("not calibrated: the difference holds as long as nobody touched the microphone's gain")
    if not all(place for side in (before, after) for place in place_of(side)):
        found.append("where the microphone stood was not always noted: it must have been the same place")
    if before.began > after.began:
        found.append("what is called before was heard later than what is called after")
    rates = {s.part.session.sample_rate_hz for side in (before, after) for s in side.stretches}
    if len(rates) > 1:
        found.append(f"sampled at {' and '.join(str(r) for r in sorted(rates))} Hz: only what both hear is compared")
    rooms = [_room_db(side) for side in (before, after)]
    if rooms[0] is not None and rooms[1] is not None and abs(rooms[1] - rooms[0]) >= ROOM_SHIFT_DB:
        way = "louder" if rooms[1] > rooms[0] else "quieter"
        found.append(f"the room itself, pumps off, was {abs(rooms[1] - rooms[0]):.1f} dB(A) {way} after")
    for (side, name), room in zip(sides, rooms, strict=True):
        if room is not None and side.clean_s and _level_db(side) - room < ROOM_DB:
            found.append(f"{name} the change it is mostly the room that is heard: the plumbing itself is quieter still")
        heard, mute = (sum(getattr(s, x) for s in side.stretches) for x in ("heard_s", "mute_s"))
        if mute > _MUTE_SHARE * heard:
            found.append(f"{name}: {100 * mute / heard:.0f} % of the time there was no sound at all: microphone muted?")
        if side.unread:
            total = len(side.stretches) + side.unread
            found.append(f"{name}: {len(side.stretches)} of {total} sessions were read, evenly spread over them")
    return tuple(found)


def calibration_unsure_db(before: Side, after: Side) -> float:
    """Return by how much calibrations that are not the same may shift the difference (dB); 0 with the same one."""
    if not _all_calibrated(before, after) or len(_offsets(before, after)) < 2:
        return 0.0
    then, now = (max(float(s.unsure_db or 0.0) for s in side.stretches) for side in (before, after))
    return math.hypot(then, now)


def _all_calibrated(before: Side, after: Side) -> bool:
    return all(s.part.session.calibrated for side in (before, after) for s in side.stretches)


def _offsets(before: Side, after: Side) -> set[float]:
    offsets = (s.part.session.offset_db for side in (before, after) for s in side.stretches)
    return {round(offset / _SAME_OFFSET_DB) * _SAME_OFFSET_DB for offset in offsets if offset is not None}


def _room_db(side: Side) -> float | None:
    rooms = [
        s.floor.floor.levels.laeq_db for s in side.stretches
        if s.floor is not None and s.floor.floor.levels.calibrated == s.part.session.calibrated
    ]
    return float(np.median(rooms)) if rooms else None


def _level_db(side: Side) -> float:
    return float(10.0 * np.log10(np.concatenate([s.power[:, 0] for s in side.stretches]).mean() + 1e-30))


def _names(names: Iterable[str]) -> set[str]:
    return {name for name in names if name}


def _listed(names: set[str]) -> str:
    return " and ".join(f"{name!r}" for name in sorted(names)) or "not noted"
