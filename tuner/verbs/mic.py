"""``hushweir mic``: the microphones that there are."""

from __future__ import annotations

import argparse
from dataclasses import asdict

from tuner.capture.devices import choose_input, list_inputs, load_sounddevice
from tuner.verbs.desk import Desk


def run(args: argparse.Namespace, desk: Desk) -> int:
    """Carry out the verb."""
    library = load_sounddevice()
    devices = list_inputs(library)
    if args.json:
        desk.write_json({"schema": 1, "inputs": [asdict(device) for device in devices]})
        return 0
    if not devices:
        choose_input(None, library)  # raises, with what to do on this system
    for device in devices:
        mark = "*" if device.is_default else " "
        desk.console.print(
            f"{mark} {device.index:>3}  {device.name}  ({device.host_api}, {device.channels} channels, "
            f"{device.default_rate_hz} Hz)",
            soft_wrap=True,
        )
    desk.tell("* is taken when none is named; name another with --device NUMBER or part of its name")
    return 0
