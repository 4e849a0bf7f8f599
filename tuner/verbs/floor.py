"""``hushweir floor``: the room with the pumps off, measured once and kept, so that silence can be claimed."""

from __future__ import annotations

import argparse
from contextlib import ExitStack
from dataclasses import asdict
from typing import Any

import numpy as np

from tuner.capture.recording import Recording
from tuner.capture.source import Source, first_seconds
from tuner.causes import diagnose_reading
from tuner.errors import SourceError
from tuner.logbook.store import Logbook
from tuner.screens.words import count_text, duration_text, level_text, percent_text
from tuner.signatures.listener import measure_floor, read_window
from tuner.silence.ratings import rating_text
from tuner.silence.room import STALE, room_doubts
from tuner.sound.decibels import calibrated_floor
from tuner.terms import Floor, Samples
from tuner.verbs.desk import Desk
from tuner.verbs.opening import RELATIVE, Scale, scale_named, scale_of

BLOCK_S = 0.5  # what the floor is judged by
DISTURBED_SHARE = 0.5  # more than this disturbed: the figure is that of the disturbance
OTHER_ROOM_DB = 3.0  # twice the energy: the same room on another quiet evening differs by less
SHORTER = 0.5  # times the undisturbed seconds of the floor before: too little to take its place unsaid
NEWEST = 10  # sessions whose quietest moments are compared


def run(args: argparse.Namespace, desk: Desk) -> int:
    """Carry out the verb."""
    with ExitStack() as stack:
        source = stack.enter_context(_source(args))
        logbook = None if args.file is not None else stack.enter_context(desk.logbook(args.logbook))
        scale = RELATIVE
        if logbook is not None:
            scale = scale_of(logbook, source.name)
            if not args.json:
                desk.tell(f"listening to the room for {duration_text(args.seconds)}: pumps off, nobody talking")
        elif args.device is not None:
            with desk.logbook(args.logbook, look_only=True) as kept:
                scale = scale_named(kept, args.device)
        samples = gather(source, args.seconds)
        # Kept re full scale: a calibration that comes later holds for it too.
        floor = measure_floor(samples, source.sample_rate)
        doubts = _doubts(floor, samples, source.sample_rate)
        number: int | None = None
        shown = floor if scale.offset_db is None else calibrated_floor(floor, scale.offset_db)
        try:
            if logbook is not None:
                doubts += _changes(floor, source, logbook, scale, desk)
                number = logbook.keep_floor(floor, source.name, source.sample_rate, args.place)
        finally:  # what was heard is said even when the logbook could not take it
            for warning in doubts:
                desk.say(warning)
            if args.json:
                desk.write_json(as_json(shown, source, scale, number, args.place, doubts))
            else:
                _tell(shown, scale, desk)
        if args.json:
            return 0
        if logbook is None:
            desk.tell(f"use it   with --floor {args.file}")
        else:
            where = f" ({args.place})" if args.place else ""
            desk.tell(f"kept     as floor {number} of {source.name!r}{where} in {logbook.path}")
    return 0


def _tell(floor: Floor, scale: Scale, desk: Desk) -> None:
    words = level_text(floor.levels.laeq_db, floor.levels.calibrated)
    clean = f"{duration_text(floor.clean_s)} of {duration_text(floor.duration_s)} undisturbed"
    desk.tell(f"room     {words}, {clean}")
    if left_out := round((floor.duration_s - floor.clean_s) / BLOCK_S):
        desk.tell(f"left out {count_text(left_out, 'half second')} disturbed by sudden sound")
    desk.tell(f"levels   {scale.words}")
    if rating := rating_text(floor.levels):
        desk.tell(f"rating   {rating}")


def as_json(
    floor: Floor, source: Source, scale: Scale, number: int | None, place: str, doubts: list[str]
) -> dict[str, Any]:
    """Return a floor as the object that ``--json`` prints; every figure's unit is in its name."""
    levels = asdict(floor.levels)
    return {
        "schema": 1, "source": source.name, "sample_rate_hz": source.sample_rate, "floor": number, "place": place,
        "calibrated": levels.pop("calibrated"), "scale": scale.words, "duration_s": floor.duration_s,
        "clean_s": floor.clean_s, "left_out_s": floor.duration_s - floor.clean_s, "levels": levels,
        "rating": rating_text(floor.levels), "doubts": doubts,
    }


def _source(args: argparse.Namespace) -> Source:
    if args.file is not None:
        return Recording(args.file)
    from tuner.capture.microphone import Microphone

    return Microphone(args.device, args.rate)


def gather(source: Source, seconds: float) -> Samples:
    """Return the samples of the next ``seconds``; a loss in between is refused, for a floor must be whole."""
    parts: list[Samples] = []
    for block in first_seconds(source, seconds):
        if block.dropped or (block.note and not block.samples.size):
            raise SourceError(f"{source.name} lost sound while the room was measured ({block.note}): measure again")
        parts.append(block.samples)
    if not parts:
        raise SourceError(f"{source.name} gave no sound: choose another microphone with --device")
    return np.concatenate(parts)


def _changes(floor: Floor, source: Source, logbook: Logbook, scale: Scale, desk: Desk) -> list[str]:
    """Return how this room differs from the one that was kept before, and from the quietest moments since heard."""
    changes = []
    kept = logbook.latest_floor(source.name, source.sample_rate)
    if kept is not None:
        number, before, made = kept
        change_db = floor.levels.laeq_db - before.levels.laeq_db
        if not before.levels.calibrated and abs(change_db) > OTHER_ROOM_DB:
            way = "louder" if change_db > 0.0 else "quieter"
            changes.append(
                f"the room is {abs(change_db):.1f} dB {way} than on {made.astimezone():%d %B %Y}: was the microphone"
                " moved, or its gain changed? Earlier levels over the room do not compare with later ones"
            )
        if floor.clean_s < SHORTER * before.clean_s and desk.clock() - made <= STALE:
            changes.append(
                f"it takes the place of floor {number}, which had {duration_text(before.clean_s)} undisturbed: less of"
                f" the room shows silence less surely; --seconds {before.duration_s:.0f} measures as long again"
            )
    quietest_db = quietest_kept_db(logbook, source.name, scale)
    # Only what the running system says of a floor that has just been measured: neither its age nor its disturbance.
    whole = Floor(floor.levels, floor.clean_s, floor.clean_s)
    return changes + list(room_doubts(whole, None, desk.clock(), quietest_db))


def quietest_kept_db(logbook: Logbook, device: str, scale: Scale) -> float | None:
    """Return the lowest level (dB re full scale) exceeded for 90 % of a window in the newest sessions of a device."""
    found: list[float] = []
    for session in logbook.sessions(newest=NEWEST):
        if session.device != device or session.verb not in ("listen", "tune"):
            continue
        if session.calibrated and scale.offset_db is None:
            continue
        shift_db = scale.offset_db or 0.0 if session.calibrated else 0.0
        found += [d.levels.la90_db - shift_db for d in logbook.diagnoses(session.id)]
    return min(found, default=None)


def _doubts(floor: Floor, samples: Samples, sample_rate: int) -> list[str]:
    """Return what speaks against taking this for the quiet room."""
    doubts = []
    if floor.clean_s < DISTURBED_SHARE * floor.duration_s:
        share = percent_text(1.0 - floor.clean_s / floor.duration_s)
        doubts.append(f"{share} of the time was disturbed: measure again when it is quieter")
    diagnosis = diagnose_reading(read_window(samples, sample_rate))
    if not diagnosis.silent and diagnosis.causes[0].name not in ("outside noise", "unknown"):
        doubts.append(f"this sounds like water ({diagnosis.causes[0].name}): are the pumps off and the pipes empty?")
    return doubts
