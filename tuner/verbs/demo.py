"""``hushweir demo``: the main job on the rehearsal rig, without a microphone, a tank or a terminal."""

from __future__ import annotations

import argparse
import tempfile
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path

from rich.text import Text

from tuner.screens import panels
from tuner.screens.lines import canvas_of
from tuner.verbs.desk import Desk
from tuner.verbs.ears import Pace
from tuner.verbs.subjects import rehearsal_of, rehearsal_subject
from tuner.verbs.tune import Ways, tune

STORY = (
    "The Marlow household has a tank in the living room, called Kelpie. Its overflow was quiet until a hand brushed "
    "the siphon's valve while the sump was cleaned; now nobody can read beside it. Kelpie is simulated: water, pipes, "
    "bubbles, room and microphone. Hushweir gets the sound and the keeper's measures, never the simulated truth, and "
    "simulated minutes pass in seconds."
)
NAME = "Kelpie"
SEED = 56016
WINDOW_S = 20.0
SPEED = 20.0  # on a terminal, where somebody reads along


def run(args: argparse.Namespace, desk: Desk) -> int:
    """Carry out the verb."""
    with ExitStack() as stack:
        path = args.logbook or Path(tempfile.mkdtemp(prefix="hushweir-demo-")) / "logbook.sqlite"
        logbook = stack.enter_context(desk.logbook(path))
        canvas = canvas_of(desk.console)
        for line in panels.wrapped("story", STORY, canvas):
            desk.console.print(line, soft_wrap=True)
        desk.console.print(Text(""))
        pace = Pace(SPEED, desk.seconds, desk.sleep) if desk.console.is_terminal else None
        drawn = rehearsal_subject(rehearsal_of(SEED), pace, desk, "the rehearsal rig")
        subject = replace(drawn, rig=replace(drawn.rig, name=NAME))
        return tune(subject, desk, logbook, Ways(WINDOW_S, obedient=True))
