"""The values that flow through the program, from the sound to the next move.

    Block -> (frames, features) -> Sound -> Reading -> Diagnosis -> Step | Question

All are frozen. Levels are in decibels: dB(A) re 20 µPa when the microphone is calibrated, dB(A) re full
scale otherwise; whoever shows them says which. Times are seconds from the start of the stream or, inside
a Reading, of the listening window. This module holds no behaviour beyond small derived properties.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float32]

SoundKind = Literal["gurgle", "slurp", "trickle", "splash", "hiss", "flush", "roar", "hum", "rattle"]
SOUND_KINDS: tuple[SoundKind, ...] = (
    "gurgle", "slurp", "trickle", "splash", "hiss", "flush", "roar", "hum", "rattle",
)
CYCLIC_KINDS: tuple[SoundKind, ...] = ("slurp", "flush")
"""The sounds that come and go while nothing is touched."""

CauseName = Literal[
    "siphon over-open", "siphon over-closed", "vent too wide", "vent too closed", "emergency carrying flow",
    "siphon not purged", "outlet above water", "pump hum", "pump drawing air", "return drawing air",
    "weir drop", "outside noise", "unknown",
]
CAUSE_NAMES: tuple[CauseName, ...] = (
    "siphon over-open", "siphon over-closed", "vent too wide", "vent too closed", "emergency carrying flow",
    "siphon not purged", "outlet above water", "pump hum", "pump drawing air", "return drawing air",
    "weir drop", "outside noise", "unknown",
)

Place = Literal["siphon", "open channel", "emergency", "overflow box", "sump", "pump", "return"]
PLACES: tuple[Place, ...] = ("siphon", "open channel", "emergency", "overflow box", "sump", "pump", "return")

Control = Literal["siphon valve", "vent tap", "return pump"]
Unit = Literal["turn", "degree", "percent"]


@dataclass(frozen=True, slots=True)
class Block:
    """A run of mono samples from a source.

    Parameters
    ----------
    samples
        float32, shape (n,), nominally in [-1, 1]; the receiver never writes to it.
    sample_rate
        Hz.
    start
        Index of the first sample, counted from the opening of the source; jumps after a loss.
    dropped
        Samples known or estimated to be lost immediately before this block (0: none).
    clipped
        Samples of this block at full scale, over all channels before the mix-down.
    note
        Plain words about what went wrong (a device that vanished and came back), or "".
    """

    samples: Samples
    sample_rate: int
    start: int
    dropped: int = 0
    clipped: int = 0
    note: str = ""

    @property
    def start_s(self) -> float:
        """Start time in seconds from the opening of the source."""
        return self.start / self.sample_rate


@dataclass(frozen=True, slots=True)
class Sound:
    """One detected sound: what, from when to when, its A-weighted level while it lasted, and how sure (0-1)."""

    kind: SoundKind
    start_s: float
    end_s: float
    level_db: float
    confidence: float

    @property
    def duration_s(self) -> float:
        """Length in seconds."""
        return self.end_s - self.start_s


@dataclass(frozen=True, slots=True)
class Levels:
    """Level statistics of one window; third-octave arrays run over ``third_octave_hz``.

    ``calibrated`` tells whether the levels are dB re 20 µPa (True) or dB re full scale (False).
    """

    laeq_db: float
    la10_db: float
    la50_db: float
    la90_db: float
    lafmax_db: float
    third_octave_hz: tuple[float, ...]
    third_octave_db: tuple[float, ...]
    calibrated: bool = False


@dataclass(frozen=True, slots=True)
class Floor:
    """The room with the pumps off: its levels, and how many seconds of it were undisturbed."""

    levels: Levels
    duration_s: float
    clean_s: float


@dataclass(frozen=True, slots=True)
class Heard:
    """How one kind of sound stood in a listening window.

    ``share`` is the fraction of the clean seconds in which it was heard, ``probability`` the mean of its
    per-second probability, ``excess_db`` its level over the room (the floor, or the window's own quiet
    background when there is none), ``period_s`` the regular return of its bursts, where there is one.
    ``lasting`` is in how many of the fifths of the clean seconds it was heard, as a share.
    """

    kind: SoundKind
    share: float
    probability: float
    excess_db: float
    period_s: float | None = None
    events: int = 0
    lasting: float = 1.0


@dataclass(frozen=True, slots=True)
class Moment:
    """One step of listening, as the live screen and the log see it.

    ``level_db`` is the A-weighted Leq of the step, ``third_octave_db`` its third-octave levels over
    ``third_octave_hz``, ``probability`` how sure each kind is heard now, ``outside`` the probability that
    sound which is not the plumbing's masks it.
    """

    start_s: float
    end_s: float
    level_db: float
    third_octave_hz: tuple[float, ...]
    third_octave_db: tuple[float, ...]
    probability: dict[SoundKind, float]
    outside: float
    dropped: int = 0
    clipped: int = 0


@dataclass(frozen=True, slots=True)
class Reading:
    """What one listening window heard.

    ``outside_share`` is the fraction of seconds masked by sound that is not the plumbing's (speech, music,
    doors); those seconds are left out of everything else. ``features`` holds the named numbers of the
    window that the rules may read.
    """

    duration_s: float
    clean_s: float
    levels: Levels
    sounds: tuple[Sound, ...]
    heard: tuple[Heard, ...]
    excess_db: float | None
    outside_share: float
    dropped: int = 0
    clipped: int = 0
    features: dict[str, float] = field(default_factory=dict)

    def of(self, kind: SoundKind) -> Heard | None:
        """Return how ``kind`` stood in this window, or None when it was not heard."""
        return next((h for h in self.heard if h.kind == kind), None)


@dataclass(frozen=True, slots=True)
class Cause:
    """A likely cause with its probability (0-1) and its reasons in a keeper's words."""

    name: CauseName
    probability: float
    because: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """Silent or not, the sounds, and the ranked causes (best first; empty when silent)."""

    silent: bool
    sounds: tuple[Sound, ...]
    causes: tuple[Cause, ...]
    reading: Reading


@dataclass(frozen=True, slots=True)
class Step:
    """The next move. ``amount`` is signed: + opens a valve or tap, + speeds a pump up.

    ``wait_s`` is the settle time before listening again, ``expect`` what the move should do.
    A step with amount 0 is no turn: with a wait it is an instruction that no valve performs (lower an outlet, clean
    an impeller, wait while the room is loud), without one it means listen on.
    """

    control: Control
    amount: float
    unit: Unit
    wait_s: float
    why: str
    expect: str = ""


@dataclass(frozen=True, slots=True)
class Question:
    """A look that tells more than another listen; ``choices`` are the possible answers."""

    id: str
    text: str
    choices: tuple[str, ...]
