"""What a signature consists of: the evidence it may weigh and the rule that turns probability into events."""

from __future__ import annotations

from dataclasses import dataclass

from tuner.signatures.ears import FEATURE_NAMES
from tuner.signatures.weave import WEAVE_NAMES

SHAPE = tuple(n for n in FEATURE_NAMES if n.startswith("shape ") or n in ("tilt", "flat low", "flat high", "centroid"))
EXCESS = tuple(n for n in FEATURE_NAMES if n.startswith("excess "))
GRAIN = tuple(
    n for n in FEATURE_NAMES
    if n.split(" ")[0] in ("spread", "crest", "skew", "attack", "clicks") or n == "together"
)
NOTES = tuple(n for n in FEATURE_NAMES if n.split(" ")[0] in ("notes", "stay", "pitch"))
RHYTHM = tuple(n for n in FEATURE_NAMES if n.startswith("rhythm "))
FLUTTER = tuple(n for n in FEATURE_NAMES if n.startswith("flutter "))
COURSE = tuple(
    n for n in FEATURE_NAMES if n.split(" ")[0] in ("range", "over", "slope") or n.endswith(" return")
)
WEAVE = WEAVE_NAMES
LINES = tuple(n for n in FEATURE_NAMES if n.startswith("line "))
ROTOR = tuple(n for n in FEATURE_NAMES if n.startswith("rotor "))


@dataclass(frozen=True, slots=True)
class Gate:
    """A feature that must be reached for a kind to count as audible: not at all at ``low``, in full from ``high``."""

    feature: str
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Signature:
    """One kind of sound.

    ``evidence`` names the features that the model may weigh for it. An event begins when the probability, averaged
    over ``smooth`` looks of half a second, passes ``on`` and ends when it falls below ``off``; events shorter than
    ``shortest_s`` are dropped, gaps shorter than ``gap_s`` are bridged.
    A ``gate`` lowers the probability of what is there but hardly audible.
    """

    label: str
    evidence: tuple[str, ...]
    on: float = 0.5
    off: float = 0.35
    smooth: int = 3
    shortest_s: float = 1.0
    gap_s: float = 1.0
    gate: Gate | None = None
