"""Invented sessions for comparisons: seconds with a level that wanders, and sounds at given times."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import scipy.signal

from tuner.logbook.rows import KeptDiagnosis, KeptSound, Session
from tuner.logbook.seconds import Seconds
from tuner.logbook.side import Part, Side, stretch_of
from tuner.sound.bands import third_octave_centres_hz
from tuner.terms import SOUND_KINDS, SoundKind

BANDS_HZ = third_octave_centres_hz(100, 1000)
START = datetime(2026, 3, 1, 18, tzinfo=UTC)


def a_session(number: int = 1, seconds: int = 120, **changed: Any) -> Session:
    values: dict[str, Any] = {
        "id": number, "verb": "listen", "rig_name": "Kelpie", "device": "a microphone", "sample_rate_hz": 48_000,
        "calibrated": True, "started": START + timedelta(days=number), "ended": None, "outcome": "", "seconds": seconds,
        "sounds": 0, "moves": 0, "gaps": 0, "last_silent": None, "last_laeq_db": None, "last_cause": "",
        "place": "sofa", "offset_db": 94.0,
    }
    return Session(**(values | changed))


def wandering_db(n: int, rng: np.random.Generator, spread_db: float = 1.0, rho: float = 0.8) -> np.ndarray:
    noise = rng.standard_normal(n + 100) * np.sqrt(1 - rho**2)
    return np.asarray(spread_db * scipy.signal.lfilter([1.0], [1.0, -rho], noise)[100:])


def seconds_of_levels(
    level_db: np.ndarray, outside: Sequence[int] = (), heard: dict[SoundKind, Sequence[int]] | None = None,
    bands_hz: np.ndarray = BANDS_HZ,
) -> Seconds:
    n = level_db.size
    masked = np.zeros(n)
    masked[list(outside)] = 0.9
    shares = np.zeros((n, len(SOUND_KINDS)))
    for kind, at in (heard or {}).items():
        shares[list(at), SOUND_KINDS.index(kind)] = 0.8
    return Seconds(
        np.arange(n), level_db, bands_hz, np.repeat(level_db[:, None] - 10.0, bands_hz.size, axis=1), SOUND_KINDS,
        shares, masked, np.zeros(n, dtype=np.int64), np.zeros(n, dtype=np.int64),
    )


def a_side(
    level_db: float, n: int = 120, *, seed: int = 1, sounds: Sequence[KeptSound] = (), words: str = "a side",
    diagnoses: Sequence[KeptDiagnosis] = (), outside: Sequence[int] = (), unsure_db: float | None = 0.5, **changed: Any,
) -> Side:
    session = a_session(seconds=n, **changed)
    levels = level_db + wandering_db(n, np.random.default_rng(seed))
    stretch = stretch_of(
        Part(session, 0.0, float(n)), seconds_of_levels(levels, outside), sounds, diagnoses, None, unsure_db
    )
    return Side(words, (stretch,))


def gulps(kind: SoundKind, every_s: int, n: int, length_s: int = 3) -> tuple[KeptSound, ...]:
    return tuple(KeptSound(kind, float(s), float(s + length_s), 45.0, 0.9) for s in range(5, n - length_s, every_s))
