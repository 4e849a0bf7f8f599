"""The words of a verdict: what counts as silent, what it was found to be, and what it was judged with."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from tuner.silence.chain import ChainReport
from tuner.sound.tones import Tone
from tuner.terms import Floor, SoundKind

Outcome = Literal["silent", "audible", "not shown"]
# A hum is judged as a tone: how far it stands out is a number with a standard behind it.
TONAL: frozenset[SoundKind] = frozenset({"hum"})


@dataclass(frozen=True, slots=True)
class Limits:
    """What counts as silent. Levels in dB over the room, times in seconds.

    With ``level_db`` at 3 the system is no louder than the room itself. A kind is heard from ``presence`` (mean
    probability over the clean time) or from ``bouts`` bouts on; a single bout is left open. ``recall`` is the share of
    sounds that the ears notice: the least that the signature model's card states for a sound that comes in bouts.
    A calibrated room that reads more than ``room_db`` (dB(A)), by itself or by the microphone's own noise, hides what
    a quiet evening would let one hear.
    """

    confidence: float = 0.95
    level_db: float = 3.0
    band_db: float = 4.0
    lowest_band_hz: float = 100.0
    presence: float = 0.06
    bouts: int = 2
    recall: float = 0.6
    clean_s: float = 59.0
    floor_s: float = 10.0
    room_db: float = 40.0


@dataclass(frozen=True, slots=True)
class Band:
    """One third-octave: its centre (Hz), what it stands over the room (dB) and the bounds of that.

    ``tonal`` tells that a tone was taken out of it; the tone is judged as a tone. ``room_db`` and ``level_db`` are its
    levels without and with the system, tones included.
    """

    hz: float
    excess_db: float
    low_db: float
    high_db: float
    tonal: bool
    room_db: float
    level_db: float


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of plumbing sound that was recognised."""

    kind: SoundKind
    bouts: int
    presence: float
    total_s: float
    loudest_db: float
    first_s: float


@dataclass(frozen=True, slots=True)
class Verdict:
    """The outcome with its figures and its words.

    ``excess_db``, ``low_db`` and ``high_db`` are the A-weighted level over the room with its one-sided bounds, None
    without a room or with too little time. ``per_hour`` is the upper bound of the rate of plumbing sounds, None where
    nothing was heard unmasked. ``heard`` says what is audible, ``why`` why nothing is shown, ``rests_on`` and
    ``cannot_show`` what a sceptic should know, ``further`` what more listening would buy. ``rating`` holds the NC and
    NR ratings of what was heard, "" where levels are relative.
    """

    outcome: Outcome
    confidence: float
    heard_s: float
    clean_s: float
    level_db: float | None
    excess_db: float | None
    low_db: float | None
    high_db: float | None
    bands: tuple[Band, ...]
    kinds: tuple[Kind, ...]
    tones: tuple[Tone, ...]
    per_hour: float | None
    heard: tuple[str, ...]
    why: tuple[str, ...]
    rests_on: tuple[str, ...]
    cannot_show: tuple[str, ...]
    further: tuple[str, ...]
    rating: str = ""


@dataclass(frozen=True, slots=True)
class Setting:
    """What a confirmation knows beside the sound.

    ``check`` is the microphone's tried chain (None: never tried), ``watch`` what this very listening showed of it,
    ``offset_db`` the calibration, ``self_noise_db`` the least level that this microphone ever gave (both None when
    not known).
    """

    floor: Floor | None
    check: ChainReport | None
    watch: ChainReport
    offset_db: float | None = None
    self_noise_db: float | None = None


@dataclass(frozen=True, slots=True)
class Level:
    """The A-weighted level (dB), what it stands over the room, and the one-sided bounds of that (dB)."""
    mean_db: float
    excess_db: float
    low_db: float
    high_db: float
