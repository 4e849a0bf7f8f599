"""``hushweir floor``: the room with the pumps off, measured once and kept, so that silence can be claimed."""

from __future__ import annotations

import argparse
from contextlib import ExitStack

import numpy as np

from tuner.capture.recording import Recording
from tuner.capture.source import Source, first_seconds
from tuner.causes import diagnose_reading
from tuner.errors import SourceError
from tuner.screens.words import count_text, duration_text, level_text, percent_text
from tuner.signatures.listener import measure_floor, read_window
from tuner.terms import Floor, Samples
from tuner.verbs.desk import Desk

BLOCK_S = 0.5  # what the floor is judged by
DISTURBED_SHARE = 0.5  # more than this disturbed: the figure is that of the disturbance


def run(args: argparse.Namespace, desk: Desk) -> int:
    """Carry out the verb."""
    with ExitStack() as stack:
        source = stack.enter_context(_source(args))
        logbook = None if args.file is not None else stack.enter_context(desk.logbook(args.logbook))
        if logbook is not None:
            desk.tell(f"listening to the room for {duration_text(args.seconds)}: pumps off, nobody talking")
        samples = gather(source, args.seconds)
        floor = measure_floor(samples, source.sample_rate)
        words = level_text(floor.levels.laeq_db, floor.levels.calibrated)
        clean = f"{duration_text(floor.clean_s)} of {duration_text(floor.duration_s)} undisturbed"
        desk.tell(f"room     {words}, {clean}")
        if left_out := round((floor.duration_s - floor.clean_s) / BLOCK_S):
            desk.tell(f"left out {count_text(left_out, 'half second')} disturbed by sudden sound")
        for warning in _doubts(floor, samples, source.sample_rate):
            desk.say(warning)
        if logbook is None:
            desk.tell(f"use it   with --floor {args.file}")
        else:
            where = f" ({args.place})" if args.place else ""
            number = logbook.keep_floor(floor, source.name, source.sample_rate, args.place)
            desk.tell(f"kept     as floor {number} of {source.name!r}{where} in {logbook.path}")
    return 0


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
