"""Opening what the listening verbs work on: the rig, the room's floor, a session in the logbook."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from tuner.capture.recording import load_recording
from tuner.logbook.entry import Entry
from tuner.logbook.store import Logbook, Opening
from tuner.rig import Rig
from tuner.rigfile import load_rig, rig_text
from tuner.signatures.listener import measure_floor
from tuner.terms import Floor
from tuner.verbs.desk import Desk


@dataclass(frozen=True, slots=True)
class Room:
    """The room's floor, its number in the logbook (None: from a file), and where it came from, in words."""

    floor: Floor | None
    number: int | None = None
    words: str = ""


def rig_of(path: Path | None) -> Rig | None:
    """Read the rig file that was named; None when none was."""
    return None if path is None else load_rig(path)


def room_from_file(path: Path) -> Room:
    """Measure the room from a recording that was made with the pumps off."""
    samples, sample_rate = load_recording(path)
    return Room(measure_floor(samples, sample_rate), None, f"the recording {path.name}")


def room_of(path: Path | None, logbook: Logbook, device: str, sample_rate: int) -> Room:
    """Return the room's floor from a recording, or the newest that the logbook has of this device, or none."""
    if path is not None:
        return room_from_file(path)
    kept = logbook.latest_floor(device, sample_rate)
    if kept is None:
        return Room(None)
    number, floor, made = kept
    return Room(floor, number, f"measured on {made.astimezone():%d %B %Y, %H:%M}")


def begin(
    logbook: Logbook, verb: str, device: str, sample_rate: int, rig: Rig | None, room: Room, note: str, calibrated: bool
) -> Entry:
    """Begin a session in the logbook."""
    return logbook.begin(
        Opening(
            verb=verb,
            device=device,
            sample_rate_hz=sample_rate,
            calibrated=calibrated,
            rig_name=rig.name if rig else "",
            rig_text=rig_text(rig) if rig else "",
            floor_id=room.number,
            note=note,
        )
    )


def no_room_hint(desk: Desk, room: Room) -> None:
    """Say on the error stream, once, that the room is not known."""
    if room.floor is None:
        desk.say("the room with the pumps off is not known: 'hushweir floor' measures it and makes silence provable")
