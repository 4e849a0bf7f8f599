"""The command line: what there is to ask for, and how errors and interruptions end.

Only the parser is made here; the module of a verb, and with it numpy and everything else, is imported when the
verb is carried out.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from importlib import import_module
from pathlib import Path
from typing import Any

from tuner.clihistory import MORE_ON_COMPARE, MORE_ON_REPORT, add_compare, add_report
from tuner.clilog import add_log
from tuner.clinumbers import count as _count
from tuner.clinumbers import seconds as _seconds
from tuner.clinumbers import seed as _seed
from tuner.clinumbers import window as _window
from tuner.clioptions import add_knowledge as _add_knowledge
from tuner.clioptions import add_logbook as _add_logbook
from tuner.clioptions import add_marks as _add_marks
from tuner.clioptions import add_microphone as _add_microphone
from tuner.clioptions import add_plain as _add_plain

INTERRUPTED = 130

_ABOUT = """\
Hears which drain of an aquarium overflow makes the noise, says why, and gives the next small move (valve, vent
or pump speed) until it is silent. Alone it tells what is there, what is missing, and what to do next.
"""
_CAUTION = """\
Caution: before anything else make sure that the dry emergency pipe is free and that the sump can take what drains
when the pumps stop. Never put hands into the water while a pump is plugged in.
"""


def version() -> str:
    """Return the version of the installed program."""
    from importlib.metadata import PackageNotFoundError
    from importlib.metadata import version as installed

    try:
        return installed("hushweir")
    except PackageNotFoundError:
        return "not installed"


def build_parser() -> argparse.ArgumentParser:
    """Return the parser of the whole command line."""
    parser = argparse.ArgumentParser(
        prog="hushweir", description=_ABOUT, epilog=_CAUTION, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--version", action="store_true", help="print the version and end")
    parser.set_defaults(module="welcome")  # what there is to do, for who names no verb
    verbs = parser.add_subparsers(title="verbs", metavar="VERB")
    _add_demo(verbs)
    _add_listen(verbs)
    _add_locate(verbs)
    _add_tune(verbs)
    _add_analyse(verbs)
    _add_floor(verbs)
    _add_rig(verbs)
    _add_flow(verbs)
    _add_log(verbs)
    _add_compare(verbs)
    _add_report(verbs)
    _add_mic(verbs)
    _add_confirm(verbs)
    _add_restart(verbs)
    _add_teach(verbs)
    return parser


def _verb(verbs: Any, name: str, module: str, words: str, more: str = "") -> argparse.ArgumentParser:
    parser: argparse.ArgumentParser = verbs.add_parser(
        name, help=words, description=f"{words[0].upper()}{words[1:]}. {more}".rstrip()
    )
    parser.set_defaults(module=module)
    return parser


def _add_demo(verbs: Any) -> None:
    demo = _verb(
        verbs, "demo", "demo", "watch a simulated overflow being tuned to silence",
        "It needs no microphone, no tank and no terminal.",
    )
    _add_logbook(demo, "write the demo's log to this file instead of a temporary one")


def _add_listen(verbs: Any) -> None:
    listen = _verb(
        verbs, "listen", "listen", "listen and say what is heard, how loud it is, and the likely cause",
        "q or Ctrl-C ends it; everything is kept in the logbook, without audio unless --keep-clips asks for some.",
    )
    _add_microphone(listen)
    source = listen.add_mutually_exclusive_group()
    source.add_argument("--file", type=Path, metavar="FILE", help="listen to a recording instead, in real time")
    source.add_argument(
        "--rehearsal", type=_seed, metavar="SEED", help="listen to the simulated rig of this number instead"
    )
    listen.add_argument("--fast", action="store_true", help="do not keep real time with --file or --rehearsal")
    listen.add_argument("--seconds", type=_seconds, metavar="N", help="end after N seconds (default: go on)")
    _add_knowledge(listen)
    _add_marks(listen)
    listen.add_argument("--note", default="", metavar="TEXT", help="words to keep with the session in the logbook")
    _add_plain(listen)
    _add_logbook(listen)


def _add_locate(verbs: Any) -> None:
    locate = _verb(
        verbs, "locate", "locate", "find which pipe it is: hold the microphone close to one place after the other",
        "The same microphone, a few seconds at each: siphon, open channel, emergency, overflow box, sump, pump, return;"
        " in any order, as often as you like, and any of them may be left out.",
    )
    _add_microphone(locate)
    source = locate.add_mutually_exclusive_group()
    source.add_argument(
        "--at", action="append", metavar="PLACE=FILE", help="use a recording made at a place; once for each recording"
    )
    source.add_argument("--rehearsal", type=_seed, metavar="SEED", help="scan the simulated rig of this number instead")
    locate.add_argument("--ask", action="store_true", help="with --rehearsal: wait for your keys at each place")
    locate.add_argument("--cup", action="store_true", help="with --rehearsal: with a cup pressed against the pipe")
    locate.add_argument("--rounds", type=_count, metavar="N", default=1, help="with --rehearsal: scan N times over")
    locate.add_argument("--seconds", type=_seconds, metavar="N", default=3.0, help="seconds a place (default: 3)")
    locate.add_argument("--rig", type=Path, metavar="FILE", help="the description of your installation")
    locate.add_argument("--json", action="store_true", help="print one JSON object")
    _add_logbook(locate)


def _add_tune(verbs: Any) -> None:
    tune = _verb(
        verbs, "tune", "tunestart", "be guided, one small move at a time, until it is silent",
        "Each round listens, names the cause, shows one move in large letters and waits for it to be done.",
    )
    _add_microphone(tune)
    tune.add_argument(
        "--rehearsal", type=_seed, metavar="SEED", help="tune the simulated rig of this number; it moves by itself"
    )
    tune.add_argument("--ask", action="store_true", help="with --rehearsal: wait for you instead of moving by itself")
    tune.add_argument("--go-on", action="store_true", help="go on with the last tuning of this rig that was left")
    tune.add_argument("--fast", action="store_true", help="with --rehearsal: do not slow down to be watched")
    tune.add_argument(
        "--hands-free", action="store_true", help="go on by itself when it hears that a move was made; no key is needed"
    )
    tune.add_argument(
        "--cues", action="store_true", help="sound two or three notes when a move is due, was noticed, and at the end"
    )
    tune.add_argument(
        "--seconds", type=_window, metavar="N", default=20.0, help="listen for N seconds each time (default: 20)"
    )
    _add_knowledge(tune)
    _add_marks(tune)
    _add_plain(tune)
    _add_logbook(tune)


def _add_analyse(verbs: Any) -> None:
    analyse = _verb(
        verbs, "analyse", "analyse", "say what recordings hold: sounds, levels, cause and next move",
        "WAV, FLAC, OGG and MP3 files of any rate and channel count.",
    )
    analyse.add_argument("files", nargs="+", type=Path, metavar="FILE", help="a recording")
    analyse.add_argument("--json", action="store_true", help="print one JSON object a file, each on one line")
    analyse.add_argument(
        "--device", metavar="NAME", help="the calibrated microphone that recorded them: levels are then dB re 20 µPa"
    )
    _add_knowledge(analyse)
    _add_logbook(analyse, "the logbook that holds the microphone's calibration (default: in your data folder)")


def _add_floor(verbs: Any) -> None:
    floor = _verb(
        verbs, "floor", "floor", "measure the room with the pumps off, so that silence can be told from noise",
        "The figure is kept in the logbook for this microphone and is used from then on. A rehearsal of another verb"
        " measures its own room.",
    )
    _add_microphone(floor)
    floor.add_argument("--file", type=Path, metavar="FILE", help="measure a recording instead; nothing is kept")
    floor.add_argument("--seconds", type=_window, metavar="N", default=30.0, help="listen for N seconds (default: 30)")
    floor.add_argument("--json", action="store_true", help="print one JSON object")
    floor.add_argument("--place", default="", metavar="TEXT", help="where the microphone stands, in your words")
    _add_logbook(floor)


def _add_rig(verbs: Any) -> None:
    rig = _verb(verbs, "rig", "rigs", "describe your installation in a file, check it, add what was measured")
    parts = rig.add_subparsers(title="what to do", metavar="WHAT", dest="rig_verb", required=True)
    new = parts.add_parser(
        "new", help="be asked for the installation, question by question",
        description="Ask for the installation, question by question; Enter means: I do not know. Ctrl-C or Ctrl-D leave"
        " what was answered in the file, and the same command goes on there.",
    )
    new.add_argument(
        "file", type=Path, nargs="?", default=Path("my-rig.toml"), metavar="FILE",
        help="the file to write (default: my-rig.toml)",
    )
    new.add_argument("--force", action="store_true", help="begin anew, even if the file is there already")
    new.add_argument("--us", action="store_true", help="take bare numbers as inches, gallons and gph")
    check = parts.add_parser(
        "check", help="say what is missing or implausible in a rig file, and what to measure first",
        description="Say what is missing or implausible in a rig file, and which assumed figure to measure first.",
    )
    check.add_argument("file", type=Path, metavar="FILE", help="the rig file")
    _add_us(check)
    check.add_argument("--json", action="store_true", help="print one JSON object")
    _add_fit(parts)
    parts.add_parser("example", help="print an example that explains every field",
                     description="Print an example that explains every field.")


def _add_fit(parts: Any) -> None:
    fit = parts.add_parser(
        "fit", help="add facts measured on the running installation, and show what they gain",
        description="Add facts measured on the running installation to its file, and show the quiet window's bands"
        " before and after. Settings count from closed, in turns or degrees.",
    )
    fit.add_argument("file", type=Path, metavar="FILE", help="the rig file")
    fit.add_argument("--just-slurps-at", metavar="SETTING", help='the setting at which it just slurps: "2 1/8 turns"')
    fit.add_argument("--just-gurgles-at", metavar="SETTING", help="the setting at which it just gurgles")
    fit.add_argument("--slurp-period", metavar="TIME", help='from one gulp to the next, with --at: "12 s"')
    fit.add_argument("--bucket", metavar="VOLUME", help='what was caught in a bucket, with --in and --pipe: "10 L"')
    fit.add_argument("--in", dest="in_time", metavar="TIME", help='how long the bucket took to fill: "9.5 s"')
    fit.add_argument("--pipe", metavar="PIPE", help="what ran into it: return (default), siphon or open channel")
    fit.add_argument("--at", metavar="SETTING", help="how far the siphon valve was open at that moment")
    fit.add_argument("--speed", metavar="SHARE", help="the pumps' speed at that moment, if another: '80 %%'")
    fit.add_argument("--forget", metavar="N", help='take fact number N out of the file, or "all"')
    _add_us(fit)
    fit.add_argument("--json", action="store_true", help="print one JSON object")


def _add_flow(verbs: Any) -> None:
    flow = _verb(
        verbs, "flow", "flow", "tell whether each pipe is big enough, how wide the quiet window is, and what floods",
        "Everything is computed from the rig file, as bands; assumed figures are marked with '?'.",
    )
    flow.add_argument("file", type=Path, metavar="FILE", help="the rig file ('hushweir rig new' writes one)")
    _add_us(flow)
    flow.add_argument("--all", action="store_true", help="print the flood check without waiting for a key")
    flow.add_argument("--json", action="store_true", help="print one JSON object")


def _add_us(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--us", action="store_true", help="show inches, gallons and gph")


def _add_log(verbs: Any) -> None:
    log = _verb(
        verbs, "log", "logs", "list, show, note, tag, export, import and delete sessions; their trend over months"
    )
    add_log(log)


def _add_compare(verbs: Any) -> None:
    add_compare(_verb(
        verbs, "compare", "compare", "tell before from after: how much quieter, which sounds are gone, what was done",
        MORE_ON_COMPARE,
    ))


def _add_report(verbs: Any) -> None:
    words = "write before and after, or one session, as a page to share: one HTML file"
    add_report(_verb(verbs, "report", "report", words, MORE_ON_REPORT))


def _add_mic(verbs: Any) -> None:
    mic = _verb(verbs, "mic", "mic", "list the microphones, check one, or calibrate one")
    mic.add_argument("--json", action="store_true", help="print one JSON object")
    _add_logbook(mic)
    parts = mic.add_subparsers(title="what to do", metavar="WHAT")
    check = parts.add_parser(
        "check", help="find out whether a microphone's chain can be trusted",
        description="Try a microphone with quiet, loud and quiet sound, for gain control, noise suppression, gates and"
        " clipping. Exit code 1 when it is not to be trusted; nothing is called silent with such a chain.",
    )
    check.set_defaults(module="mic_check")
    _add_microphone(check)
    check.add_argument("--file", type=Path, metavar="FILE", help="try the chain of a recording of quiet, loud, quiet")
    steps = check.add_mutually_exclusive_group()
    steps.add_argument("--speaker", action="store_true", help="play the noise, and a tone in 10 dB steps")
    steps.add_argument("--steps", type=Path, metavar="FILE", help="with --file: a recording of such a tone")
    calibrate = parts.add_parser(
        "calibrate", help="turn levels re full scale into sound pressure levels",
        description="Calibrate by an acoustic calibrator (1 kHz), or by what another meter reads for a steady sound.",
    )
    calibrate.set_defaults(module="mic_calibrate")
    _add_microphone(calibrate)
    calibrate.add_argument("--calibrator", type=float, metavar="DB", help="the calibrator's level: 94 or 114")
    calibrate.add_argument("--meter", type=float, metavar="DB", help="what the other meter reads, in dB(A)")
    calibrate.add_argument("--file", type=Path, metavar="FILE", help="use a recording; nothing is kept")
    for part in (check, calibrate):
        part.add_argument("--json", action="store_true", default=argparse.SUPPRESS, help="print one JSON object")
        _add_logbook(part, default=argparse.SUPPRESS)


def _add_confirm(verbs: Any) -> None:
    confirm = _verb(
        verbs, "confirm", "confirm", "prove silence: listen, and end in silent, audible or not shown",
        "The verdict says what it rests on and what it cannot show. Exit code: 0 silent, 1 audible, 3 not shown.",
    )
    _add_microphone(confirm)
    source = confirm.add_mutually_exclusive_group()
    source.add_argument("--file", type=Path, metavar="FILE", help="judge a recording instead")
    source.add_argument("--rehearsal", type=_seed, metavar="SEED", help="judge the simulated rig of this number, tuned")
    confirm.add_argument("--noisy", action="store_true", help="with --rehearsal: out of tune")
    confirm.add_argument(
        "--check", type=Path, metavar="FILE", help="with --file: a recording of quiet, loud, quiet by the same recorder"
    )
    length = confirm.add_mutually_exclusive_group()
    length.add_argument("--quick", action="store_true", help="listen for 2 minutes instead of 15")
    length.add_argument(
        "--overnight", action="store_true", help="listen for 8 hours; Ctrl-C ends it with what is shown by then"
    )
    length.add_argument("--seconds", type=_window, metavar="N", help="listen for N seconds")
    _add_knowledge(confirm)
    _add_marks(confirm)
    confirm.add_argument("--certificate", type=Path, metavar="FILE", help="write the certificate, one page of text")
    confirm.add_argument("--note", default="", metavar="TEXT", help="words to keep with it")
    confirm.add_argument("--json", action="store_true", help="print one JSON object")
    _add_plain(confirm)
    _add_logbook(confirm)


def _add_restart(verbs: Any) -> None:
    restart = _verb(
        verbs, "restart", "restart", "rehearse a power cut: does it start by itself, how fast, and is it quiet then",
        "You switch the pumps off and on when it says so, three times. Exit code 1 when it does not start by itself.",
    )
    _add_microphone(restart)
    restart.add_argument("--rehearsal", type=_seed, metavar="SEED", help="rehearse on the simulated rig of this number")
    restart.add_argument("--clogged", action="store_true", help="with --rehearsal: its bleed hole is clogged")
    restart.add_argument("--repeats", type=_count, metavar="N", default=3, help="starts (default: 3)")
    restart.add_argument(
        "--off", type=_window, metavar="N", default=60.0, help="seconds without pumps (default: 60, at most 300)"
    )
    _add_knowledge(restart)
    restart.add_argument("--json", action="store_true", help="print one JSON object")
    _add_plain(restart)
    _add_logbook(restart)


def _add_teach(verbs: Any) -> None:
    teach = _verb(
        verbs, "teach", "teach", "let the ears learn this rig's own quiet, slurp and gurgle",
        "On a tuned rig you turn the siphon's valve a little as it says; each sound is heard for half a minute, and the"
        " valve goes back. Only numbers are kept, beside the rig's file; every later listening with --rig uses them."
        " Leave it when you like: the same command goes on from there.",
    )
    _add_microphone(teach)
    _add_knowledge(teach)
    source = teach.add_mutually_exclusive_group()
    source.add_argument("--rehearsal", type=_seed, metavar="SEED", help="teach the simulated rig of this number, tuned")
    source.add_argument("--show", action="store_true", help="show what was taught")
    source.add_argument("--forget", action="store_true", help="delete what was taught")
    teach.add_argument("--ask", action="store_true", help="with --rehearsal: wait for you instead of moving by itself")
    teach.add_argument(
        "--again", action="append", choices=("quiet", "slurp", "gurgle"), metavar="PART", default=[],
        help="teach this part anew: quiet, slurp or gurgle (may be given more than once)",
    )
    for part in ("quiet", "slurp", "gurgle"):
        teach.add_argument(f"--{part}", type=Path, metavar="FILE", help=f"learn the {part} from a recording instead")
    teach.add_argument("--insist", action="store_true", help="keep a part although it sounds like something else")
    teach.add_argument("--json", action="store_true", help="with --show: print one JSON object")
    _add_logbook(teach)


def main(argv: Sequence[str] | None = None) -> int:
    """Carry out a command line and return its exit code.

    0 when all went well, 2 after an error of use or of a source (one line says which), 130 after Ctrl-C.
    """
    parser = build_parser()
    args = parser.parse_args(argv)
    if args.version:
        print(f"hushweir {version()}")  # noqa: T201 - nothing heavier is needed for one word
        return 0
    from tuner.errors import HushweirError

    try:
        from tuner.verbs.desk import make_desk

        desk = make_desk()
        try:
            code: int = import_module(f"tuner.verbs.{args.module}").run(args, desk)
            sys.stdout.flush()
        except HushweirError as error:
            sys.stdout.flush()
            desk.fail(error)
            code = 2
        return code
    except KeyboardInterrupt:
        return INTERRUPTED
    except BrokenPipeError:
        # Whoever read the output has gone: what Python would flush at its end must not complain about that.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
