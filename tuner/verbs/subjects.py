"""What can be tuned: an installation heard by a microphone, or a simulated one."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from tuner.capture.microphone import Microphone
from tuner.logbook.store import Logbook
from tuner.rig import Rig
from tuner.rigfile import typical_rig
from tuner.signatures.listener import measure_floor
from tuner.signatures.taught import Templates
from tuner.verbs.desk import Desk
from tuner.verbs.ears import Ears, LiveEars, Pace, RehearsalEars
from tuner.verbs.opening import UNMARKED, Mark, Room, rig_of, room_of, scale_of
from tuner.verbs.recalled import taught_of

if TYPE_CHECKING:  # a microphone's listener need not wait for the simulated rig
    from tuner.rehearsal.rehearsal import Rehearsal

SAMPLE_RATE = 48_000
FLOOR_S = 20.0
WATCHED_SPEED = 10.0  # on a full screen: fast enough not to bore, slow enough to follow
HAND_AFTER_S = 6.0  # from the advice to the turn of a hand that tells nobody


@dataclass(frozen=True, slots=True)
class Subject:
    """What is tuned: ears to hear it, the rig as described, the room, and how to end a wait for sound."""

    ears: Ears
    name: str
    sample_rate: int
    rig: Rig
    room: Room
    end: Callable[[], None]
    offset_db: float | None = None
    note: str = ""
    mark: Mark = UNMARKED
    keep_clips: bool = False
    templates: Templates | None = None


def rehearsal_of(seed: int) -> Rehearsal:
    """Draw the rehearsal rig of a seed, out of tune."""
    from tuner.rehearsal.cases import draw_noisy

    return draw_noisy(seed, sample_rate=SAMPLE_RATE)


def practice_subject(args: argparse.Namespace, desk: Desk, live: bool) -> Subject:
    """Return the rehearsal rig of a command line; its water runs on where a hand is listened to.

    A keeper who turns by themselves hears it in real time while they think; otherwise it goes faster.
    """
    pace = Pace(WATCHED_SPEED, desk.seconds, desk.sleep) if live and not args.fast else None
    rehearsal = rehearsal_of(args.rehearsal)
    ears = RehearsalEars(
        rehearsal, pace, desk.sleep, runs_on=args.hands_free or (args.ask and pace is not None),
        hand_after_s=HAND_AFTER_S if args.hands_free else None,
    )
    return replace(rehearsal_subject(rehearsal, pace, desk, f"rehearsal {args.rehearsal}"), ears=ears)


def rehearsal_subject(rehearsal: Rehearsal, pace: Pace | None, desk: Desk, name: str) -> Subject:
    """Return a rehearsal rig with its room measured, as a careful keeper would do first."""
    return Subject(
        ears=RehearsalEars(rehearsal, pace, desk.sleep),
        name=name,
        sample_rate=rehearsal.sample_rate,
        rig=rehearsal.rig,
        room=rehearsal_room(rehearsal),
        end=lambda: None,
        offset_db=rehearsal.full_scale_offset_db,
        note="a simulated rig",
    )


def rehearsal_room(rehearsal: Rehearsal, seconds: float = FLOOR_S) -> Room:
    """Return the room of a rehearsal rig, measured with its pumps off; calibrated, as its microphone is."""
    offset_db = rehearsal.full_scale_offset_db
    floor = measure_floor(rehearsal.floor(seconds), rehearsal.sample_rate, offset_db=offset_db)
    return Room(floor, None, "measured on the rehearsal rig")


def microphone_subject(args: argparse.Namespace, desk: Desk, logbook: Logbook, microphone: Microphone) -> Subject:
    """Return what an open microphone hears, with what a command line says beside it."""
    rig = rig_of(args.rig)
    offset_db = scale_of(logbook, microphone.name).offset_db
    room = room_of(args.floor, logbook, microphone.name, microphone.sample_rate, offset_db)
    return Subject(
        ears=LiveEars(microphone),
        name=microphone.name,
        sample_rate=microphone.sample_rate,
        rig=rig or typical_rig(),
        room=room,
        end=microphone.stop,
        offset_db=offset_db,
        templates=taught_of(desk, args.rig, microphone.name, microphone.sample_rate),
    )
