"""``hushweir mic``: the microphones that there are."""

from __future__ import annotations

import argparse
from dataclasses import asdict

from tuner.capture.devices import list_inputs, load_sounddevice
from tuner.errors import SourceError
from tuner.verbs.desk import Desk


def run(args: argparse.Namespace, desk: Desk) -> int:
    """Carry out the verb."""
    devices = list_inputs(load_sounddevice())
    if args.json:
        desk.write_json({"schema": 1, "inputs": [asdict(device) for device in devices]})
        return 0
    if not devices:
        raise SourceError("no microphone was found: plug one in, and allow this terminal to use it")
    for device in devices:
        mark = "*" if device.is_default else " "
        desk.console.print(
            f"{mark} {device.index:>3}  {device.name}  ({device.host_api}, {device.channels} channels, "
            f"{device.default_rate_hz} Hz)",
            soft_wrap=True,
        )
    desk.console.print("* is taken when none is named; name another with --device NUMBER or part of its name")
    return 0
