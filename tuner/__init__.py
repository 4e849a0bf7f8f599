"""Hushweir: hear which drain of an aquarium overflow makes the noise, and get the next small move.

    rig = tuner.load_rig("my-rig.toml")
    d = tuner.diagnose(samples, sample_rate, rig=rig)
    listener = tuner.Listener(sample_rate, rig=rig)
    coach = tuner.Coach(rig)

Everything else is reached through these names; they load what they need when they are first used, so that
``import tuner`` is quick.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from tuner.coach.coach import Coach
    from tuner.errors import ConfigError, HushweirError, LogbookError, SourceError
    from tuner.rig import Rig
    from tuner.rigfile import load_rig
    from tuner.signatures.listener import Listener, measure_floor
    from tuner.terms import Cause, Diagnosis, Floor, Question, Reading, Sound, Step

_HOME = {
    "Cause": "tuner.terms", "Coach": "tuner.coach.coach", "ConfigError": "tuner.errors", "Diagnosis": "tuner.terms",
    "Floor": "tuner.terms", "HushweirError": "tuner.errors", "Listener": "tuner.signatures.listener",
    "LogbookError": "tuner.errors", "Question": "tuner.terms", "Reading": "tuner.terms", "Rig": "tuner.rig",
    "Sound": "tuner.terms", "SourceError": "tuner.errors", "Step": "tuner.terms", "load_rig": "tuner.rigfile",
    "measure_floor": "tuner.signatures.listener",
}

__all__ = [
    "Cause", "Coach", "ConfigError", "Diagnosis", "Floor", "HushweirError", "Listener", "LogbookError", "Question",
    "Reading", "Rig", "Sound", "SourceError", "Step", "diagnose", "load_rig", "measure_floor",
]


def __getattr__(name: str) -> Any:
    """Load a public name from its home when it is first asked for."""
    if name not in _HOME:
        raise AttributeError(f"module 'tuner' has no attribute {name!r}")
    return getattr(import_module(_HOME[name]), name)


def diagnose(
    samples: NDArray[np.floating], sample_rate: int, *, rig: Rig | None = None, floor: Floor | None = None
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

    Raises
    ------
    ConfigError
        When the samples are too short, not finite or digital silence throughout.
    """
    from tuner.causes.diagnosis import diagnose_reading
    from tuner.signatures.listener import read_window

    return diagnose_reading(read_window(samples, sample_rate, floor, rig=rig), rig=rig, floor=floor)
