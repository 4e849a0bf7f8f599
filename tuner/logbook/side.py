"""One side of a comparison: stretches of sessions, cut down to what may be compared.

Only clean seconds count: those in which no outside sound prevails. What sounds in a second is what the ears logged as
sounds; sessions that log none (a confirmation, a restart) say it by their seconds' probabilities.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from tuner.logbook.rows import KeptDiagnosis, KeptFloor, KeptSound, Session, later
from tuner.logbook.seconds import Seconds
from tuner.sound.decibels import calibrated_floor
from tuner.terms import SOUND_KINDS, SoundKind

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

HEARD_FROM = 0.5  # probability from which a second counts as sounding, where no sounds were logged
_LEAST_RUN_S = 2  # and for how many seconds on end: one alone is often a false alarm
_LOG_NO_SOUNDS = ("confirm", "restart")


@dataclass(frozen=True, slots=True)
class Part:
    """The stretch of a session that is compared, in seconds from its start; ``words`` say which one it is."""

    session: Session
    from_s: float
    to_s: float
    words: str = ""

    @property
    def began(self) -> datetime:
        """The moment at which the stretch begins."""
        return later(self.session.started, self.from_s)

    @property
    def ended(self) -> datetime:
        """The moment at which the stretch ends."""
        return later(self.session.started, self.to_s)


@dataclass(frozen=True, slots=True)
class Stretch:
    """What was heard in a part.

    Parameters
    ----------
    part
        Which stretch of which session.
    second
        The clean seconds, from the session's start, int64, shape (n,).
    power
        Their mean squares, shape (n, 1 + b): A-weighted first, then the third-octaves over ``bands_hz``.
    bands_hz
        Third-octave centres (Hz), shape (b,).
    sounding
        Which kinds sound in each of them, shape (n, 9), in the order of ``SOUND_KINDS``.
    sound_db
        Energy mean of the levels (dB) of each kind's seconds; absent without any.
    heard_s, mute_s
        Seconds that were heard, and those of them without any sound at all (a muted microphone).
    diagnoses
        The listening windows whose greater part lies in the stretch.
    floor, unsure_db
        The room that the session knew, on the session's own scale wherever that is known, and how far the session's
        calibration may be off (dB); None where there is none.
    """

    part: Part
    second: NDArray[np.int64]
    power: Floats
    bands_hz: Floats
    sounding: Flags
    sound_db: dict[SoundKind, float]
    heard_s: int
    mute_s: int
    diagnoses: tuple[KeptDiagnosis, ...]
    floor: KeptFloor | None = None
    unsure_db: float | None = None

    @property
    def clean_s(self) -> int:
        """Seconds without outside sound."""
        return int(self.second.size)


@dataclass(frozen=True, slots=True)
class Side:
    """One side: its stretches in the order of time, what it is in words, and how many sessions were left unread."""

    words: str
    stretches: tuple[Stretch, ...]
    unread: int = 0

    @property
    def clean_s(self) -> int:
        """Seconds without outside sound."""
        return sum(stretch.clean_s for stretch in self.stretches)

    @property
    def began(self) -> datetime:
        """When the first stretch begins."""
        return min(stretch.part.began for stretch in self.stretches)

    @property
    def ended(self) -> datetime:
        """When the last stretch ends."""
        return max(stretch.part.ended for stretch in self.stretches)


def stretch_of(
    part: Part, seconds: Seconds, sounds: Sequence[KeptSound], diagnoses: Sequence[KeptDiagnosis],
    floor: KeptFloor | None = None, unsure_db: float | None = None,
) -> Stretch:
    """Cut a session's seconds, sounds and windows down to the clean seconds of a part."""
    inside = (seconds.second >= part.from_s) & (seconds.second < part.to_s)
    mute = inside & np.isnan(seconds.level_db)
    chosen = inside & seconds.clean & ~mute
    level_db = np.column_stack([seconds.level_db[chosen], seconds.bands_db[chosen]])
    power = 10.0 ** (level_db / 10.0)
    sounding = _sounding(part, seconds, sounds)[chosen]
    sound_db: dict[SoundKind, float] = {}
    for column, kind in enumerate(SOUND_KINDS):
        if sounding[:, column].any():
            sound_db[kind] = float(10.0 * np.log10(power[sounding[:, column], 0].mean() + 1e-30))
    return Stretch(
        part, seconds.second[chosen], power, seconds.bands_hz, sounding, sound_db, int(inside.sum()), int(mute.sum()),
        tuple(d for d in diagnoses if part.from_s <= d.end_s - d.duration_s / 2.0 < part.to_s),
        _on_scale(floor, part.session), unsure_db,
    )


def _on_scale(kept: KeptFloor | None, session: Session) -> KeptFloor | None:
    """Return a floor on a session's scale; floors are kept re full scale, whatever calibration came later."""
    if kept is None or session.offset_db is None or not session.calibrated or kept.floor.levels.calibrated:
        return kept
    return replace(kept, floor=calibrated_floor(kept.floor, session.offset_db))


def _sounding(part: Part, seconds: Seconds, sounds: Sequence[KeptSound]) -> Flags:
    """Return which kinds sound in each second, shape (n, 9)."""
    flags = np.zeros((seconds.second.size, len(SOUND_KINDS)), dtype=bool)
    if part.session.verb in _LOG_NO_SOUNDS:
        for column, kind in enumerate(SOUND_KINDS):
            if kind in seconds.kinds:
                flags[:, column] = _long_runs(seconds.heard[:, seconds.kinds.index(kind)] >= HEARD_FROM)
        return flags
    for sound in sounds:
        if sound.kind in SOUND_KINDS:
            first, last = np.searchsorted(seconds.second, [np.floor(sound.start_s), np.ceil(sound.end_s)])
            flags[first:last, SOUND_KINDS.index(sound.kind)] = True
    return flags


def _long_runs(on: Flags) -> Flags:
    """Return the flags without runs that are shorter than two seconds."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], on, [False]]).astype(np.int8)))
    kept = np.zeros(on.size, dtype=bool)
    for first, last in edges.reshape(-1, 2):
        if last - first >= _LEAST_RUN_S:
            kept[first:last] = True
    return kept
