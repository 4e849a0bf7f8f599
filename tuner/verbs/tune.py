"""``hushweir tune``: the guided loop, with a microphone or on the rehearsal rig."""

from __future__ import annotations

import argparse
from contextlib import ExitStack
from dataclasses import dataclass, replace

import numpy as np

from tuner.capture.microphone import Microphone
from tuner.coach import Coach
from tuner.errors import ConfigError
from tuner.logbook.store import Logbook
from tuner.screens.box import heights_of
from tuner.screens.lines import StoryScreen
from tuner.screens.snapshot import Screen, Snapshot
from tuner.screens.summaries import TuneSummary
from tuner.signatures.listener import Listener
from tuner.sound.quick import QuickLevel
from tuner.verbs.cues import Loudspeaker, Player, mute
from tuner.verbs.desk import INTERRUPTED, Desk
from tuner.verbs.goingon import keep_coach, kept_coach
from tuner.verbs.handsfree import HandsFreeKeeper
from tuner.verbs.hearing import Hearing
from tuner.verbs.keeper import Keeper, LineKeeper, ObedientKeeper, ScreenKeeper
from tuner.verbs.opening import begin, doubt_room, mark_of, no_room_hint
from tuner.verbs.stage import look_of, run_full, run_plain
from tuner.verbs.subjects import Subject, microphone_subject, practice_subject
from tuner.verbs.tunescreen import TuneScreen
from tuner.verbs.tuning import Tuned, Tuning
from tuner.water.standing import standing

OBEYS_AFTER = 20  # looks for an answer, a tenth of a second each
END_S = 30.0  # for the end to be read by somebody who crawls out from under a cabinet
BOX_DRAWS = 300  # for where the tank's surface stands in the drawing of the box


@dataclass(frozen=True, slots=True)
class Ways:
    """How it is tuned: the listening window, who turns and how that is known, and what is seen and heard of it.

    ``goes_on`` takes the last tuning up that was left; ``may_go_on`` keeps this one for that, where it is left.
    """

    window_s: float
    live: bool = False
    obedient: bool = False
    hands_free: bool = False
    theme: str = "auto"
    linger_s: float | None = None
    play: Player = mute
    goes_on: bool = False
    may_go_on: bool = False


def run(args: argparse.Namespace, desk: Desk, microphone: Microphone | None) -> int:
    """Carry out the verb with a microphone that is open already, or with None on the rehearsal rig."""
    live = desk.is_live and not args.plain
    if args.go_on and args.rehearsal is not None:
        raise ConfigError("--go-on must stand without --rehearsal: simulated water begins anew each time")
    with ExitStack() as stack:
        logbook = stack.enter_context(desk.logbook(args.logbook))
        if microphone is None:
            subject = practice_subject(args, desk, live)
        else:
            subject = microphone_subject(args, desk, logbook, microphone)
        subject = replace(subject, mark=mark_of(args.place, args.gain, args.tag), keep_clips=args.keep_clips)
        no_room_hint(desk, subject.room)
        doubt_room(desk, subject.room, None)
        obedient = args.rehearsal is not None and not args.ask and not args.hands_free
        ways = Ways(
            window_s=args.seconds, live=live, obedient=obedient, hands_free=args.hands_free, theme=args.theme,
            linger_s=_linger_s(args, obedient), play=_player(args), goes_on=args.go_on,
            may_go_on=args.rehearsal is None,
        )
        return tune(subject, desk, logbook, ways)


def _linger_s(args: argparse.Namespace, obedient: bool) -> float | None:
    """Return how long the end stays on the full screen; None: until a key is pressed."""
    if obedient or args.hands_free:
        return 0.0 if args.fast else END_S
    return None


def _player(args: argparse.Namespace) -> Player:
    if not args.cues or args.rehearsal is not None:
        return mute
    from tuner.capture.devices import load_sounddevice

    return Loudspeaker(load_sounddevice())


def tune(subject: Subject, desk: Desk, logbook: Logbook, ways: Ways) -> int:
    """Tune a subject, draw it, and print what it came to."""
    calibrated = subject.offset_db is not None
    floor = subject.room.floor
    coach = Coach(subject.rig, floor)
    if ways.goes_on:
        coach, left = kept_coach(logbook, subject.rig, floor)
        made = coach.summary().moves
        desk.tell(f"going on from session {left}, after {made} moves: what was turned since is not known")
    entry = begin(
        logbook, "tune", subject.name, subject.sample_rate, subject.rig, subject.room, subject.note, calibrated,
        subject.mark,
    )
    typing = ScreenKeeper(OBEYS_AFTER if ways.obedient else None)
    full = TuneScreen(typing, look_of(desk, ways.theme), ways.linger_s) if ways.live else None
    keeper: Keeper = typing
    if full is None:
        keeper = ObedientKeeper() if ways.obedient or ways.hands_free else LineKeeper(desk.keys)
    if ways.hands_free:
        # Without a full screen there is nobody to answer beside the sound.
        keeper = HandsFreeKeeper(typing, subject.sample_rate)
    screen: Screen = StoryScreen(desk.console) if full is None else full
    face = Snapshot(
        title=f"tune {subject.rig.name}", source=subject.name, phase="listening", elapsed_s=0.0, calibrated=calibrated,
        session=entry.id, floor_db=floor.levels.laeq_db if floor else None, is_hands_free=ways.hands_free,
    )
    with entry:
        meter = QuickLevel(subject.sample_rate, subject.offset_db) if full is not None else None
        hearing = Hearing(
            Listener(
                subject.sample_rate, subject.rig, floor, offset_db=subject.offset_db, templates=subject.templates
            ),
            entry, screen, face, meter,
        )
        box = heights_of(subject.rig, standing(subject.rig, np.random.default_rng(0), BOX_DRAWS)) if full else None
        tuning = Tuning(
            coach, subject.ears, keeper, hearing, ways.window_s, play=ways.play, box=box
        )
        if subject.keep_clips:
            hearing.keep_clips(logbook.clip_folder)

        def leave() -> None:
            tuning.leave()
            subject.end()

        def work() -> Tuned:
            tuned = tuning.run()
            entry.close(_outcome(tuned))
            return tuned

        typing.on_quit = leave
        interrupted = False
        try:
            tuned = run_plain(work, leave) if full is None else run_full(full.screen, work, leave)
        except KeyboardInterrupt:
            interrupted = True
            tuned = tuning.so_far()
            entry.close("stopped")
    desk.page(summary_of(tuned, face, entry.id, logbook))
    if ways.may_go_on and (interrupted or tuned.has_quit) and tuned.last is not None:
        keep_coach(logbook, coach, subject.name, subject.sample_rate, entry.id)
        desk.tell("go on    'hushweir tune --go-on' takes it up again from here")
    return INTERRUPTED if interrupted else 0


def _outcome(tuned: Tuned) -> str:
    return "stopped" if tuned.has_quit else "silent" if tuned.summary.tuned else "not silent"


def summary_of(tuned: Tuned, face: Snapshot, session: int, logbook: Logbook) -> TuneSummary:
    """Return what is printed at the end of a tuning."""
    return TuneSummary(
        tuned.summary, tuned.first, tuned.last, tuned.moves, face.calibrated, face.floor_db, session, logbook.path
    )
