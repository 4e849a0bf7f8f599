"""``hushweir confirm``: listen, and end in a verdict: silent, audible or not shown."""

from __future__ import annotations

import argparse
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

from tuner.capture.recording import Recording
from tuner.capture.source import Source, first_seconds
from tuner.errors import ConfigError
from tuner.logbook.store import Logbook
from tuner.rig import Rig
from tuner.screens.snapshot import Snapshot
from tuner.screens.words import duration_text
from tuner.signatures.listener import measure_floor
from tuner.silence.certificate import About, as_json, certificate_text
from tuner.silence.chain import ChainReport
from tuner.silence.confirmation import Confirmation
from tuner.silence.judgement import Verdict
from tuner.silence.ratings import rating_text
from tuner.sound.quick import QuickLevel
from tuner.terms import Floor
from tuner.verbs.clipping import ClipKeeper
from tuner.verbs.confirming import Confirming, LineTeller, ScreenTeller, Teller
from tuner.verbs.confirmscreen import ConfirmScreen
from tuner.verbs.desk import INTERRUPTED, Desk
from tuner.verbs.instruments import Instruments
from tuner.verbs.mic_check import check_of_file, kept_check
from tuner.verbs.opening import (
    RELATIVE,
    Room,
    Scale,
    begin,
    doubt_room,
    mark_of,
    rig_of,
    room_from_file,
    room_of,
    scale_named,
    scale_of,
    simulated_scale,
)
from tuner.verbs.recalled import taught_of
from tuner.verbs.stage import end_of, look_of, run_full, run_plain

STANDARD_S, QUICK_S, OVERNIGHT_S = 900.0, 120.0, 8 * 3600.0
END_S = 30.0  # for the verdict to be read from afar before the certificate is printed
REHEARSAL_ROOM_S = 60.0
SAMPLE_RATE = 48_000
# A rehearsal's microphone has no processing: nothing but the simulation stands behind it.
SIMULATED = ChainReport((), True, 0.0, None, None, None, 0.0, 0, SAMPLE_RATE / 2)


@dataclass(frozen=True, slots=True)
class Case:
    """What is confirmed: a source, what is known beside its sound, and words for the certificate."""

    source: Source
    rig: Rig | None
    room: Room
    check: ChainReport | None
    scale: Scale
    self_noise_db: float | None


@dataclass(frozen=True, slots=True)
class Found:
    """What came of it, with the certificate's head."""

    verdict: Verdict
    about: About


def run(args: argparse.Namespace, desk: Desk) -> int:
    """Carry out the verb: exit code 0 for silent, 1 for audible, 3 for not shown."""
    with ExitStack() as stack:
        logbook = stack.enter_context(desk.logbook(args.logbook))
        case = _case(args, logbook, stack)
        source = case.source
        seconds = args.seconds or _seconds(args, source)
        device, named = (source.name, None) if args.file is None else (None, args.device)
        rig_path = None if args.rehearsal is not None else args.rig
        confirmation = Confirmation(
            source.sample_rate, case.room.floor, case.check, rig=case.rig, offset_db=case.scale.offset_db,
            self_noise_db=case.self_noise_db, templates=taught_of(desk, rig_path, device, source.sample_rate, named),
        )
        entry = stack.enter_context(begin(
            logbook, "confirm", source.name, source.sample_rate, case.rig, case.room, args.note,
            case.scale.calibrated, mark_of(args.place, args.gain, args.tag),
        ))
        clips = ClipKeeper(logbook.clip_folder, entry) if args.keep_clips else None
        doubt_room(desk, case.room, None)
        screen = ConfirmScreen(END_S) if desk.is_live and not args.plain and not args.json else None
        if screen is None and not args.json:
            desk.tell(f"listening for {duration_text(seconds)}: pumps on, as quiet a house as can be had")
        teller: Teller = LineTeller(desk, seconds, quiet=args.json)
        if screen is not None:
            teller = ScreenTeller(_instruments(case, entry.id), seconds, confirmation.limits, screen)
        loop = Confirming(confirmation, entry, clips, teller)
        found: list[Found] = []

        def leave() -> None:
            loop.leave()
            end_of(source)

        def work() -> None:
            loop.hear(first_seconds(source, seconds))
            verdict = confirmation.verdict()
            about = _about(case, confirmation, args.note, desk)
            found.append(Found(verdict, about))
            teller.ended(verdict)
            logbook.keep_proof(
                "confirmation", source.name, source.sample_rate, as_json(verdict, about),
                case.rig.name if case.rig else "", session=entry.id,
            )
            entry.close(verdict.outcome)

        interrupted = False
        try:
            if screen is None:
                run_plain(work, leave)
            else:
                run_full(screen.made(look_of(desk, args.theme), loop.note, leave), work, leave)
        except KeyboardInterrupt:
            interrupted = True
        finally:  # the verdict is given even when the logbook could not take it
            if found:
                quietest_db = confirmation.quietest_db(case.scale.offset_db)
                if quietest_db is not None:
                    doubt_room(desk, case.room, quietest_db)
                _give(args.certificate, found[0], desk, as_json_only=args.json)
    outcome = found[0].verdict.outcome
    return INTERRUPTED if interrupted else {"silent": 0, "audible": 1, "not shown": 3}[outcome]


def _instruments(case: Case, session: int) -> Instruments:
    floor, source = case.room.floor, case.source
    face = Snapshot(
        title="confirm", source=source.name, phase="listening", elapsed_s=0.0, calibrated=case.scale.calibrated,
        session=session, floor_db=floor.levels.laeq_db if floor else None,
    )
    return Instruments(face, QuickLevel(source.sample_rate, case.scale.offset_db))


def _seconds(args: argparse.Namespace, source: Source) -> float:
    """Return how long to listen: as chosen, else a recording's own length where it is known, else the usual time."""
    if args.quick or args.overnight:
        return QUICK_S if args.quick else OVERNIGHT_S
    if isinstance(source, Recording) and source.frames is not None:
        return source.frames / source.sample_rate
    return STANDARD_S


def _case(args: argparse.Namespace, logbook: Logbook, stack: ExitStack) -> Case:
    if args.rehearsal is not None:
        return _rehearsal_case(args)
    rig = rig_of(args.rig)
    if args.file is not None:
        source: Source = stack.enter_context(Recording(args.file))
        scale = RELATIVE if args.device is None else scale_named(logbook, args.device)
        room = Room(None) if args.floor is None else room_from_file(args.floor, scale.offset_db)
        check = check_of_file(args.check) if args.check is not None else None
    else:
        from tuner.capture.microphone import Microphone

        microphone = stack.enter_context(Microphone(args.device, args.rate))
        source, scale = microphone, scale_of(logbook, microphone.name)
        room = room_of(args.floor, logbook, microphone.name, microphone.sample_rate, scale.offset_db)
        check = kept_check(logbook, microphone.name)
    noise = check.quiet_db + (scale.offset_db or 0.0) if check and check.quiet_db is not None else None
    return Case(source, rig, room, check, scale, noise)


def _rehearsal_case(args: argparse.Namespace) -> Case:
    from tuner.rehearsal.cases import draw_case, draw_noisy
    from tuner.rehearsal.source import RehearsalSource

    if args.noisy:
        rehearsal = draw_noisy(args.rehearsal, sample_rate=SAMPLE_RATE)
    else:
        rehearsal = draw_case(None, args.rehearsal, sample_rate=SAMPLE_RATE)
    scale = simulated_scale(rehearsal.full_scale_offset_db)
    floor: Floor = measure_floor(rehearsal.floor(REHEARSAL_ROOM_S), SAMPLE_RATE, offset_db=scale.offset_db)
    room = Room(floor, None, f"measured on the rehearsal rig for {duration_text(REHEARSAL_ROOM_S)}")
    return Case(
        RehearsalSource(rehearsal, f"rehearsal {args.rehearsal}"), rehearsal.rig, room, SIMULATED, scale, None
    )


def _about(case: Case, confirmation: Confirmation, note: str, desk: Desk) -> About:
    floor = case.room.floor
    room = "not known"
    if floor is not None:
        room = f"{floor.levels.laeq_db:.1f} dB(A), {floor.clean_s:.0f} s undisturbed, {case.room.words}"
        if rating := rating_text(floor.levels):
            room += f"; {rating}"
    return About(
        desk.clock().astimezone(), case.rig.name if case.rig else "", case.source.name,
        case.source.sample_rate, room, case.scale.words, confirmation.levels(), note,
    )


def _give(path: Path | None, found: Found, desk: Desk, *, as_json_only: bool) -> None:
    text = certificate_text(found.verdict, found.about)
    if path is not None:
        try:
            path.write_text(text, encoding="utf-8")
        except OSError as error:
            raise ConfigError(f"certificate={path} cannot be written ({error.strerror}): name another file") from error
    if as_json_only:
        desk.write_json(as_json(found.verdict, found.about))
        return
    desk.console.print(text, soft_wrap=True, end="")
    if path is not None:
        desk.tell(f"written  to {path}")
