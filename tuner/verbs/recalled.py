"""What was taught of a rig, for the verbs that listen: found beside the rig's file, and told of in one line."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from tuner.errors import ConfigError
from tuner.signatures.model import load_model
from tuner.signatures.taught import Templates, recall, suited
from tuner.signatures.taughtfile import load_templates
from tuner.verbs.desk import Desk

LEAST_LIKE = 0.05  # of the time
UNSURE_WEIGHT = 0.5  # of templates by a microphone, for a recording by nobody knows which


def taught_of(
    desk: Desk, rig_path: Path | None, device: str | None, sample_rate: int, named: str | None = None
) -> Templates | None:
    """Return what was taught of a rig and say that it is used, or why not; None where nothing is to be used.

    ``device`` is the microphone that listens now, None for a recording; ``named`` is (part of) the name of the
    microphone that made the recording, where the keeper gave it.
    """
    try:
        templates = None if rig_path is None else load_templates(rig_path)
        if templates is None:
            return None
        trust = recall(templates, load_model()).trust
    except ConfigError as error:
        desk.say(f"hearing without what was taught: {error}")
        return None
    if device is None and named is not None:
        device = templates.device if named.lower() in templates.device.lower() else named
    reason = suited(templates, device, sample_rate)
    if not reason and not trust.any():
        reason = "the taught sounds cannot be told apart: teach again"
    if reason:
        desk.say(f"hearing without what was taught: {reason}")
        return None
    days = ", ".join(f"{name} {day}" for name, day in templates.made.items())
    if device is None and templates.device:
        desk.say(f"hearing at half weight by what was taught ({days}): --device would name this recording's microphone")
        return replace(templates, weight=UNSURE_WEIGHT)
    desk.say(f"hearing by what was taught of this rig ({days})")
    return templates


def taught_doubt(desk: Desk, share: float | None) -> None:
    """Say where hardly anything was like what was taught, so that it changed nothing."""
    if share is not None and share < LEAST_LIKE:
        desk.say("nearly nothing was like what was taught, so it changed nothing: does the microphone stand elsewhere?")
