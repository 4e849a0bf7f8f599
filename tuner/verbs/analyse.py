"""``hushweir analyse FILE...``: what recordings hold, for people or as JSON."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path
from typing import Any

from tuner.capture.recording import Recording
from tuner.coach import Coach
from tuner.errors import ConfigError, HushweirError, SourceError
from tuner.rig import Rig
from tuner.screens.analysis import AnalysisPage, Findings
from tuner.signatures.listener import LONGEST_WINDOW_S, Listener
from tuner.signatures.taught import Templates
from tuner.sound.rounding import Rounding
from tuner.terms import Diagnosis, Floor, Question, Sound, Step
from tuner.verbs.desk import Desk
from tuner.verbs.opening import RELATIVE, Room, Scale, rig_of, room_from_file, scale_named
from tuner.verbs.recalled import taught_of

SCHEMA = 1


@dataclass(frozen=True, slots=True)
class Analysis:
    """What one file came to. ``question`` is what the coach would rather know before ``step``."""

    file: Path
    duration_s: float
    sample_rate: int
    sounds: tuple[Sound, ...]
    diagnosis: Diagnosis
    step: Step | None
    question: Question | None
    notes: tuple[str, ...]


def run(args: argparse.Namespace, desk: Desk) -> int:
    """Carry out the verb; files that cannot be read are said, and the others are analysed all the same."""
    rig = rig_of(args.rig)
    scale = _scale(args, desk)
    room = Room(None) if args.floor is None else room_from_file(args.floor, scale.offset_db)
    code = 0
    for path in args.files:
        try:
            taught = partial(taught_of, desk, args.rig, None, named=args.device)
            analysis = analyse(path, rig, room.floor, scale.offset_db, taught)
        except HushweirError as error:
            desk.fail(error)
            code = 2
            continue
        if args.json:
            desk.write_json(as_json(analysis))
        else:
            desk.page(AnalysisPage(findings_of(analysis, rig, room.floor)))
    return code


def _scale(args: argparse.Namespace, desk: Desk) -> Scale:
    """Return the scale of the microphone that made the recordings, where it is named."""
    if args.device is None:
        return RELATIVE
    with desk.logbook(args.logbook, look_only=True) as logbook:
        return scale_named(logbook, args.device)


def analyse(
    path: Path, rig: Rig | None, floor: Floor | None, offset_db: float | None = None,
    taught: Callable[[int], Templates | None] = lambda _: None,
) -> Analysis:
    """Listen to a whole recording; ``offset_db`` is the calibration of what recorded it (None: none).

    ``taught`` gives what was taught of the rig, for a sample rate.

    Raises
    ------
    SourceError
        When it cannot be read, or is too short to say anything.
    """
    sounds: list[Sound] = []
    notes: list[str] = []
    with Recording(path) as recording:
        templates = taught(recording.sample_rate)
        listener = Listener(recording.sample_rate, rig, floor, offset_db=offset_db, templates=templates)
        samples = 0
        rounding = Rounding()
        for block in recording:
            rounding.update(block.samples)
            sounds += listener.feed(block.samples)
            samples += block.samples.size
            if block.note:
                notes.append(block.note)
        sounds += listener.flush()
        try:
            rounding.refuse()
            reading = listener.reading()
        except ConfigError as error:
            raise SourceError(f"recording {path}: {error}") from error
    duration_s = samples / recording.sample_rate
    if duration_s > LONGEST_WINDOW_S:
        notes.append(f"the verdict is that of the last {LONGEST_WINDOW_S // 60} minutes")
    coach = Coach(rig, floor, hears_again=False)
    diagnosis = coach.hear_reading(reading)
    question: Question | None = None
    while isinstance(advice := coach.advise(), Question):
        # Nobody is asked here, so the coach goes on without the answer; the first question is passed on.
        question = question or advice
        coach.look(advice.id, None)
    step = None if diagnosis.silent else advice
    sounds.sort(key=lambda sound: (sound.start_s, sound.kind))
    return Analysis(path, duration_s, recording.sample_rate, tuple(sounds), diagnosis, step, question, tuple(notes))


def as_json(analysis: Analysis) -> dict[str, Any]:
    """Return an analysis as the object that ``--json`` prints; ``SCHEMA`` changes when its meaning does."""
    diagnosis = analysis.diagnosis
    levels = diagnosis.reading.levels
    return {
        "schema": SCHEMA,
        "file": str(analysis.file),
        "duration_s": round(analysis.duration_s, 3),
        "sample_rate_hz": analysis.sample_rate,
        "calibrated": levels.calibrated,
        "levels": {
            "laeq_db": round(levels.laeq_db, 2),
            "la10_db": round(levels.la10_db, 2),
            "la50_db": round(levels.la50_db, 2),
            "la90_db": round(levels.la90_db, 2),
            "lafmax_db": round(levels.lafmax_db, 2),
            "third_octave_hz": [round(f, 3) for f in levels.third_octave_hz],
            "third_octave_db": [round(level, 2) for level in levels.third_octave_db],
        },
        "silent": diagnosis.silent,
        "excess_db": diagnosis.reading.excess_db,
        "outside_share": round(diagnosis.reading.outside_share, 4),
        "clipped": diagnosis.reading.clipped,
        "sounds": [
            {
                "kind": sound.kind, "start_s": round(sound.start_s, 2), "end_s": round(sound.end_s, 2),
                "level_db": round(sound.level_db, 2), "confidence": round(sound.confidence, 3),
            }
            for sound in analysis.sounds
        ],
        "causes": [
            {"name": c.name, "probability": round(c.probability, 4), "because": list(c.because)}
            for c in diagnosis.causes
        ],
        "next_step": None if analysis.step is None else asdict(analysis.step),
        "question": None if analysis.question is None else asdict(analysis.question),
        "notes": list(analysis.notes),
    }


def findings_of(analysis: Analysis, rig: Rig | None, floor: Floor | None) -> Findings:
    """Return an analysis as the page that people read wants it."""
    return Findings(
        name=str(analysis.file),
        duration_s=analysis.duration_s,
        sample_rate=analysis.sample_rate,
        floor_db=floor.levels.laeq_db if floor else None,
        diagnosis=analysis.diagnosis,
        sounds=analysis.sounds,
        step=analysis.step,
        question=analysis.question,
        rig_name=rig.name if rig else "",
        notes=analysis.notes,
    )
