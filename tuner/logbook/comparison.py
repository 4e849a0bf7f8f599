"""Before and after: how far the level fell, band by band, what became of each sound, and what was done in between.

``compare`` is a pure function of two sides and of what happened between them; ``plainly`` says it in a sentence.
Levels are differences with one-sided bounds, each at the confidence asked for. With several sessions on both sides
each session is one figure, so that what changes from day to day is in the bounds; otherwise seconds are drawn in
blocks, and the bounds speak for these sessions alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tuner.bounds.bootstrap import energy_difference_bounds
from tuner.bounds.means import LEAST_FREEDOM, mean_difference_student
from tuner.logbook.comparable import LEAST_CLEAN_S, Obstacle, calibration_unsure_db, doubts, obstacles
from tuner.logbook.rows import DatedMove, DatedNote
from tuner.logbook.side import Side
from tuner.logbook.soundchange import SoundChange, sound_changes
from tuner.sound.bands import nominal_hz
from tuner.sound.weighting import a_weighting_db

Floats = NDArray[np.float64]
Basis = Literal["seconds", "sessions"]


@dataclass(frozen=True, slots=True)
class LevelChange:
    """A level before and after, and the change (after minus before) with its one-sided bounds, all in dB.

    ``hz`` is the third-octave's nominal centre, None for the A-weighted level. "At least 4.8 quieter" is a
    ``high_db`` of -4.8.
    """

    hz: float | None
    before_db: float
    after_db: float
    change_db: float
    low_db: float
    high_db: float


@dataclass(frozen=True, slots=True)
class CauseChange:
    """A cause with its mean probability (0-1) over the listening windows before and after."""

    name: str
    before: float
    after: float


@dataclass(frozen=True, slots=True)
class Restarts:
    """Times (s) from switching on until the siphon caught, of the last rehearsed restart on each side.

    ``failed`` counts the starts in which it did not catch.
    """

    before_s: tuple[float, ...]
    before_failed: int
    after_s: tuple[float, ...]
    after_failed: int


@dataclass(frozen=True, slots=True)
class SideFacts:
    """What one side is: words, sessions, when, by which microphones, and how much of it was clean (s)."""

    words: str
    sessions: tuple[int, ...]
    began: datetime
    ended: datetime
    devices: tuple[str, ...]
    rig_names: tuple[str, ...]
    heard_s: float
    clean_s: float
    windows: int
    silent_windows: int


@dataclass(frozen=True, slots=True)
class Comparison:
    """The whole comparison.

    ``level`` is None, and ``bands`` empty, when an obstacle forbids to compare levels. ``basis`` tells what the bounds
    of levels rest on. ``outcomes`` are what each side's last confirmation or session came to, in words.
    """

    confidence: float
    before: SideFacts
    after: SideFacts
    calibrated: bool
    level: LevelChange | None
    bands: tuple[LevelChange, ...]
    basis: Basis | None
    obstacles: tuple[Obstacle, ...]
    doubts: tuple[str, ...]
    sounds: tuple[SoundChange, ...]
    causes: tuple[CauseChange, ...]
    moves: tuple[DatedMove, ...]
    notes: tuple[DatedNote, ...]
    restarts: Restarts


def compare(
    before: Side, after: Side, *, moves: Sequence[DatedMove] = (), notes: Sequence[DatedNote] = (),
    restarts: Restarts = Restarts((), 0, (), 0), same_setup: bool = False, confidence: float = 0.95,
    rng: np.random.Generator,
) -> Comparison:
    """Compare two sides; see ``Comparison``.

    Parameters
    ----------
    before, after
        What was heard; each holds at least one stretch.
    moves, notes
        What was done and written between the two.
    restarts
        The restart times that were known then and are known now.
    same_setup
        The keeper's word that microphone, place and gain were the same.
    confidence
        Of each bound by itself (0-1).
    rng
        The only source of chance: draws the blocks of the bootstrap.
    """
    hindrances = obstacles(before, after, same_setup=same_setup)
    level, bands, basis = (None, (), None) if hindrances else _levels(before, after, confidence, rng)
    said = () if hindrances else doubts(before, after)
    if basis == "seconds" and len(before.stretches) + len(after.stretches) > 2:
        said += ("too few sessions to know how much days differ: the bounds hold for these sessions alone",)
    return Comparison(
        confidence=confidence, before=_facts(before), after=_facts(after),
        calibrated=all(s.part.session.calibrated for side in (before, after) for s in side.stretches),
        level=level, bands=bands, basis=basis, obstacles=hindrances, doubts=said,
        sounds=sound_changes(before, after, confidence), causes=_causes(before, after), moves=tuple(moves),
        notes=tuple(notes), restarts=restarts,
    )


def _levels(
    before: Side, after: Side, confidence: float, rng: np.random.Generator
) -> tuple[LevelChange, tuple[LevelChange, ...], Basis]:
    hz = _common_bands(before, after)
    rates = {s.part.session.sample_rate_hz for side in (before, after) for s in side.stretches}
    then, now = ([_columns(s.power, s.bands_hz, hz, same_rate=len(rates) == 1) for s in side.stretches]
                 for side in (before, after))
    sizes = [sum(cells.shape[0] >= LEAST_CLEAN_S for cells in side) for side in (then, now)]
    if sum(sizes) - 2 >= LEAST_FREEDOM and min(sizes) >= 1:
        one, other = (
            10.0 * np.log10(np.array([c.mean(axis=0) for c in side if c.shape[0] >= LEAST_CLEAN_S]) + 1e-30)
            for side in (then, now)
        )
        by_session = mean_difference_student(one, other, confidence)
        basis: Basis = "sessions"
        means = (one.mean(axis=0), other.mean(axis=0))
        change, low, high = by_session.difference, by_session.low, by_session.high
    else:
        first, second = np.concatenate(then), np.concatenate(now)
        by_second = energy_difference_bounds(first, second, confidence, rng)
        basis = "seconds"
        means = (10.0 * np.log10(first.mean(axis=0) + 1e-30), 10.0 * np.log10(second.mean(axis=0) + 1e-30))
        change, low, high = by_second.difference_db, by_second.low_db, by_second.high_db
    unsure = calibration_unsure_db(before, after)
    # Calibrations and chance are wrong independently of each other.
    low, high = change - np.hypot(change - low, unsure), change + np.hypot(high - change, unsure)
    changes = [
        LevelChange(name, *(float(x[i]) for x in (*means, change, low, high)))
        for i, name in enumerate((None, *(nominal_hz(float(x)) for x in hz)))
    ]
    return changes[0], tuple(c for c in changes[1:] if np.isfinite(c.change_db)), basis


def _common_bands(before: Side, after: Side) -> Floats:
    """Return the third-octaves (Hz) that every stretch has."""
    common = {round(float(x), 2) for x in before.stretches[0].bands_hz}
    for stretch in (*before.stretches, *after.stretches):
        common &= {round(float(x), 2) for x in stretch.bands_hz}
    return np.array(sorted(common))


def _columns(power: Floats, bands_hz: Floats, hz: Floats, *, same_rate: bool) -> Floats:
    """Return A-weighted and third-octave powers of the common bands, shape (n, 1 + len(hz))."""
    places = [int(np.argmin(np.abs(bands_hz - x))) for x in hz]
    bands = power[:, 1:][:, places]
    # What one rate cannot hear must not count on the other side either.
    whole = power[:, :1] if same_rate or not hz.size else (bands @ 10.0 ** (a_weighting_db(hz) / 10.0))[:, None]
    return np.hstack([whole, bands])


def _causes(before: Side, after: Side) -> tuple[CauseChange, ...]:
    """Return the causes, those that lost or hold most first; windows count by their length."""
    then, now = _shares(before), _shares(after)
    names = sorted(then | now, key=lambda name: -max(then.get(name, 0.0), now.get(name, 0.0)))
    return tuple(CauseChange(name, then.get(name, 0.0), now.get(name, 0.0)) for name in names)


def _shares(side: Side) -> dict[str, float]:
    windows = [d for s in side.stretches for d in s.diagnoses]
    total = sum(d.duration_s for d in windows)
    shares: dict[str, float] = {}
    for window in windows:
        for cause in window.causes:
            shares[cause.name] = shares.get(cause.name, 0.0) + cause.probability * window.duration_s / total
    return shares


def _facts(side: Side) -> SideFacts:
    sessions = [s.part.session for s in side.stretches]
    windows = [d for s in side.stretches for d in s.diagnoses]
    return SideFacts(
        side.words, tuple(session.id for session in sessions), side.began, side.ended,
        tuple(sorted({session.device for session in sessions})),
        tuple(sorted({session.rig_name for session in sessions if session.rig_name})),
        float(sum(s.heard_s for s in side.stretches)), float(side.clean_s), len(windows),
        sum(window.silent for window in windows),
    )
