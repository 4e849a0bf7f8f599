"""Hushweir: hear which drain of an aquarium overflow makes the noise, and get the next small move.

    rig = tuner.load_rig("my-rig.toml")
    d = tuner.diagnose(samples, sample_rate, rig=rig)
    listener = tuner.Listener(sample_rate, rig=rig)
    coach = tuner.Coach(rig)

Everything else is reached through these names; they load what they need when they are first used, so that
``import tuner`` is quick.
"""

from __future__ import annotations

from collections.abc import Sequence
from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from tuner.causes.location import Scan
    from tuner.coach.coach import Coach
    from tuner.errors import ConfigError, HushweirError, LogbookError, SourceError
    from tuner.rig import Rig
    from tuner.rigfile import load_rig
    from tuner.signatures.listener import Listener, measure_floor
    from tuner.signatures.taught import Templates
    from tuner.signatures.taughtfile import load_templates
    from tuner.terms import Cause, Diagnosis, Floor, Place, Question, Reading, Sound, Step

_HOME = {
    "Cause": "tuner.terms", "Coach": "tuner.coach.coach", "ConfigError": "tuner.errors", "Diagnosis": "tuner.terms",
    "Floor": "tuner.terms", "HushweirError": "tuner.errors", "Listener": "tuner.signatures.listener",
    "LogbookError": "tuner.errors", "Question": "tuner.terms", "Reading": "tuner.terms", "Rig": "tuner.rig",
    "Scan": "tuner.causes.location", "Sound": "tuner.terms", "SourceError": "tuner.errors", "Step": "tuner.terms",
    "Templates": "tuner.signatures.taught", "load_rig": "tuner.rigfile",
    "load_templates": "tuner.signatures.taughtfile", "measure_floor": "tuner.signatures.listener",
}

__all__ = [
    "Cause", "Coach", "ConfigError", "Diagnosis", "Floor", "HushweirError", "Listener", "LogbookError", "Question",
    "Reading", "Rig", "Scan", "Sound", "SourceError", "Step", "Templates", "diagnose", "load_rig", "load_templates",
    "locate", "measure_floor",
]


def __getattr__(name: str) -> Any:
    """Load a public name from its home when it is first asked for."""
    if name not in _HOME:
        raise AttributeError(f"module 'tuner' has no attribute {name!r}")
    return getattr(import_module(_HOME[name]), name)


def diagnose(
    samples: NDArray[np.floating], sample_rate: int, *, rig: Rig | None = None, floor: Floor | None = None,
    scan: Scan | None = None, templates: Templates | None = None,
) -> Diagnosis:
    """Hear one window and say whether it is silent and, if not, what sounds and why.

    Parameters
    ----------
    samples
        Mono, float in [-1, 1], shape (n,); 20 s or more tell most, 1.5 s is the least.
    sample_rate
        Hz, at least 8000.
    rig
        The installation, where it is described.
    floor
        The room with the pumps off, where it was measured.
    scan
        What ``locate`` found just before: the places of the sounds then count as facts.
    templates
        What was taught of this rig, where it was (``load_templates``).

    Raises
    ------
    ConfigError
        When the samples are too short, not finite or digital silence throughout.
    """
    from tuner.causes.diagnosis import diagnose_reading
    from tuner.signatures.listener import read_window

    reading = read_window(samples, sample_rate, floor, rig=rig, templates=templates)
    return diagnose_reading(reading, rig=rig, floor=floor, scan=scan)


def locate(takes: Sequence[tuple[Place, NDArray[np.floating]]], sample_rate: int) -> Scan:
    """Say at which place each sound arises, from a few seconds with the microphone held close to each.

    Parameters
    ----------
    takes
        Place and mono samples in [-1, 1], shape (n,), 3 s each, by one microphone at one gain; in any order, at two
        places or more, several times at one where wanted.
    sample_rate
        Hz, at least 8000.

    Raises
    ------
    ConfigError
        When a place is none, fewer than two were held, or samples are too short, not finite or digital silence.
    """
    from tuner.causes.location import locate as located
    from tuner.signatures.holding import Holder

    holder = Holder(sample_rate)
    return located([holder.hear(place, samples) for place, samples in takes])
