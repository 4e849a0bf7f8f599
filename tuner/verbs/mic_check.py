"""``hushweir mic check``: whether the microphone's chain can be trusted, tried with quiet and loud sound."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from tuner.capture.devices import load_sounddevice
from tuner.capture.recording import Recording, load_recording
from tuner.capture.source import Source, first_seconds
from tuner.errors import ConfigError, SourceError
from tuner.logbook.store import Logbook
from tuner.screens.words import count_text, duration_text, level_text
from tuner.silence.chain import HOW_TO_SWITCH_OFF, ChainCheck, ChainFault, ChainReport, gathered
from tuner.silence.steps import StepsRead, read_steps, steps_to_play
from tuner.sound.frames import Framer, LongSpectrum, long_frequencies_hz
from tuner.sound.tones import find_tones
from tuner.terms import Block
from tuner.verbs.desk import Desk

QUIET_S, LOUD_S, AFTER_S = 8.0, 8.0, 10.0
_MAINS_HZ = (100.0, 120.0)
_MAINS_NEAR_HZ = 1.5
_AS_QUIET = 4.0  # 6 dB
SPEAKER_AMPLITUDE = 0.3  # loud enough over a room, not a fright
NOISE_RMS = 0.1
LATE_S = 3.0  # what a busy sound server may take to begin
BUFFER_S = 0.8
RATE_TOLERANCE = 0.02  # a wrong rate is 8 % off or more; what is lost on the way is said apart
LOST_NOTED_S = 0.05
RESAMPLED_SHARE = 0.8  # of half the sample rate: less bandwidth and the sound was taken at a lower rate


@dataclass(frozen=True, slots=True)
class Delivery:
    """What came from the source beside the sound: blocks lost, and the sample rate against the clock (None: a file)."""

    dropped: int
    rate_hz: float | None
    mains_hz: tuple[float, ...]

    def keeps_rate(self, sample_rate: int) -> bool | None:
        """Tell whether as many samples come as are stated; None where no clock could tell."""
        return None if self.rate_hz is None else abs(self.rate_hz / sample_rate - 1.0) <= RATE_TOLERANCE


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
            speak = _noise_player(source.sample_rate) if args.speaker else None
            report, delivery = _try(source, QUIET_S + LOUD_S + AFTER_S, desk, quiet=args.json, speak=speak)
            steps = _steps_if_read(source, desk, quiet=args.json) if args.speaker else None
        report = with_rate(_with_steps(report, steps), delivery, source.sample_rate)
        body = as_json(report, delivery, source) | {"steps_db": list(steps.levels_db) if steps else None}
        if args.json:
            desk.write_json(body)
        else:
            if steps is not None:
                read = ", ".join(f"{level:+.1f}" for level in steps.differences_db)
                desk.tell(f"steps    10 dB up and 10 dB up were read as {read} dB")
            _tell(report, delivery, source.sample_rate, desk)
        if logbook is not None:
            logbook.keep_proof("microphone check", source.name, source.sample_rate, body)
    return 0 if report.honest else 1


def _try(
    source: Source, seconds: float | None, desk: Desk, *, quiet: bool, speak: Callable[[], None] | None = None
) -> tuple[ChainReport, Delivery]:
    """Hear the trial, telling the keeper what to do when; ``speak`` plays the loud stretch for them."""
    check = ChainCheck(source.sample_rate)
    framer, long = Framer(source.sample_rate), LongSpectrum(source.sample_rate)
    quietest = _Quietest(long_frequencies_hz(source.sample_rate).size)
    told = -1
    words = (
        f"be quiet for {duration_text(QUIET_S)}",
        f"now make a loud steady noise for {duration_text(LOUD_S)}: run a tap, a hair dryer, or say 'shhh'"
        if speak is None else f"a steady noise is played for {duration_text(LOUD_S)}",
        f"be quiet again for {duration_text(AFTER_S)}",
    )
    samples = dropped = 0
    begun_s: float | None = None
    for block in source if seconds is None else first_seconds(source, seconds):
        at_s = samples / source.sample_rate
        part = 0 if at_s < QUIET_S else 1 if at_s < QUIET_S + LOUD_S else 2
        if part > told:
            told = part
            if not quiet:
                desk.tell(words[part])
            if part == 1 and speak is not None:
                speak()
        begun_s = desk.seconds() if begun_s is None else begun_s
        samples += block.samples.size
        dropped += _hear(block, check, framer, long, quietest)
    elapsed_s = desk.seconds() - begun_s if begun_s is not None and seconds is not None else 0.0
    # The first block came all at once.
    rate = (samples - 0.1 * source.sample_rate) / elapsed_s if elapsed_s > 5.0 else None
    enough = samples > 2 * source.sample_rate
    tones = find_tones(quietest.spectrum, long_frequencies_hz(source.sample_rate)) if enough else ()
    mains = tuple(
        base for base in _MAINS_HZ if any(abs(tone.frequency_hz - base) < _MAINS_NEAR_HZ for tone in tones)
    )
    return check.report(trial=True), Delivery(dropped, rate, mains)


def _noise_player(sample_rate: int) -> Callable[[], None]:
    """Return what plays the loud stretch: steady noise, the same every time, with soft edges."""
    noise = np.random.default_rng(1).normal(0.0, NOISE_RMS, round(LOUD_S * sample_rate)).astype(np.float32)
    edge = np.linspace(0.0, 1.0, round(0.1 * sample_rate), dtype=np.float32)
    noise[: edge.size] *= edge
    noise[-edge.size :] *= edge[::-1]
    return lambda: _play(np.clip(noise, -0.9, 0.9), sample_rate)


def _play(sound: np.ndarray, sample_rate: int) -> None:
    library = load_sounddevice()
    try:
        # A short buffer runs empty on a busy computer, and the tone would come in pieces; what is still in a long one
        # at the end is not played.
        rest = np.zeros(round(BUFFER_S * sample_rate), dtype=np.float32)
        library.play(np.concatenate([sound, rest]), sample_rate, latency=BUFFER_S)
    except (library.PortAudioError, ValueError) as error:
        raise SourceError(f"the loudspeaker cannot be used ({error}): leave --speaker out") from error


def _steps_if_read(source: Source, desk: Desk, *, quiet: bool) -> StepsRead | None:
    """Play and read the steps; what the trial found is not lost when they cannot be read."""
    try:
        return play_steps(source, desk, quiet=quiet)
    except ConfigError as error:
        desk.say(f"the steps cannot be judged: {error}")
        return None


def play_steps(source: Source, desk: Desk, *, quiet: bool) -> StepsRead:
    """Play three steps of a tone through the loudspeaker and read them through the microphone."""
    sound = steps_to_play(source.sample_rate, SPEAKER_AMPLITUDE)
    if not quiet:
        desk.tell("a tone is played in three steps: loudspeaker on, microphone where it is")
    _play(sound, source.sample_rate)
    parts = [block.samples for block in first_seconds(source, sound.size / source.sample_rate + LATE_S)]
    return read_steps(np.concatenate(parts), source.sample_rate)


def _with_steps(report: ChainReport, steps: StepsRead | None) -> ChainReport:
    """Return the report with the fault that unfollowed steps are."""
    if steps is None or steps.followed:
        return report
    read = " and ".join(f"{difference:.1f}" for difference in steps.differences_db)
    unfollowed = ChainFault("gain control", f"steps of 10 dB are read as {read} dB")
    return replace(report, faults=gathered((*report.faults, unfollowed)))


def with_rate(report: ChainReport, delivery: Delivery, sample_rate: int) -> ChainReport:
    """Return the report with the fault that a wrong number of samples is."""
    if delivery.keeps_rate(sample_rate) in (True, None):
        return report
    seen = f"{delivery.rate_hz:.0f} samples a second come where {sample_rate} are stated"
    return replace(report, faults=(*report.faults, ChainFault("sample rate", seen)))


class _Quietest:
    """The summed power spectrum of the quiet frames: under the loud stretch of the trial no mains line would show."""

    def __init__(self, bins: int) -> None:
        self.spectrum = np.zeros(bins)
        self._level = np.inf

    def take(self, power: np.ndarray) -> None:
        """Add a frame that is about as quiet as those before it; one that is quieter by 6 dB begins anew."""
        level = float(power.sum())
        if not 0.0 < level < _AS_QUIET * self._level:
            return
        if level * _AS_QUIET < self._level:
            self._level = level
            self.spectrum[:] = 0.0
        self.spectrum += power


def _hear(block: Block, check: ChainCheck, framer: Framer, long: LongSpectrum, quietest: _Quietest) -> int:
    if block.dropped:
        check.gap()
        framer.reset()
        long.reset()
    for slab in framer.push(block.samples):
        check.take(slab)
        for frame in long.push(slab):
            quietest.take(frame.power)
    return block.dropped


def as_json(report: ChainReport, delivery: Delivery, source: Source) -> dict[str, Any]:
    """Return a check as the object that ``--json`` prints and the logbook keeps."""
    return {
        "schema": 1, "source": source.name, "sample_rate_hz": source.sample_rate, "honest": report.honest,
        "dropped_samples": delivery.dropped, "measured_rate_hz": delivery.rate_hz,
        "rate_kept": delivery.keeps_rate(source.sample_rate),
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


def _tell(report: ChainReport, delivery: Delivery, sample_rate: int, desk: Desk) -> None:
    desk.tell(f"quiet    {level_text(report.quiet_db, False)}: the microphone's own noise is no higher")
    if report.loud_db is not None:
        desk.tell(f"loud     {level_text(report.loud_db, False)}")
    desk.tell(f"offset   {report.offset:+.4f} of full scale; {count_text(report.clipped, 'clipped sample')}")
    lost_s = delivery.dropped / sample_rate
    busy = ": the computer is too busy, or the cable loose" if lost_s > LOST_NOTED_S else ""
    desk.tell(f"lost     {1000 * lost_s:.0f} ms{busy}")
    if delivery.rate_hz is not None:
        kept = "as stated" if delivery.keeps_rate(sample_rate) else "NOT AS STATED"
        desk.tell(f"rate     {sample_rate} samples a second stated, {delivery.rate_hz:.0f} delivered: {kept}")
    desk.tell("mains    " + (", ".join(f"{hz:.0f} Hz" for hz in delivery.mains_hz) or "no lines") + " seen")
    reach = f"reaches  {report.bandwidth_hz / 1000:.1f} kHz"
    if report.bandwidth_hz < RESAMPLED_SHARE * sample_rate / 2:
        reach += f" of {sample_rate / 2000:g}: taken at a lower rate or coded; bright sounds (hiss, trickle) are cut"
    desk.tell(reach)
    for fault in report.faults:
        desk.tell(f"FAULT    {fault.fault}: {fault.seen}")
    if report.honest:
        desk.tell("verdict  honest: loud and quiet sound are left as they are")
    elif report.faults:
        system = "linux" if sys.platform.startswith("linux") else sys.platform
        desk.tell("verdict  not to be trusted: with this chain nothing is called silent")
        desk.tell(f"fix      {HOW_TO_SWITCH_OFF.get(system, HOW_TO_SWITCH_OFF['linux'])}")
        for other in ("phone", "browser"):
            desk.tell(f"         {other}: {HOW_TO_SWITCH_OFF[other]}")
    else:
        desk.tell("verdict  not put to the test: quiet, then 8 s loud and steady, then quiet are needed")
