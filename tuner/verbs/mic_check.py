"""``hushweir mic check``: whether the microphone's chain can be trusted, tried with quiet and loud sound."""

from __future__ import annotations

import argparse
import sys
from contextlib import ExitStack
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from tuner.capture.devices import load_sounddevice
from tuner.capture.recording import Recording, load_recording
from tuner.capture.source import Source, first_seconds
from tuner.errors import SourceError
from tuner.logbook.store import Logbook
from tuner.screens.words import duration_text, level_text
from tuner.silence.chain import HOW_TO_SWITCH_OFF, ChainCheck, ChainFault, ChainReport
from tuner.silence.steps import StepsRead, read_steps, steps_to_play
from tuner.sound.frames import Framer, LongSpectrum, long_frequencies_hz
from tuner.sound.tones import find_tones
from tuner.terms import Block
from tuner.verbs.desk import Desk

QUIET_S, LOUD_S, AFTER_S = 8.0, 8.0, 10.0
_MAINS_HZ = (100.0, 120.0)
_MAINS_NEAR_HZ = 1.5
SPEAKER_AMPLITUDE = 0.3  # loud enough over a room, not a fright


@dataclass(frozen=True, slots=True)
class Delivery:
    """What came from the source beside the sound: blocks lost, and the sample rate against the clock (None: a file)."""

    dropped: int
    rate_hz: float | None
    mains_hz: tuple[float, ...]


def run(args: argparse.Namespace, desk: Desk) -> int:
    """Carry out the verb; the exit code is 1 when the chain is not honest or was not put to the test."""
    with ExitStack() as stack:
        if args.file is not None:
            source: Source = stack.enter_context(Recording(args.file))
            logbook = None
            report, delivery = _try(source, None, desk, quiet=True)
            steps = None if args.steps is None else read_steps(*load_recording(args.steps))
        else:
            from tuner.capture.microphone import Microphone

            source = stack.enter_context(Microphone(args.device, args.rate))
            logbook = stack.enter_context(desk.logbook(args.logbook))
            report, delivery = _try(source, QUIET_S + LOUD_S + AFTER_S, desk, quiet=args.json)
            steps = _play_steps(source, desk, quiet=args.json) if args.speaker else None
        report = _with_steps(report, steps)
        body = as_json(report, delivery, source) | {"steps_db": list(steps.levels_db) if steps else None}
        if args.json:
            desk.write_json(body)
        else:
            if steps is not None:
                read = ", ".join(f"{level:+.1f}" for level in steps.differences_db)
                desk.tell(f"steps    10 dB up and 10 dB up were read as {read} dB")
            _tell(report, delivery, desk)
        if logbook is not None:
            logbook.keep_proof("microphone check", source.name, source.sample_rate, body)
    return 0 if report.honest else 1


def _try(source: Source, seconds: float | None, desk: Desk, *, quiet: bool) -> tuple[ChainReport, Delivery]:
    """Hear the trial, telling the keeper what to do when."""
    check = ChainCheck(source.sample_rate)
    framer, long = Framer(source.sample_rate), LongSpectrum(source.sample_rate)
    spectrum = np.zeros(long_frequencies_hz(source.sample_rate).size)
    told = -1
    words = (
        f"be quiet for {duration_text(QUIET_S)}",
        f"now make a loud steady noise for {duration_text(LOUD_S)}: run a tap, a hair dryer, or say 'shhh'",
        f"be quiet again for {duration_text(AFTER_S)}",
    )
    samples = dropped = 0
    begun_s: float | None = None
    for block in source if seconds is None else first_seconds(source, seconds):
        at_s = samples / source.sample_rate
        part = 0 if at_s < QUIET_S else 1 if at_s < QUIET_S + LOUD_S else 2
        if part > told and not quiet:
            told = part
            desk.tell(words[part])
        begun_s = desk.seconds() if begun_s is None else begun_s
        samples += block.samples.size
        dropped += _hear(block, check, framer, long, spectrum)
    elapsed_s = desk.seconds() - begun_s if begun_s is not None and seconds is not None else 0.0
    # The first block came all at once.
    rate = (samples - 0.1 * source.sample_rate) / elapsed_s if elapsed_s > 5.0 else None
    tones = find_tones(spectrum, long_frequencies_hz(source.sample_rate)) if samples > 2 * source.sample_rate else ()
    mains = tuple(
        base for base in _MAINS_HZ if any(abs(tone.frequency_hz - base) < _MAINS_NEAR_HZ for tone in tones)
    )
    return check.report(trial=True), Delivery(dropped, rate, mains)


def _play_steps(source: Source, desk: Desk, *, quiet: bool) -> StepsRead:
    """Play three steps of a tone through the loudspeaker and read them through the microphone."""
    library = load_sounddevice()
    sound = steps_to_play(source.sample_rate, SPEAKER_AMPLITUDE)
    if not quiet:
        desk.tell("a tone is played in three steps: loudspeaker on, microphone where it is")
    try:
        library.play(sound, source.sample_rate)
    except (library.PortAudioError, ValueError) as error:
        raise SourceError(f"the loudspeaker cannot be used ({error}): leave --speaker out") from error
    parts = [block.samples for block in first_seconds(source, sound.size / source.sample_rate + 1.5)]
    return read_steps(np.concatenate(parts), source.sample_rate)


def _with_steps(report: ChainReport, steps: StepsRead | None) -> ChainReport:
    """Return the report with the fault that unfollowed steps are."""
    if steps is None or steps.followed:
        return report
    read = " and ".join(f"{difference:.1f}" for difference in steps.differences_db)
    return replace(report, faults=(*report.faults, ChainFault("gain control", f"steps of 10 dB are read as {read} dB")))


def _hear(block: Block, check: ChainCheck, framer: Framer, long: LongSpectrum, spectrum: np.ndarray) -> int:
    if block.dropped:
        check.gap()
        framer.reset()
        long.reset()
    for slab in framer.push(block.samples):
        check.take(slab)
        for frame in long.push(slab):
            spectrum += frame.power
    return block.dropped


def as_json(report: ChainReport, delivery: Delivery, source: Source) -> dict[str, Any]:
    """Return a check as the object that ``--json`` prints and the logbook keeps."""
    return {
        "schema": 1, "source": source.name, "sample_rate_hz": source.sample_rate, "honest": report.honest,
        "dropped_samples": delivery.dropped, "measured_rate_hz": delivery.rate_hz,
        "mains_lines_hz": list(delivery.mains_hz), "chain": asdict(report),
    }


def report_of(body: dict[str, Any]) -> ChainReport:
    """Return the report that ``as_json`` wrote."""
    chain = dict(body["chain"])
    chain["faults"] = tuple(ChainFault(**fault) for fault in chain["faults"])
    return ChainReport(**chain)


def kept_check(logbook: Logbook, device: str) -> ChainReport | None:
    """Return the newest check of a device, or None when it was never tried."""
    found = logbook.proofs("microphone check", device=device, newest=1)
    return report_of(found[0].body) if found else None


def check_of_file(path: Any) -> ChainReport:
    """Try a chain by a recording of quiet, loud and quiet that came through it."""
    with Recording(path) as recording:
        check = ChainCheck(recording.sample_rate)
        for block in recording:
            check.push(block.samples)
    return check.report(trial=True)


def _tell(report: ChainReport, delivery: Delivery, desk: Desk) -> None:
    desk.tell(f"quiet    {level_text(report.quiet_db, False)}: the microphone's own noise is no higher")
    if report.loud_db is not None:
        desk.tell(f"loud     {level_text(report.loud_db, False)}")
    desk.tell(f"offset   {report.offset:+.4f} of full scale; clipped samples: {report.clipped}")
    desk.tell(f"lost     {delivery.dropped} samples")
    if delivery.rate_hz is not None:
        desk.tell(f"rate     {delivery.rate_hz:.0f} samples a second were delivered")
    desk.tell("mains    " + (", ".join(f"{hz:.0f} Hz" for hz in delivery.mains_hz) or "no lines") + " seen")
    desk.tell(f"reaches  {report.bandwidth_hz / 1000:.1f} kHz")
    for fault in report.faults:
        desk.tell(f"FAULT    {fault.fault}: {fault.seen}")
    if report.honest:
        desk.tell("verdict  honest: loud and quiet sound are left as they are")
    elif report.faults:
        system = "linux" if sys.platform.startswith("linux") else sys.platform
        desk.tell("verdict  not to be trusted: with this chain nothing is called silent")
        desk.tell(f"fix      {HOW_TO_SWITCH_OFF.get(system, HOW_TO_SWITCH_OFF['linux'])}")
    else:
        desk.tell("verdict  not put to the test: quiet, then 8 s loud and steady, then quiet are needed")
