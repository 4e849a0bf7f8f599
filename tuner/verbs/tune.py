"""``hushweir tune``: the guided loop, with a microphone or on the rehearsal rig."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass

from tuner.coach import Coach
from tuner.logbook.store import Logbook
from tuner.rehearsal.rehearsal import Rehearsal
from tuner.rig import Rig
from tuner.rigfile import typical_rig
from tuner.screens.fullscreen import TuningScreen
from tuner.screens.lines import StoryScreen
from tuner.screens.live import LiveScreen
from tuner.screens.snapshot import Screen, Snapshot
from tuner.screens.summaries import TuneSummary
from tuner.signatures.listener import Listener, measure_floor
from tuner.signatures.taught import Templates
from tuner.verbs.desk import INTERRUPTED, Desk
from tuner.verbs.ears import Ears, LiveEars, Pace, RehearsalEars
from tuner.verbs.hearing import Hearing
from tuner.verbs.keeper import Keeper, LineKeeper, ObedientKeeper, TypingKeeper
from tuner.verbs.opening import Room, begin, doubt_room, no_room_hint, rig_of, room_of, scale_of
from tuner.verbs.recalled import taught_of
from tuner.verbs.stage import run_live, run_plain
from tuner.verbs.tuning import Tuned, Tuning

SAMPLE_RATE = 48_000
FLOOR_S = 20.0
REHEARSAL_SPEED = 10.0  # on a full screen: fast enough not to bore, slow enough to follow


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
    templates: Templates | None = None


def run(args: argparse.Namespace, desk: Desk) -> int:
    """Carry out the verb."""
    live = desk.is_live and not args.plain
    with ExitStack() as stack:
        logbook = stack.enter_context(desk.logbook(args.logbook))
        if args.rehearsal is not None:
            pace = Pace(REHEARSAL_SPEED, desk.seconds, desk.sleep) if live and not args.fast else None
            subject = rehearsal_subject(rehearsal_of(args.rehearsal), pace, desk, f"rehearsal {args.rehearsal}")
        else:
            subject = _microphone_subject(args, desk, logbook, stack)
        no_room_hint(desk, subject.room)
        doubt_room(desk, subject.room, None)
        keeper: Keeper
        if args.rehearsal is not None and not args.ask:
            keeper = ObedientKeeper()
        else:
            keeper = TypingKeeper() if live else LineKeeper(desk.keys)
        return tune(subject, keeper, desk, logbook, args.seconds, live)


def tune(subject: Subject, keeper: Keeper, desk: Desk, logbook: Logbook, window_s: float, live: bool) -> int:
    """Tune a subject with a keeper, draw it, and print what it came to."""
    calibrated = subject.offset_db is not None
    floor = subject.room.floor
    entry = begin(
        logbook, "tune", subject.name, subject.sample_rate, subject.rig, subject.room, subject.note, calibrated
    )
    screen: Screen = LiveScreen(desk.console, TuningScreen) if live else StoryScreen(desk.console)
    face = Snapshot(
        title=f"tune {subject.rig.name}", source=subject.name, phase="listening", elapsed_s=0.0, calibrated=calibrated,
        session=entry.id, floor_db=floor.levels.laeq_db if floor else None,
    )
    with entry:
        hearing = Hearing(
            Listener(
                subject.sample_rate, subject.rig, floor, offset_db=subject.offset_db, templates=subject.templates
            ),
            entry, screen, face,
        )
        coach = Coach(subject.rig, floor)
        tuning = Tuning(coach, subject.ears, keeper, hearing, window_s)

        def leave() -> None:
            tuning.leave()
            subject.end()

        def press(key: str) -> None:
            if isinstance(keeper, TypingKeeper):
                keeper.press(key)
                if keeper.has_quit:
                    subject.end()
            elif key == "q":
                leave()

        interrupted = False
        try:
            if isinstance(screen, LiveScreen):
                tuned = run_live(desk, screen, tuning.run, press, leave)
            else:
                tuned = run_plain(tuning.run, leave)
        except KeyboardInterrupt:
            interrupted = True
            tuned = tuning.so_far()
        entry.close("stopped" if interrupted or tuned.has_quit else "silent" if tuned.summary.tuned else "not silent")
    desk.page(summary_of(tuned, face, entry.id, logbook))
    if tuned.last is not None:
        doubt_room(desk, subject.room, tuned.last.reading.levels.la90_db)
    return INTERRUPTED if interrupted else 0


def summary_of(tuned: Tuned, face: Snapshot, session: int, logbook: Logbook) -> TuneSummary:
    """Return what is printed at the end of a tuning."""
    return TuneSummary(
        tuned.summary, tuned.first, tuned.last, tuned.moves, face.calibrated, face.floor_db, session, logbook.path
    )


def rehearsal_of(seed: int) -> Rehearsal:
    """Draw the rehearsal rig of a seed, out of tune."""
    from tuner.rehearsal.cases import draw_noisy

    return draw_noisy(seed, sample_rate=SAMPLE_RATE)


def rehearsal_subject(rehearsal: Rehearsal, pace: Pace | None, desk: Desk, name: str) -> Subject:
    """Return a rehearsal rig with its room measured, as a careful keeper would do first."""
    offset_db = rehearsal.full_scale_offset_db
    floor = measure_floor(rehearsal.floor(FLOOR_S), rehearsal.sample_rate, offset_db=offset_db)
    return Subject(
        ears=RehearsalEars(rehearsal, pace, desk.sleep),
        name=name,
        sample_rate=rehearsal.sample_rate,
        rig=rehearsal.rig,
        room=Room(floor, None, "measured on the rehearsal rig"),
        end=lambda: None,
        offset_db=offset_db,
        note="a simulated rig",
    )


def _microphone_subject(args: argparse.Namespace, desk: Desk, logbook: Logbook, stack: ExitStack) -> Subject:
    from tuner.capture.microphone import Microphone

    rig = rig_of(args.rig)
    microphone = stack.enter_context(Microphone(args.device, args.rate))
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
