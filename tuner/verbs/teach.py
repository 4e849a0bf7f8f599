"""``hushweir teach``: the rig's own quiet, slurp and gurgle, kept as numbers and used in every later listening."""

from __future__ import annotations

import argparse
from contextlib import ExitStack
from functools import partial
from pathlib import Path
from typing import Any

from tuner.capture.recording import load_recording
from tuner.coach.lesson import Lesson
from tuner.errors import ConfigError
from tuner.logbook.store import Logbook
from tuner.rig import Rig
from tuner.rigfile import load_rig
from tuner.signatures.ears import LOOK_S, looks_of
from tuner.signatures.learning import learn, with_part
from tuner.signatures.listener import measure_floor
from tuner.signatures.model import load_model
from tuner.signatures.taught import PARTS, Taught, Templates, marks, recall
from tuner.signatures.taughtfile import Notebook, load_notebook, save_notebook, taught_path
from tuner.verbs.desk import INTERRUPTED, Desk
from tuner.verbs.ears import Ears, LiveEars, RehearsalEars
from tuner.verbs.keeper import Keeper, LineKeeper, ObedientKeeper
from tuner.verbs.opening import Room, begin, room_of
from tuner.verbs.teaching import Classroom, Teaching, learnt_text

SAMPLE_RATE = 48_000
FLOOR_S = 20.0
SCHEMA = 1
CAUTIONS = (
    "stay at the valve the whole time, with a towel at hand: an edge is never left alone, the valve goes back first",
    "the emergency pipe must be free; if water runs into it, open the siphon at once. Never put hands into the water"
    " while a pump is plugged in",
)
PRIVACY = (
    "only the middle and spread of named features over five seconds each are kept: no audio, and nothing from which"
    " speech could be rebuilt"
)


def run(args: argparse.Namespace, desk: Desk) -> int:
    """Carry out the verb."""
    files = {part: path for part in PARTS if (path := getattr(args, part)) is not None}
    if args.rehearsal is None and args.rig is None:
        raise ConfigError("--rig FILE must be given: what is taught belongs to one rig and lies beside its file")
    if files and (args.rehearsal is not None or args.show or args.forget):
        raise ConfigError("--quiet, --slurp and --gurgle must come alone: they teach from recordings")
    if args.rehearsal is not None:
        return _guided(args, desk, None, None)
    rig, path = load_rig(args.rig), taught_path(args.rig)
    if args.forget:
        return _forget(path, desk)
    notebook = load_notebook(path)
    if args.show:
        return _show(notebook, path, desk, as_json=args.json)
    if files:
        return _from_recordings(files, notebook, path, desk, insist=args.insist)
    return _guided(args, desk, rig, notebook)


def _forget(path: Path, desk: Desk) -> int:
    if not path.exists():
        desk.tell(f"nothing was taught: there is no {path}")
        return 0
    try:
        path.unlink()
    except OSError as error:
        raise ConfigError(f"templates {path} cannot be deleted ({error.strerror}): delete the file yourself") from error
    desk.tell(f"forgotten {path}")
    return 0


def _show(notebook: Notebook | None, path: Path, desk: Desk, *, as_json: bool) -> int:
    if as_json:
        desk.write_json(_as_json(notebook, path))
    elif notebook is None or not notebook.templates.parts:
        desk.tell(f"nothing was taught yet: there is no {path}")
    else:
        _tell_templates(notebook.templates, desk)
        if notebook.valve_away:
            desk.tell("left     half-way: the same command without --show goes on, with the valve first")
        desk.tell(f"kept     in {path}: {PRIVACY}")
    return 0


def _as_json(notebook: Notebook | None, path: Path) -> dict[str, Any]:
    templates = notebook.templates if notebook else None
    body: dict[str, Any] = {"schema": SCHEMA, "file": str(path), "taught": templates is not None, "parts": {}}
    if templates is None or notebook is None:
        return body
    trust = _trust_of(templates)
    body |= {
        "device": templates.device, "sample_rate_hz": templates.sample_rate, "missing": list(templates.missing),
        "usable": templates.usable, "valve_away": notebook.valve_away,
        "parts": {
            name: {
                "made": templates.made.get(name, ""), "seconds": part.total * LOOK_S, "trust": trust.get(name),
                "marks": dict(marks(templates, name)) if name != "quiet" and "quiet" in templates.parts else {},
            }
            for name, part in templates.parts.items()
        },
    }
    return body


def _trust_of(templates: Templates) -> dict[str, float]:
    if not templates.usable:
        return {}
    ready = recall(templates, load_model())
    return {name: round(float(t), 3) for name, t in zip(ready.parts, ready.trust, strict=True)}


def _tell_templates(templates: Templates, desk: Desk) -> None:
    where = f"with {templates.device!r}" if templates.device else "from recordings"
    desk.tell(f"taught   {where} at {templates.sample_rate} Hz")
    trust = _trust_of(templates)
    for name in PARTS:
        if name not in templates.parts:
            desk.tell(f"{name:<8} missing: 'hushweir teach' goes on with it")
            continue
        part = templates.parts[name]
        words = f"{part.total * LOOK_S:g} s, {templates.made.get(name, '')}"
        if name in trust:
            words += f", told from the rest in {50 + 50 * trust[name]:.0f} % of it"
        desk.tell(f"{name:<8} {words}")
        if name != "quiet" and "quiet" in templates.parts:
            told = ", ".join(f"{feature} {by:+.1f}" for feature, by in marks(templates, name))
            desk.tell(f"         against the quiet, in its spreads: {told}")
    if not templates.usable:
        desk.tell("not used yet: the quiet and one sound at least must be taught")


def _from_recordings(
    files: dict[Taught, Path], notebook: Notebook | None, path: Path, desk: Desk, *, insist: bool
) -> int:
    templates = notebook.templates if notebook else None
    code = 0
    for part, file in files.items():
        samples, rate = load_recording(file)
        if templates is not None:
            _same_ears(templates, "", rate)
        learnt = learn(part, looks_of(samples, rate), templates, load_model(), insist=insist)
        if learnt.part is None:
            code = 2
            desk.say(f"{part} from {file}: {learnt.doubt}")
            continue
        if learnt.doubt:
            desk.say(f"{part} from {file}: {learnt.doubt}; kept, because you insist")
        day = f"{desk.clock().astimezone():%Y-%m-%d}"
        templates = with_part(templates, part, learnt.part, device="", sample_rate=rate, day=day)
        save_notebook(Notebook(templates, notebook.valve_away if notebook else 0.0), path)
        desk.tell(f"learnt   {learnt_text(part, learnt)}")
    if templates is not None:
        _tell_templates(templates, desk)
        desk.tell(f"kept     in {path}: {PRIVACY}")
    return code


def _same_ears(templates: Templates, device: str, rate: int) -> None:
    if templates.parts and (templates.device, templates.sample_rate) != (device, rate):
        there = f"{templates.device or 'recordings'} at {templates.sample_rate} Hz"
        raise ConfigError(
            f"this is {device or 'a recording'} at {rate} Hz, the parts taught before are by {there}: use that again,"
            " or 'hushweir teach --forget' first"
        )


def _guided(args: argparse.Namespace, desk: Desk, rig: Rig | None, notebook: Notebook | None) -> int:
    with ExitStack() as stack:
        logbook = stack.enter_context(desk.logbook(args.logbook))
        if args.rehearsal is not None:
            ears, rig, room, rate, device = _rehearsal(args.rehearsal, desk)
            keep = None
        else:
            assert rig is not None
            ears, room, rate, device = _microphone(args, logbook, stack)
            keep = partial(save_notebook, path=taught_path(args.rig))
        if notebook is not None:
            _same_ears(notebook.templates, device, rate)
        parts = _wanted(args, notebook)
        if not parts and not (notebook and notebook.valve_away):
            desk.tell("all three parts are taught: --again PART teaches one anew, --show shows them")
            return 0
        for caution in CAUTIONS:
            desk.tell(f"CAUTION  {caution}")
        obedient = args.rehearsal is not None and not args.ask
        keeper: Keeper = ObedientKeeper() if obedient else LineKeeper(desk.keys)
        entry = stack.enter_context(begin(logbook, "teach", device, rate, rig, room, "", False))
        day = f"{desk.clock().astimezone():%Y-%m-%d}"
        classroom = Classroom(ears, keeper, desk, entry, rate, device, keep, day, args.insist)
        lesson = Lesson(rig, notebook.valve_away if notebook else 0.0, room.floor)
        teaching = Teaching(classroom, lesson, notebook)
        done: tuple[Taught, ...] = ()
        code = 0
        try:
            done = teaching.run(parts)
        except KeyboardInterrupt:
            code = INTERRUPTED
        entry.close(", ".join(done) or "nothing learnt")
        _conclude(teaching, args, desk, left=bool(code) or keeper.has_quit)
    return code or (0 if set(parts) <= set(done) or keeper.has_quit else 1)


def _conclude(teaching: Teaching, args: argparse.Namespace, desk: Desk, *, left: bool) -> None:
    if left:
        if text := teaching.away_text():
            desk.say(text)
        if args.rehearsal is None:
            desk.tell("left     what was learnt is kept; the same command goes on from here")
    if teaching.notebook is not None and teaching.notebook.templates.parts:
        _tell_templates(teaching.notebook.templates, desk)
    where = "nowhere: it was a rehearsal" if args.rehearsal is not None else f"in {taught_path(args.rig)}: {PRIVACY}"
    desk.tell(f"kept     {where}")


def _wanted(args: argparse.Namespace, notebook: Notebook | None) -> tuple[Taught, ...]:
    missing = notebook.templates.missing if notebook else PARTS
    return tuple(part for part in PARTS if part in missing or part in args.again)


def _rehearsal(seed: int, desk: Desk) -> tuple[Ears, Rig, Room, int, str]:
    from tuner.rehearsal.cases import draw_case

    rehearsal = draw_case(None, seed, sample_rate=SAMPLE_RATE)
    floor = measure_floor(rehearsal.floor(FLOOR_S), SAMPLE_RATE)
    room = Room(floor, None, "measured on the rehearsal rig")
    return RehearsalEars(rehearsal, None, desk.sleep), rehearsal.rig, room, SAMPLE_RATE, f"rehearsal {seed}"


def _microphone(args: argparse.Namespace, logbook: Logbook, stack: ExitStack) -> tuple[Ears, Room, int, str]:
    from tuner.capture.microphone import Microphone

    microphone = stack.enter_context(Microphone(args.device, args.rate))
    room = room_of(args.floor, logbook, microphone.name, microphone.sample_rate)
    return LiveEars(microphone), room, microphone.sample_rate, microphone.name
