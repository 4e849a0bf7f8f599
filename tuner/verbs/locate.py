"""``hushweir locate``: which pipe is it? The microphone is held close to one place after the other."""

from __future__ import annotations

import argparse
from contextlib import ExitStack
from dataclasses import asdict
from pathlib import Path
from typing import Any

from tuner.capture.recording import load_recording
from tuner.causes import diagnose_reading
from tuner.causes.location import Scan
from tuner.errors import ConfigError
from tuner.logbook.entry import Entry
from tuner.rig import Rig
from tuner.screens.scanpage import ScanPage, found_text
from tuner.signatures.holding import SHORTEST_HOLDING_S
from tuner.terms import PLACES, Diagnosis, Place
from tuner.verbs.desk import INTERRUPTED, Desk
from tuner.verbs.holds import Holds, LiveHolds, Presses, RehearsalHolds
from tuner.verbs.opening import Room, begin, rig_of
from tuner.verbs.scanning import CAUTIONS, Round, Scanning

SCHEMA = 1
SAMPLE_RATE = 48_000
_SHORT: dict[str, Place] = {"channel": "open channel", "box": "overflow box"}


def run(args: argparse.Namespace, desk: Desk) -> int:
    """Carry out the verb."""
    if args.seconds < SHORTEST_HOLDING_S:
        raise ConfigError(f"seconds={args.seconds:g} must be at least {SHORTEST_HOLDING_S:g}: less tells nothing")
    if args.at:
        return _from_files(args, desk)
    code = 0
    with ExitStack() as stack:
        holds, name, rate, rig = _holds(args, desk, stack)
        logbook = stack.enter_context(desk.logbook(args.logbook))
        entry = stack.enter_context(begin(logbook, "locate", name, rate, rig, Room(None), "", False))
        tell = desk.say if args.json else desk.tell
        scan_round = Round(rate, rig)
        scanning = Scanning(holds, scan_round, entry, args.seconds, tell)
        for caution in () if args.rehearsal is not None else CAUTIONS:
            tell(f"CAUTION  {caution}")
        try:
            if args.rehearsal is not None and not args.ask:
                scanning.by_itself(args.rounds)
            else:
                with Presses(desk) as presses:
                    scanning.guided(presses)
        except KeyboardInterrupt:
            code = INTERRUPTED
        if scan_round.places < 2:
            entry.close("stopped" if code else "not enough places")
            if code:
                return code
            raise ConfigError(
                f"places={scan_round.places} must be at least 2: what is loud at one place alone tells nothing"
            )
        scan, diagnosis = _concluded(scan_round, rig, entry)
        body = as_json(scan, diagnosis, name)
        logbook.keep_proof("scan", name, rate, body, rig.name if rig else "")
        if args.json:
            desk.write_json(body)
        else:
            desk.page(ScanPage(scan, diagnosis, name))
    return code


def _concluded(scan_round: Round, rig: Rig | None, entry: Entry) -> tuple[Scan, Diagnosis]:
    scan = scan_round.scan()
    diagnosis = diagnose_reading(scan_round.reading(), rig=rig, scan=scan)
    entry.note(found_text(scan.prevailing))
    entry.diagnosis(diagnosis, scan_round.heard_s)
    entry.close(f"{scan.prevailing.kind} at {scan.prevailing.place}")
    return scan, diagnosis


def _from_files(args: argparse.Namespace, desk: Desk) -> int:
    rig = rig_of(args.rig)
    named = [place_and_file(text) for text in args.at]
    takes = [(place, *load_recording(path)) for place, path in named]
    rates = {rate for _, _, rate in takes}
    if len(rates) > 1:
        raise ConfigError(
            f"sample_rate={', '.join(map(str, sorted(rates)))} must be one for all recordings: use one recorder"
        )
    scan_round = Round(rates.pop(), rig)
    for place, samples, _ in takes:
        scan_round.take(place, samples)
    scan = scan_round.scan()
    diagnosis = diagnose_reading(scan_round.reading(), rig=rig, scan=scan)
    name = ", ".join(dict.fromkeys(path.name for _, path in named))
    if args.json:
        desk.write_json(as_json(scan, diagnosis, name))
    else:
        desk.page(ScanPage(scan, diagnosis, f"{len(takes)} recordings"))
    return 0


def place_and_file(text: str) -> tuple[Place, Path]:
    """Return the place and the file of ``PLACE=FILE``.

    Raises
    ------
    ConfigError
        When it is not of that form, or the place is none.

    >>> place_and_file("channel=there.wav")[0]
    'open channel'
    """
    name, sign, file = text.partition("=")
    words = name.strip().lower()
    place = _SHORT.get(words, words)
    if not sign or not file or place not in PLACES:
        raise ConfigError(f"at={text!r} must be PLACE=FILE, with a place of {', '.join(PLACES)}")
    return place, Path(file)


def _holds(args: argparse.Namespace, desk: Desk, stack: ExitStack) -> tuple[Holds, str, int, Rig | None]:
    if args.rehearsal is not None:
        from tuner.rehearsal.cases import draw_any

        rehearsal = draw_any(args.rehearsal, sample_rate=SAMPLE_RATE)
        rig = rig_of(args.rig) or rehearsal.rig
        return RehearsalHolds(rehearsal, desk, cup=args.cup), f"rehearsal {args.rehearsal}", SAMPLE_RATE, rig
    from tuner.capture.microphone import Microphone

    microphone = stack.enter_context(Microphone(args.device, args.rate))
    return LiveHolds(microphone), microphone.name, microphone.sample_rate, rig_of(args.rig)


def as_json(scan: Scan, diagnosis: Diagnosis, source: str) -> dict[str, Any]:
    """Return a scan as the object that ``--json`` prints and the logbook keeps."""
    body = asdict(scan)
    for sound, located in ((body["prevailing"], scan.prevailing), *zip(body["sounds"], scan.sounds, strict=True)):
        sound.update(place=located.place, probability=located.probability, margin_db=located.margin_db)
    return {
        "schema": SCHEMA, "source": source, **body, "silent": diagnosis.silent,
        "causes": [asdict(cause) for cause in diagnosis.causes],
    }
