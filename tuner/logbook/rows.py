"""What the logbook holds, as values, and how spectra and probabilities are packed into a few bytes.

Third-octave levels are kept in hundredths of a decibel, two bytes a band; probabilities in whole percent, one
byte each. Speech cannot be rebuilt from one third-octave spectrum a second.
"""

from __future__ import annotations

import json
import math
import struct
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any, Literal

from tuner.errors import LogbookError
from tuner.terms import Floor, Heard, Levels

NO_LEVEL = -32768  # stands for a band without any sound (minus infinity) or without a value
STEP_DB = 0.01


@dataclass(frozen=True, slots=True)
class Session:
    """One line of the logbook's list. ``ended`` is None while it runs and when it was cut off.

    ``uid`` names the session in every logbook that it is copied to. ``place`` and ``gain`` are the keeper's words;
    ``offset_db`` is the calibration that its levels hold (None: re full scale). ``check_id`` and ``calibration_id``
    are the proofs of the microphone that held then.
    """

    id: int
    verb: str
    rig_name: str
    device: str
    sample_rate_hz: int
    calibrated: bool
    started: datetime
    ended: datetime | None
    outcome: str
    seconds: int
    sounds: int
    moves: int
    gaps: int
    last_silent: bool | None
    last_laeq_db: float | None
    last_cause: str
    uid: str = ""
    place: str = ""
    gain: str = ""
    offset_db: float | None = None
    floor_id: int | None = None
    check_id: int | None = None
    calibration_id: int | None = None
    clips: int = 0
    tags: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which sessions are asked for; what is None does not matter. ``since`` is included, ``until`` is not."""

    since: datetime | None = None
    until: datetime | None = None
    tag: str | None = None
    rig_name: str | None = None
    device: str | None = None
    place: str | None = None
    verb: str | None = None


@dataclass(frozen=True, slots=True)
class KeptReading:
    """One second: A-weighted level, third-octave levels, probability of each kind and of outside sound."""

    second: int
    level_db: float | None
    bands_db: tuple[float, ...]
    heard: dict[str, float]
    outside: float
    dropped: int
    clipped: int


@dataclass(frozen=True, slots=True)
class KeptSound:
    """A sound, in seconds from the session's start."""

    kind: str
    start_s: float
    end_s: float
    level_db: float | None
    confidence: float


@dataclass(frozen=True, slots=True)
class KeptCause:
    """A cause with its probability and its reasons."""

    name: str
    probability: float
    because: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class KeptDiagnosis:
    """What one listening window came to; ``end_s`` is where the window ended.

    ``clean_s``, ``outside_share``, ``heard`` and ``features`` are as in the reading; logbooks of an earlier form lack
    them.
    """

    end_s: float
    duration_s: float
    silent: bool
    excess_db: float | None
    levels: Levels
    causes: tuple[KeptCause, ...]
    clean_s: float | None = None
    outside_share: float | None = None
    heard: tuple[Heard, ...] = ()
    features: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class KeptMove:
    """A move: what was advised, what was done (None: not yet, 0: declined), what was expected and what came."""

    at_s: float
    control: str
    amount: float
    unit: str
    wait_s: float
    why: str
    expected: str
    done: float | None
    done_s: float | None
    seen: str


@dataclass(frozen=True, slots=True)
class KeptLook:
    """A question that the keeper was asked, with the answer (None: could not say)."""

    at_s: float
    question: str
    text: str
    answer: str | None


@dataclass(frozen=True, slots=True)
class Gap:
    """A stretch that was not heard: from when, how long, and why."""

    start_s: float
    length_s: float
    note: str


@dataclass(frozen=True, slots=True)
class KeptFloor:
    """A room with the pumps off, as it was measured: when, by which device, where (in words), and its figures."""

    id: int
    made: datetime
    device: str
    sample_rate_hz: int
    place: str
    floor: Floor


@dataclass(frozen=True, slots=True)
class DatedMove:
    """A move that was done, with its session and the moment."""

    session: int
    made: datetime
    move: KeptMove


@dataclass(frozen=True, slots=True)
class DatedNote:
    """Words of a session, with its number."""

    session: int
    note: Note


@dataclass(frozen=True, slots=True)
class Note:
    """Words that somebody added."""

    made: datetime
    text: str


@dataclass(frozen=True, slots=True)
class KeptClip:
    """A short piece of audio beside the logbook: of which sound, from when (s from the session's start), how long.

    ``file`` is its name in the folder of clips, never a path; ``size`` is in bytes.
    """

    id: int
    session: int
    kind: str
    start_s: float
    length_s: float
    file: str
    size: int


ProofKind = Literal["microphone check", "calibration", "confirmation", "restart", "scan", "tuning"]


@dataclass(frozen=True, slots=True)
class Proof:
    """A kept proof, ``body`` being the JSON object of its verb."""

    id: int
    kind: ProofKind
    made: datetime
    device: str
    sample_rate_hz: int
    rig_name: str
    body: dict[str, Any]
    session: int | None = None


def utc_text(moment: datetime) -> str:
    """Return a moment as the logbook writes it; raises LogbookError for a clock without a time zone.

    >>> utc_text(datetime(2026, 3, 1, 18, 30, tzinfo=UTC))
    '2026-03-01T18:30:00.000Z'
    """
    if moment.tzinfo is None:
        raise LogbookError(f"clock={moment!r} must carry a time zone: the logbook keeps UTC")
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def utc_of(text: str) -> datetime:
    """Return the moment that the logbook wrote as ``text``; raises LogbookError when it is none.

    >>> utc_of("2026-03-01T18:30:00.000Z").hour
    18
    """
    try:
        moment = datetime.fromisoformat(text)
    except (ValueError, TypeError) as error:
        raise LogbookError(f"time={text!r} in the logbook must be ISO 8601: the file is damaged") from error
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)


def later(moment: datetime, seconds: float) -> datetime:
    """Return the moment ``seconds`` later."""
    return moment + timedelta(seconds=seconds)


def pack_db(levels_db: Sequence[float]) -> bytes:
    """Return levels (dB) as two bytes each, in hundredths of a decibel.

    Minus infinity, NaN and what lies beyond ±327 dB are kept as "no level".

    >>> unpack_db(pack_db((31.256, -90.0, float("-inf"))))
    (31.26, -90.0, -inf)
    """
    values = [round(x / STEP_DB) if math.isfinite(x) else NO_LEVEL for x in levels_db]
    return struct.pack(f"<{len(values)}h", *(v if abs(v) < -NO_LEVEL else NO_LEVEL for v in values))


def unpack_db(blob: bytes) -> tuple[float, ...]:
    """Return the levels (dB) that ``pack_db`` packed; minus infinity stands for "no level"."""
    values = struct.unpack(f"<{len(blob) // 2}h", blob)
    return tuple(-math.inf if v == NO_LEVEL else round(v * STEP_DB, 2) for v in values)


def pack_shares(probability: Mapping[str, float], kinds: Sequence[str]) -> bytes:
    """Return the probability of each of ``kinds`` in whole percent, one byte each; an absent kind is 0.

    >>> unpack_shares(pack_shares({"hiss": 0.254}, ("hum", "hiss")), ("hum", "hiss"))
    {'hiss': 0.25}
    """
    return bytes(round(100.0 * min(1.0, max(0.0, probability.get(kind, 0.0)))) for kind in kinds)


def unpack_shares(blob: bytes, kinds: Sequence[str]) -> dict[str, float]:
    """Return the probabilities that are above 0, by kind."""
    return {kind: value / 100.0 for kind, value in zip(kinds, blob, strict=True) if value}


def levels_text(levels: Levels) -> str:
    """Return level statistics as JSON."""
    return json.dumps(asdict(levels), separators=(",", ":"))


def levels_of(text: str) -> Levels:
    """Return the level statistics that ``levels_text`` wrote."""
    table: dict[str, Any] = json.loads(text)
    for name in ("third_octave_hz", "third_octave_db"):
        table[name] = tuple(table[name])
    return Levels(**table)


def heard_text(heard: Sequence[Heard]) -> str:
    """Return how the kinds stood in a window as JSON."""
    return json.dumps([{k: _rounded(v) for k, v in asdict(h).items()} for h in heard], separators=(",", ":"))


def heard_of(text: str) -> tuple[Heard, ...]:
    """Return what ``heard_text`` wrote."""
    return tuple(Heard(**table) for table in json.loads(text))


def features_text(features: Mapping[str, float]) -> str:
    """Return the named numbers of a window as JSON; what is no number is left out."""
    return json.dumps({k: _rounded(v) for k, v in features.items() if math.isfinite(v)}, separators=(",", ":"))


def _rounded(value: Any) -> Any:
    """Leave four digits of a figure, which is more than an ear can tell."""
    return float(f"{value:.4g}") if isinstance(value, float) else value
