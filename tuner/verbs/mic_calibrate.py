"""``hushweir mic calibrate``: from full scale to sound pressure, by a calibrator or another meter's reading."""

from __future__ import annotations

import argparse
from contextlib import ExitStack
from dataclasses import asdict

from tuner.capture.recording import load_recording
from tuner.errors import ConfigError, SourceError
from tuner.logbook.store import Logbook
from tuner.screens.words import duration_text
from tuner.silence.calibration import (
    Calibration,
    Method,
    calibrate_with_calibrator,
    calibrate_with_meter,
    check_reference,
    drift_db,
    has_drifted,
)
from tuner.terms import Samples
from tuner.verbs.desk import Desk
from tuner.verbs.opening import kept_calibration

SECONDS = 8.0


def run(args: argparse.Namespace, desk: Desk) -> int:
    """Carry out the verb."""
    if (args.calibrator is None) == (args.meter is None):
        raise ConfigError("one of --calibrator 94 and --meter LEVEL must be given: without, levels stay relative")
    method: Method = "calibrator" if args.meter is None else "meter"
    check_reference(method, args.calibrator if args.meter is None else args.meter)
    with ExitStack() as stack:
        logbook: Logbook | None = None
        if args.file is not None:
            samples, rate = load_recording(args.file)
            name = str(args.file)
        else:
            from tuner.capture.microphone import Microphone
            from tuner.verbs.floor import gather

            microphone = stack.enter_context(Microphone(args.device, args.rate))
            logbook = stack.enter_context(desk.logbook(args.logbook))
            what = "the calibrator on the microphone" if args.meter is None else "a steady sound beside the meter"
            if not args.json:
                desk.tell(f"listening for {duration_text(SECONDS)}: {what}")
            samples, rate, name = gather(microphone, SECONDS), microphone.sample_rate, microphone.name
        found = _calibrate(args, samples, rate)
        body = {"schema": 1, **asdict(found)}
        number: int | None = None
        before: Calibration | None = None
        if logbook is not None:
            before = kept_calibration(logbook, name)
            number = logbook.keep_proof("calibration", name, rate, body)
        if before is not None and has_drifted(before, found):
            desk.say(
                f"the microphone has drifted by {drift_db(before, found):+.1f} dB since it was calibrated last: "
                "what was measured in between is in doubt"
            )
        if args.json:
            drift = None if before is None else drift_db(before, found)
            desk.write_json(body | {"source": name, "sample_rate_hz": rate, "proof": number, "drift_db": drift})
            return 0
        desk.tell(f"offset   0 dB re full scale is {found.offset_db:.1f} dB, give or take {found.unsure_db:g} dB")
        if logbook is not None:
            desk.tell(f"kept     as proof {number} of {name!r} in {logbook.path}")
    return 0


def _calibrate(args: argparse.Namespace, samples: Samples, rate: int) -> Calibration:
    try:
        if args.meter is not None:
            return calibrate_with_meter(samples, rate, args.meter)
        return calibrate_with_calibrator(samples, rate, args.calibrator)
    except ConfigError as error:
        raise SourceError(str(error)) from error
