"""``hushweir restart``: the rehearsal of a power cut, with its phases from sound alone."""

from __future__ import annotations

import argparse
from contextlib import ExitStack
from dataclasses import asdict
from typing import Any

from tuner.errors import ConfigError, SourceError
from tuner.screens.restartpage import RestartShot
from tuner.screens.snapshot import Snapshot
from tuner.screens.words import duration_text
from tuner.silence.restart import Expectation, Start, expected_restart, findings
from tuner.sound.quick import QuickLevel
from tuner.verbs.desk import INTERRUPTED, Desk
from tuner.verbs.ears import LiveEars, Pace, RehearsalEars
from tuner.verbs.instruments import Instruments
from tuner.verbs.opening import begin, doubt_room, rig_of, room_of, scale_of, simulated_scale
from tuner.verbs.recalled import taught_of
from tuner.verbs.restarting import LineTeller, Place, Restarting, ScreenTeller
from tuner.verbs.restartscreen import RestartScreen
from tuner.verbs.stage import look_of, run_full, run_plain
from tuner.verbs.subjects import rehearsal_room

OFF_S = 60.0  # drain-down is over but for a trickle, and no animal lacks air
MOST_OFF_S = 300.0
END_S = 30.0  # for the end to be read from afar
WATCHED_SPEED = 10.0  # of the simulated rig on a full screen
SAMPLE_RATE = 48_000
CAUTIONS = (
    "stay at the pump's switch all the time, with towels at hand; watch the sump while it takes what drains back, and "
    "switch back on at once if it comes near its rim",
    "the emergency pipe must be free, and nothing in the sump may float before it or the pump's intake",
    "the pumps are off for {off} at a time: fish and filter bear minutes, not hours; no heater may fall dry, air and "
    "flow pumps in the tank go on running",
    "never put hands into the water while a pump is plugged in",
)
NOTHING = ("nothing was heard to the end",)


def run(args: argparse.Namespace, desk: Desk) -> int:
    """Carry out the verb: exit code 0 when it restarts by itself, 1 when not."""
    if args.off > MOST_OFF_S:
        raise ConfigError(f"off={args.off:g} must be at most {MOST_OFF_S:g} seconds: animals and filter need the flow")
    with ExitStack() as stack:
        logbook = stack.enter_context(desk.logbook(args.logbook))
        screen = RestartScreen(END_S) if desk.is_live and not args.plain and not args.json else None
        place = _place(args, desk, logbook, stack, watched=screen is not None)
        if place.room.floor is None:
            raise SourceError("the room with the pumps off must be known: measure it first with 'hushweir floor'")
        name = place.rig.name if place.rig else ""
        earlier = [
            start["catches_s"] for proof in logbook.proofs("restart", device=place.name, rig_name=name)
            for start in proof.body.get("starts", []) if start["catches_s"] is not None
        ]
        entry = stack.enter_context(begin(
            logbook, "restart", place.name, place.sample_rate, place.rig, place.room, "", place.scale.calibrated
        ))
        doubt_room(desk, place.room, None)
        expected = expected_restart(place.rig) if place.rig is not None else None
        cautions = tuple(caution.format(off=duration_text(args.off)) for caution in CAUTIONS)
        if not args.json:
            for caution in cautions:
                desk.tell(f"CAUTION  {caution}")
        told = None
        if screen is not None:
            state = RestartShot(
                _face(place, entry.id), "ready", 1, args.repeats, 0.0, 0.0, expected=expected,
                earlier_s=tuple(earlier), cautions=cautions,
            )
            meter = QuickLevel(place.sample_rate, place.scale.offset_db)
            told = ScreenTeller(Instruments(state.shot, meter), state, screen)
        loop = Restarting(place, args.off, args.repeats, entry, told or LineTeller(desk, quiet=args.json))
        body: dict[str, Any] = {}

        def work() -> None:
            try:
                loop.run()
            finally:
                place.switch(True)
                words = findings(loop.starts, expected, earlier) if loop.starts else NOTHING
                body.update(_body(place.name, args.off, loop, expected, earlier, words))
                restarts = body["restarts_by_itself"]
                try:
                    logbook.keep_proof(
                        "restart", place.name, place.sample_rate, body, name, session=entry.id,
                    )
                    entry.close("restarts by itself" if restarts else "restart not shown")
                finally:  # what was found is the keeper's even when the logbook cannot take it
                    if told is not None:
                        told.ended(words, restarts if loop.starts else None)

        code = 0
        try:
            if screen is None or told is None:
                run_plain(work, loop.leave)
            else:
                run_full(screen.made(look_of(desk, args.theme), told.begin, loop.note, loop.leave), work, loop.leave)
        except KeyboardInterrupt:
            code = INTERRUPTED
        finally:
            if loop.has_left:
                desk.say("switch the pumps ON if they are off")
            if body:
                _tell(body, expected, desk, as_json=args.json)
    return code or (0 if body["restarts_by_itself"] else 1)


def _face(place: Place, session: int) -> Snapshot:
    floor = place.room.floor
    return Snapshot(
        title="restart", source=place.name, phase="listening", elapsed_s=0.0, calibrated=place.scale.calibrated,
        session=session, floor_db=floor.levels.laeq_db if floor else None,
    )


def _body(
    source: str, off_s: float, loop: Restarting, expected: Expectation | None, earlier: list[float],
    words: tuple[str, ...],
) -> dict[str, Any]:
    return {
        "schema": 1, "source": source, "off_s": off_s,
        "starts": [
            {"switched_on_s": on_s} | asdict(start) | {"phases": _phases(start)}
            for on_s, start in zip(loop.switched_on_s, loop.starts, strict=True)
        ],
        "expected_s": asdict(expected) if expected else None, "earlier_catches_s": earlier, "findings": list(words),
        "restarts_by_itself": bool(loop.starts) and all(start.primed for start in loop.starts),
    }


def _phases(start: Start) -> list[dict[str, Any]]:
    return [{"phase": name, "from_s": from_s, "to_s": to_s} for name, from_s, to_s in start.phases]


def _tell(body: dict[str, Any], expected: Expectation | None, desk: Desk, *, as_json: bool) -> None:
    if as_json:
        desk.write_json(body)
        return
    if expected is not None:
        desk.tell(f"expected the siphon catches after {expected.low_s:.0f} to {expected.high_s:.0f} s")
    for word in body["findings"]:
        desk.tell(f"says     {word}")
    reckoned = "from the installation's volumes" if expected else "roughly: a rig file (--rig) tells more"
    desk.tell(f"note     when air begins to be driven out is not heard but reckoned back from the catch, {reckoned}")
    desk.tell("note     a siphon that kept its water while the pumps were off need not start again: its last slurp or"
              " gurgle is then taken for the catch; --off, up to 300 s, lets more drain")
    desk.tell("note     times count from the call to switch on: your hand's second is in them. Sound is no"
              " proof against flooding: watch each start yourself at least once")


def _place(args: argparse.Namespace, desk: Desk, logbook: Any, stack: ExitStack, *, watched: bool) -> Place:
    if args.rehearsal is not None:
        from tuner.rehearsal.cases import draw_case

        rehearsal = draw_case("siphon not purged" if args.clogged else None, args.rehearsal, sample_rate=SAMPLE_RATE)
        scale = simulated_scale(rehearsal.full_scale_offset_db)
        room = rehearsal_room(rehearsal, 30.0)
        pace = Pace(WATCHED_SPEED, desk.seconds, desk.sleep) if watched else None
        ears = RehearsalEars(rehearsal, pace, desk.sleep)
        name = f"rehearsal {args.rehearsal}"
        return Place(name, SAMPLE_RATE, ears, rehearsal.rig, room, scale, rehearsal.pumps)
    from tuner.capture.microphone import Microphone

    microphone = stack.enter_context(Microphone(args.device, args.rate))
    scale = scale_of(logbook, microphone.name)
    room = room_of(args.floor, logbook, microphone.name, microphone.sample_rate, scale.offset_db)
    return Place(
        microphone.name, microphone.sample_rate, LiveEars(microphone), rig_of(args.rig), room, scale, lambda _on: None,
        taught_of(desk, args.rig, microphone.name, microphone.sample_rate), microphone.stop,
    )
