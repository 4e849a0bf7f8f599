"""Opening what the listening verbs work on: the rig, the microphone's scale, the room's floor, a logbook session."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from tuner.capture.recording import load_recording
from tuner.errors import ConfigError
from tuner.logbook.entry import Entry
from tuner.logbook.labels import tag_of
from tuner.logbook.store import Logbook, Opening
from tuner.rig import Rig
from tuner.rigfile import load_rig, rig_text
from tuner.signatures.listener import measure_floor
from tuner.silence.calibration import Calibration
from tuner.silence.room import room_doubts
from tuner.sound.decibels import calibrated_floor
from tuner.terms import Floor
from tuner.verbs.desk import Desk


@dataclass(frozen=True, slots=True)
class Room:
    """The room's floor, its number in the logbook (None: from a file), where it came from, in words, and when."""

    floor: Floor | None
    number: int | None = None
    words: str = ""
    made: datetime | None = None


@dataclass(frozen=True, slots=True)
class Scale:
    """How a source's levels are to be read: what to add for dB re 20 µPa (None: they are relative), and by what."""

    offset_db: float | None = None
    words: str = "relative to full scale, not calibrated: they tell louder from quieter on this microphone only"

    @property
    def calibrated(self) -> bool:
        """Whether levels are sound pressure levels."""
        return self.offset_db is not None


@dataclass(frozen=True, slots=True)
class Mark:
    """What the keeper says of a session beforehand: where the microphone stands, how far it is turned up, tags."""

    place: str = ""
    gain: str = ""
    tags: tuple[str, ...] = ()


RELATIVE = Scale()
UNMARKED = Mark()


def simulated_scale(offset_db: float) -> Scale:
    """Return the scale of a rehearsal's microphone, which is known: levels of one verb compare with another's."""
    return Scale(offset_db, "re 20 µPa, as simulated")


def rig_of(path: Path | None) -> Rig | None:
    """Read the rig file that was named; None when none was."""
    return None if path is None else load_rig(path)


def kept_calibration(logbook: Logbook, device: str) -> Calibration | None:
    """Return the newest calibration of a device, or None."""
    found = logbook.proofs("calibration", device=device, newest=1)
    if not found:
        return None
    body = {key: value for key, value in found[0].body.items() if key != "schema"}
    return Calibration(**body)


def scale_of(logbook: Logbook, device: str) -> Scale:
    """Return the scale of a device by its newest calibration; relative when it has none."""
    calibration = kept_calibration(logbook, device)
    if calibration is None:
        return RELATIVE
    words = f"re 20 µPa by {calibration.method}, give or take {calibration.unsure_db:g} dB"
    return Scale(calibration.offset_db, words)


def scale_named(logbook: Logbook, wanted: str) -> Scale:
    """Return the scale of the calibrated device that ``wanted`` names, wholly or in part: it need not be plugged in.

    Raises
    ------
    ConfigError
        When no calibrated device is called so, or several are.
    """
    names = sorted({proof.device for proof in logbook.proofs("calibration", newest=1000)})
    whole = [name for name in names if name.casefold() == wanted.strip().casefold()]
    fitting = whole or [name for name in names if wanted.strip().casefold() in name.casefold()]
    if len(fitting) == 1:
        return scale_of(logbook, fitting[0])
    listed = ", ".join(map(repr, names)) or "none is"
    raise ConfigError(
        f"device={wanted!r} must name one calibrated microphone ({listed}): 'hushweir mic calibrate' calibrates one"
    )


def room_from_file(path: Path, offset_db: float | None = None) -> Room:
    """Measure the room from a recording that was made with the pumps off."""
    samples, sample_rate = load_recording(path)
    return Room(measure_floor(samples, sample_rate, offset_db=offset_db), None, f"the recording {path.name}")


def room_of(
    path: Path | None, logbook: Logbook, device: str, sample_rate: int, offset_db: float | None = None
) -> Room:
    """Return the room's floor from a recording, or the newest that the logbook has of this device, or none.

    Floors are kept re full scale, so that a later calibration holds for them too; here they take on the scale of
    ``offset_db``.
    """
    if path is not None:
        return room_from_file(path, offset_db)
    kept = logbook.latest_floor(device, sample_rate)
    if kept is None:
        return Room(None)
    number, floor, made = kept
    if offset_db is not None and not floor.levels.calibrated:
        floor = calibrated_floor(floor, offset_db)
    return Room(floor, number, f"measured on {made.astimezone():%d %B %Y, %H:%M}", made)


def begin(
    logbook: Logbook, verb: str, device: str, sample_rate: int, rig: Rig | None, room: Room, note: str,
    calibrated: bool, mark: Mark = UNMARKED,
) -> Entry:
    """Begin a session in the logbook; the microphone's newest check and calibration are remembered with it.

    Where the keeper does not say where the microphone stands, it is taken to stand where the room was measured.
    """
    check = next(iter(logbook.proofs("microphone check", device=device, newest=1)), None)
    calibration = next(iter(logbook.proofs("calibration", device=device, newest=1)), None) if calibrated else None
    place = mark.place or (logbook.floor_place(room.number) if room.number is not None else "")
    floor_id = room.number
    if floor_id is None and room.floor is not None:
        floor_id = _keep_other_room(logbook, device, sample_rate, room.floor, room.words, place)
    return logbook.begin(
        Opening(
            verb=verb,
            device=device,
            sample_rate_hz=sample_rate,
            calibrated=calibrated,
            rig_name=rig.name if rig else "",
            rig_text=rig_text(rig) if rig else "",
            floor_id=floor_id,
            note=note,
            place=place,
            gain=mark.gain,
            offset_db=None if calibration is None else calibration.body["offset_db"],
            check_id=None if check is None else check.id,
            calibration_id=None if calibration is None else calibration.id,
            tags=mark.tags,
        )
    )


def _keep_other_room(
    logbook: Logbook, device: str, sample_rate: int, floor: Floor, words: str, place: str
) -> int:
    """Keep a floor that the device did not measure itself, once, under a name by which no device finds it later."""
    name = f"{device}: {words}"
    kept = logbook.latest_floor(name, sample_rate)
    return kept[0] if kept is not None and kept[1] == floor else logbook.keep_floor(floor, name, sample_rate, place)


def no_room_hint(desk: Desk, room: Room) -> None:
    """Say on the error stream, once, that the room is not known."""
    if room.floor is None:
        desk.say("the room with the pumps off is not known: 'hushweir floor' measures it and makes silence provable")


def doubt_room(desk: Desk, room: Room, quietest_db: float | None) -> None:
    """Say on the error stream what speaks against the room that was measured.

    ``quietest_db`` is what the running system exceeded for 90 % of the time, None before anything was heard: age and
    disturbance are then said, once listening is over only what the system's quietest moments tell.
    """
    if room.floor is None:
        return
    doubts = room_doubts(room.floor, room.made, desk.clock(), None)
    for doubt in doubts if quietest_db is None else room_doubts(room.floor, None, desk.clock(), quietest_db):
        if quietest_db is None or doubt not in doubts:
            desk.say(doubt)


def mark_of(place: str, gain: str, tags: list[str]) -> Mark:
    """Return what was said on the command line; raises ConfigError for a tag that cannot be used."""
    return Mark(place.strip(), gain.strip(), tuple(tag_of(tag) for tag in tags))
