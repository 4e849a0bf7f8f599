"""``hushweir listen``: what is heard, now and at the end, from a microphone, a file or the rehearsal rig."""

from __future__ import annotations

import argparse
import queue
import threading
from collections import Counter
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import replace

from tuner.capture.recording import Recording
from tuner.capture.source import Source, first_seconds
from tuner.causes import diagnose_reading
from tuner.errors import ConfigError
from tuner.logbook.store import Logbook
from tuner.rig import Rig
from tuner.screens.lines import LineScreen
from tuner.screens.snapshot import Snapshot
from tuner.screens.summaries import ListenSummary
from tuner.screens.words import clock_text
from tuner.signatures.listener import SHORTEST_WINDOW_S, Listener
from tuner.sound.quick import QuickLevel
from tuner.terms import Block, Diagnosis, Floor
from tuner.verbs.desk import INTERRUPTED, Desk
from tuner.verbs.ears import Pace
from tuner.verbs.hearing import Hearing
from tuner.verbs.listenscreen import ListenScreen
from tuner.verbs.opening import (
    RELATIVE,
    Room,
    Scale,
    begin,
    doubt_room,
    mark_of,
    no_room_hint,
    rig_of,
    room_from_file,
    room_of,
    scale_named,
    scale_of,
    simulated_scale,
)
from tuner.verbs.recalled import taught_doubt, taught_of
from tuner.verbs.stage import end_of, look_of, run_full, run_plain
from tuner.verbs.subjects import rehearsal_of, rehearsal_room

WINDOW_S = 30.0
FIRST_VERDICT_S = 8.0
VERDICT_EVERY_S = 4.0


def run(args: argparse.Namespace, desk: Desk) -> int:
    """Carry out the verb."""
    with ExitStack() as stack:
        logbook = stack.enter_context(desk.logbook(args.logbook))
        source, rig, scale, room = _heard(args, logbook, stack)
        mark = mark_of(args.place, args.gain, args.tag)
        entry = stack.enter_context(
            begin(logbook, "listen", source.name, source.sample_rate, rig, room, args.note, scale.calibrated, mark)
        )
        no_room_hint(desk, room)
        doubt_room(desk, room, None)
        face = Snapshot(
            title="listen", source=source.name, phase="listening", elapsed_s=0.0, calibrated=scale.calibrated,
            session=entry.id, floor_db=room.floor.levels.laeq_db if room.floor else None,
        )
        paced = not args.fast and (args.file is not None or args.rehearsal is not None)
        pace = Pace(1.0, desk.seconds, desk.sleep) if paced else None
        stop = threading.Event()
        notes: queue.SimpleQueue[str] = queue.SimpleQueue()

        def end() -> None:
            stop.set()
            end_of(source)

        screen = ListenScreen(notes.put, end) if desk.is_live and not args.plain else None
        device, named = (source.name, None) if args.file is None else (None, args.device)
        templates = taught_of(desk, args.rig, device, source.sample_rate, named)
        ears = Listener(source.sample_rate, rig, room.floor, offset_db=scale.offset_db, templates=templates)
        meter = None if screen is None else QuickLevel(source.sample_rate, scale.offset_db)
        hearing = Hearing(ears, entry, screen or LineScreen(desk.console), face, meter)
        if args.keep_clips:
            hearing.keep_clips(logbook.clip_folder)
        loop = Listening(hearing, rig, room.floor, stop, notes)
        blocks = _bounded(source, args.seconds)
        if pace is not None:
            blocks = pace.paced(blocks)

        def work() -> None:
            loop.hear(blocks)

        code = 0
        try:
            if screen is not None:
                run_full(screen.made(look_of(desk, args.theme)), work, end)
            else:
                run_plain(work, end)
        except KeyboardInterrupt:
            # The usual end of listening: the loop has ended its window, and what it heard is said all the same.
            code = INTERRUPTED
        try:
            entry.close(loop.outcome)
        finally:  # what was heard is said even when the logbook could not take it
            taught_doubt(desk, ears.taught_share)
            desk.page(ListenSummary(
                tuple(loop.diagnoses), hearing.now_s, face.calibrated, face.floor_db, hearing.shot.sound_count,
                entry.id, logbook.path,
            ))
        if loop.diagnoses:
            doubt_room(desk, room, min(d.reading.levels.la90_db for d in loop.diagnoses))
    return code


class Listening:
    """The loop: windows of ``WINDOW_S`` one after the other, each with its diagnosis; ``notes`` go into the log."""

    def __init__(
        self, hearing: Hearing, rig: Rig | None, floor: Floor | None, stop: threading.Event,
        notes: queue.SimpleQueue[str],
    ) -> None:
        self._hearing = hearing
        self._rig = rig
        self._floor = floor
        self._stop = stop
        self._notes = notes
        self._next_verdict_s = FIRST_VERDICT_S
        self.diagnoses: list[Diagnosis] = []

    @property
    def outcome(self) -> str:
        """What came of it, in a few words for the logbook."""
        if not self.diagnoses:
            return "nothing heard"
        names = Counter("silent" if d.silent else d.causes[0].name for d in self.diagnoses)
        return names.most_common(1)[0][0]

    def hear(self, blocks: Iterator[Block]) -> None:
        """Take the blocks until they end or the stop is asked for."""
        hearing = self._hearing
        hearing.begin_window()
        for block in blocks:
            hearing.take(block)
            self._keep_notes()
            if self._stop.is_set():
                break
            if hearing.heard_s >= WINDOW_S:
                self._conclude()
                hearing.begin_window()
                self._next_verdict_s = FIRST_VERDICT_S
            elif hearing.heard_s >= self._next_verdict_s:
                self._next_verdict_s = hearing.heard_s + VERDICT_EVERY_S
                hearing.show(replace(hearing.shot, diagnosis=self._diagnosed(hearing)))
        # A short rest says less than the windows before it.
        least_s = FIRST_VERDICT_S if self.diagnoses else SHORTEST_WINDOW_S
        if hearing.heard_s >= least_s:
            self._conclude()
        else:
            hearing.end()

    def _keep_notes(self) -> None:
        while not self._notes.empty():
            self._hearing.entry.note(f"{clock_text(self._hearing.now_s)} {self._notes.get()}")

    def _diagnosed(self, hearing: Hearing) -> Diagnosis | None:
        try:
            reading = hearing.listener.reading()
        except ConfigError:
            return None  # so much of the window was lost that too little of it is left
        return diagnose_reading(reading, rig=self._rig, floor=self._floor)

    def _conclude(self) -> None:
        try:
            reading = self._hearing.end_window()
        except ConfigError:
            return
        diagnosis = diagnose_reading(reading, rig=self._rig, floor=self._floor)
        self.diagnoses.append(diagnosis)
        self._hearing.conclude(diagnosis)


def _heard(args: argparse.Namespace, logbook: Logbook, stack: ExitStack) -> tuple[Source, Rig | None, Scale, Room]:
    """Open what is listened to, with its installation, scale and room; a rehearsal knows all that is not given."""
    rig = rig_of(args.rig)
    if args.rehearsal is not None:
        return _rehearsed(args, rig)
    source, scale = _source(args, logbook, stack)
    return source, rig, scale, room_of(args.floor, logbook, source.name, source.sample_rate, scale.offset_db)


def _source(args: argparse.Namespace, logbook: Logbook, stack: ExitStack) -> tuple[Source, Scale]:
    """Open the microphone, or a recording, whose scale is that of the microphone named by --device, if any."""
    if args.file is not None:
        recording = stack.enter_context(Recording(args.file))
        return recording, RELATIVE if args.device is None else scale_named(logbook, args.device)
    from tuner.capture.microphone import Microphone

    microphone = stack.enter_context(Microphone(args.device, args.rate))
    return microphone, scale_of(logbook, microphone.name)


def _rehearsed(args: argparse.Namespace, rig: Rig | None) -> tuple[Source, Rig | None, Scale, Room]:
    if args.fast and args.seconds is None:
        raise ConfigError("--fast must come with --seconds here: the rehearsal rig never ends")
    from tuner.rehearsal.source import RehearsalSource

    rehearsal, name = rehearsal_of(args.rehearsal), f"rehearsal {args.rehearsal}"
    scale = simulated_scale(rehearsal.full_scale_offset_db)
    room = rehearsal_room(rehearsal) if args.floor is None else room_from_file(args.floor, scale.offset_db)
    return RehearsalSource(rehearsal, name), rig or rehearsal.rig, scale, room


def _bounded(source: Source, seconds: float | None) -> Iterator[Block]:
    return iter(source) if seconds is None else first_seconds(source, seconds)
