"""``hushweir mic``: the microphones that there are."""

from __future__ import annotations

import argparse
from dataclasses import asdict

from tuner.capture.devices import choose_input, list_inputs, load_sounddevice
from tuner.logbook.file import default_path
from tuner.logbook.store import Logbook
from tuner.verbs.desk import Desk

NEVER_TRIED = "never tried"


def run(args: argparse.Namespace, desk: Desk) -> int:
    """Carry out the verb."""
    library = load_sounddevice()
    devices = list_inputs(library)
    kept = _kept(args, desk, tuple(device.name for device in devices))
    if args.json:
        listed = [asdict(device) | {"known": kept.get(device.name, "")} for device in devices]
        desk.write_json({"schema": 1, "inputs": listed})
        return 0
    if not devices:
        choose_input(None, library)  # raises, with what to do on this system
    for device in devices:
        mark = "*" if device.is_default else " "
        desk.console.print(
            f"{mark} {device.index:>3}  {device.name}  ({device.host_api}, {device.channels} channels, "
            f"{device.default_rate_hz} Hz): {kept.get(device.name, NEVER_TRIED)}",
            soft_wrap=True,
        )
    desk.tell("* is taken when none is named; name another with --device NUMBER or part of its name")
    desk.tell("'hushweir mic check' tries one, 'hushweir mic calibrate' turns its levels into sound pressure levels")
    return 0


def _kept(args: argparse.Namespace, desk: Desk, names: tuple[str, ...]) -> dict[str, str]:
    """Return what the logbook knows of each device, in words."""
    path = args.logbook or default_path()
    if not path.is_file():
        return {}
    with Logbook(path, clock=desk.clock, look_only=True) as logbook:
        return {name: words for name in names if (words := _known(logbook, name))}


def _known(logbook: Logbook, name: str) -> str:
    words = []
    for proof in logbook.proofs("microphone check", device=name, newest=1):
        faults = ", ".join(fault["fault"] for fault in proof.body.get("chain", {}).get("faults", ()))
        found = "honest" if proof.body.get("honest") else faults or "not put to the test"
        words.append(f"checked {proof.made.astimezone():%d %B %Y: }{found}")
    for proof in logbook.proofs("calibration", device=name, newest=1):
        words.append(f"calibrated {proof.made.astimezone():%d %B %Y} by {proof.body.get('method', 'hand')}")
    return "; ".join(words)
