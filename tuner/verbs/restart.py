"""``hushweir restart``: the rehearsal of a power cut, with its phases from sound alone."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import asdict, dataclass
from typing import Any

from tuner.errors import ConfigError, SourceError
from tuner.logbook.entry import Entry
from tuner.rig import Rig
from tuner.screens.words import clock_text, duration_text
from tuner.signatures.listener import Listener, measure_floor
from tuner.signatures.taught import Templates
from tuner.silence.restart import LONGEST_S, STEADY_S, Start, expected_restart, find_start, findings
from tuner.terms import Block, Moment
from tuner.verbs.desk import INTERRUPTED, Desk
from tuner.verbs.ears import Ears, LiveEars, RehearsalEars
from tuner.verbs.opening import RELATIVE, Room, Scale, begin, doubt_room, rig_of, room_of, scale_of
from tuner.verbs.recalled import taught_of

OFF_S = 60.0  # drain-down is over but for a trickle, and no animal lacks air
MOST_OFF_S = 300.0
CHUNK_S = 10.0
SAMPLE_RATE = 48_000
CAUTIONS = (
    "stay at the pump's switch all the time, with towels at hand; watch the sump while it takes what drains back, and "
    "switch back on at once if it comes near its rim",
    "the emergency pipe must be free, and nothing in the sump may float before it or the pump's intake",
    "the pumps are off for {off} at a time: fish and filter bear minutes, not hours; no heater may fall dry, air and "
    "flow pumps in the tank go on running",
    "never put hands into the water while a pump is plugged in",
)


@dataclass(frozen=True, slots=True)
class Place:
    """What is started: ears, the installation, the room, and how the pumps are switched."""

    name: str
    sample_rate: int
    ears: Ears
    rig: Rig | None
    room: Room
    scale: Scale
    switch: Callable[[bool], None]
    templates: Templates | None = None


def run(args: argparse.Namespace, desk: Desk) -> int:
    """Carry out the verb: exit code 0 when it restarts by itself, 1 when not."""
    if args.off > MOST_OFF_S:
        raise ConfigError(f"off={args.off:g} must be at most {MOST_OFF_S:g} seconds: animals and filter need the flow")
    starts: list[Start] = []
    with ExitStack() as stack:
        logbook = stack.enter_context(desk.logbook(args.logbook))
        place = _place(args, desk, logbook, stack)
        if place.room.floor is None:
            raise SourceError("the room with the pumps off must be known: measure it first with 'hushweir floor'")
        earlier = [
            start["catches_s"]
            for proof in logbook.proofs("restart", device=place.name, rig_name=place.rig.name if place.rig else "")
            for start in proof.body["starts"] if start["catches_s"] is not None
        ]
        entry = stack.enter_context(begin(
            logbook, "restart", place.name, place.sample_rate, place.rig, place.room, "", place.scale.calibrated
        ))
        doubt_room(desk, place.room, None)
        if not args.json:
            for caution in CAUTIONS:
                desk.tell(f"CAUTION  {caution.format(off=duration_text(args.off))}")
        code = 0
        try:
            for number in range(1, args.repeats + 1):
                starts.append(_one(place, args.off, number, entry, desk, quiet=args.json))
        except KeyboardInterrupt:
            code = INTERRUPTED
            desk.say("switch the pumps ON if they are off")
        finally:
            place.switch(True)
        expected = expected_restart(place.rig) if place.rig is not None else None
        words = findings(starts, expected, earlier) if starts else ("nothing was heard to the end",)
        body: dict[str, Any] = {
            "schema": 1, "source": place.name, "off_s": args.off,
            "starts": [asdict(start) | {"phases": _phases(start)} for start in starts],
            "expected_s": asdict(expected) if expected else None, "earlier_catches_s": earlier, "findings": list(words),
            "restarts_by_itself": bool(starts) and all(start.primed for start in starts),
        }
        logbook.keep_proof(
            "restart", place.name, place.sample_rate, body, place.rig.name if place.rig else "", session=entry.id,
        )
        entry.close("restarts by itself" if body["restarts_by_itself"] else "restart not shown")
        if args.json:
            desk.write_json(body)
        else:
            if expected is not None:
                desk.tell(f"expected the siphon catches after {expected.low_s:.0f} to {expected.high_s:.0f} s")
            for word in words:
                desk.tell(f"says     {word}")
            desk.tell("note     times count from the call to switch on: your hand's second is in them. Sound is no"
                      " proof against flooding: watch each start yourself at least once")
    return code or (0 if body["restarts_by_itself"] else 1)


def _phases(start: Start) -> list[dict[str, Any]]:
    return [{"phase": name, "from_s": from_s, "to_s": to_s} for name, from_s, to_s in start.phases]


def _one(place: Place, off_s: float, number: int, entry: Entry, desk: Desk, *, quiet: bool) -> Start:
    """Carry out one stop and one start."""
    floor = place.room.floor
    assert floor is not None
    listener = Listener(place.sample_rate, place.rig, floor, offset_db=place.scale.offset_db, templates=place.templates)
    if not quiet:
        desk.tell(f"start {number}  switch the pumps OFF now")
    place.switch(False)
    for _ in _heard(place.ears.listen(off_s), listener, entry):
        pass
    drained = listener.flush()
    listener.reset()
    if not quiet:
        desk.tell(f"         drained for {duration_text(off_s)}, {len(drained)} sounds; switch the pumps ON now")
    place.switch(True)
    moments: list[Moment] = []
    heard_s = 0.0
    start: Start | None = None
    while heard_s < LONGEST_S:
        for new in _heard(place.ears.listen(CHUNK_S), listener, entry):
            moments.extend(new)
        heard_s += CHUNK_S
        if heard_s < 30.0:
            continue
        start = find_start(moments, floor, 0.0)
        # A film that settles late may yet be heard: quiet has to last.
        if start.quiet_s is not None and start.heard_s - start.quiet_s >= 2.0 * STEADY_S:
            break
    if start is None:
        raise SourceError(f"{place.name} gave no sound after the start: check the microphone")
    if not quiet:
        for name, from_s, to_s in start.phases:
            desk.tell(f"         {clock_text(from_s)} to {clock_text(to_s)}  {name}")
        if start.catches_s is None:
            desk.tell("         the siphon did not catch while one listened")
    return start


def _heard(blocks: Iterator[Block], listener: Listener, entry: Entry) -> Iterator[tuple[Moment, ...]]:
    for block in blocks:
        if block.dropped:
            listener.gap(block.dropped)
            entry.gap(block.start_s - block.dropped / block.sample_rate, block.dropped / block.sample_rate, block.note)
        listener.feed(block.samples)
        yield listener.moments()


def _place(args: argparse.Namespace, desk: Desk, logbook: Any, stack: ExitStack) -> Place:
    if args.rehearsal is not None:
        from tuner.rehearsal.cases import draw_case

        rehearsal = draw_case("siphon not purged" if args.clogged else None, args.rehearsal, sample_rate=SAMPLE_RATE)
        floor = measure_floor(rehearsal.floor(30.0), SAMPLE_RATE)
        room = Room(floor, None, "measured on the rehearsal rig")
        ears = RehearsalEars(rehearsal, None, lambda _seconds: None)
        name = f"rehearsal {args.rehearsal}"
        return Place(name, SAMPLE_RATE, ears, rehearsal.rig, room, RELATIVE, rehearsal.pumps)
    from tuner.capture.microphone import Microphone

    microphone = stack.enter_context(Microphone(args.device, args.rate))
    scale = scale_of(logbook, microphone.name)
    room = room_of(args.floor, logbook, microphone.name, microphone.sample_rate, scale.offset_db)
    return Place(
        microphone.name, microphone.sample_rate, LiveEars(microphone), rig_of(args.rig), room, scale, lambda _on: None,
        taught_of(desk, args.rig, microphone.name, microphone.sample_rate),
    )
