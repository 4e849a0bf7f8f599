"""Readings as perfect ears would give them: from what truly sounds at each step, no sound rendered.

Pauses between bouts are heard as well: what never pauses is known to, but for sounds so even that their level tells
nothing of it.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from tuner.signatures.reading import PAUSES
from tuner.terms import Heard, Levels, Reading, Sound, SoundKind

LEAST_PAUSE_S = 2.0
FLUTTERING: tuple[SoundKind, ...] = ("gurgle", "slurp", "flush")
GAP_S = 0.5  # a shorter pause does not part two sounds
REGULAR, STEADY = 0.3, 0.8  # spread of gaps over their mean, and share of the time, below which there is a period

Active = NDArray[np.bool_]


def starts_of(active: Active) -> NDArray[np.intp]:
    """Return the start indices of runs of True."""
    return np.flatnonzero(np.diff(np.concatenate([[0], active.astype(int)])) == 1)


def onsets(active: Active, step_s: float) -> NDArray[np.intp]:
    """Return the start indices of runs of True; a run within ``GAP_S`` of the last start counts as the same."""
    starts = starts_of(active)
    keep = [s for i, s in enumerate(starts) if i == 0 or s - starts[i - 1] > GAP_S / step_s]
    return np.array(keep, dtype=np.intp)


def rested(heard: Mapping[SoundKind, tuple[Active, float]], step_s: float) -> float | None:
    """Return the share of the window in pauses of two seconds or more; None in silence, and for an even sound."""
    if not heard:
        return None
    sounding = np.any([active for active, _ in heard.values()], axis=0)
    turns = np.flatnonzero(np.diff(np.concatenate([[True], sounding, [True]]).astype(int)))
    lengths = turns[1::2] - turns[::2]
    share = float(lengths[lengths * step_s >= LEAST_PAUSE_S].sum() / sounding.size)
    return share if share > 0.0 or not set(FLUTTERING).isdisjoint(heard) else None


def perfect_reading(
    heard: Mapping[SoundKind, tuple[Active, float]], step_s: float, seconds: float, level_db: float,
    features: Mapping[str, float] | None = None,
) -> Reading:
    """Return a reading of kinds that are active at some steps, each so many dB over the rest.

    ``level_db`` is the level of the whole window.
    """
    kinds, sounds = [], []
    for kind, (active, over_db) in heard.items():
        starts = onsets(active, step_s)
        gaps = np.diff(starts) * step_s
        share = float(active.mean())
        regular = len(gaps) >= 2 and gaps.std() < REGULAR * gaps.mean() and share < STEADY
        kinds.append(Heard(kind, share, share, over_db, float(gaps.mean()) if regular else None, len(starts)))
        sounds.extend(Sound(kind, s * step_s, s * step_s + 1, over_db, 1.0) for s in starts)
    levels = Levels(
        level_db, level_db + 2, level_db - 1, level_db - 2, level_db + 4, (1000.0,), (level_db,)
    )
    told = dict(features or {})
    if (paused := rested(heard, step_s)) is not None:
        told[PAUSES] = paused
    return Reading(
        seconds, seconds, levels, tuple(sounds), tuple(kinds), 20.0 if kinds else 0.0, 0.0, features=told,
    )
