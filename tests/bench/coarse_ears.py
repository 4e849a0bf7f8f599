"""Readings as ears would give them to which these sounds are new: some of it is taken for something else.

What each sound is taken for is drawn once for an installation (its sounds keep their character), and wavers from one
window to the next. The ranges are near what the shipped ears made of the first windows of the other rig's draws 11 to
50, on which no figure is reported. Pauses are heard as they are. No sound is rendered: a tuning takes a second or two.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from tests.bench.perfect_ears import Active, perfect_reading, starts_of
from tuner.signatures.reading import PAUSES, pauses
from tuner.terms import Reading, SoundKind

LOOK_S, PIECE_S = 0.5, 1.5
FLUTTER_DB = 2.5
WAVER = 0.2
FAINTEST = 0.02

# how much of each sound's time is heard as what, from - to
TAKEN: dict[SoundKind, dict[SoundKind, tuple[float, float]]] = {
    "gurgle": {"gurgle": (0.4, 1.0), "slurp": (0.0, 1.0), "splash": (-0.1, 0.15)},
    "slurp": {"slurp": (0.7, 4.0), "gurgle": (-0.5, 3.0), "flush": (-0.5, 2.2)},
    "flush": {"flush": (0.2, 1.2), "slurp": (-0.3, 0.8), "gurgle": (-0.3, 0.8), "roar": (-0.5, 0.7)},
    "trickle": {"trickle": (0.6, 1.0), "hiss": (-0.3, 0.3)},
    "hiss": {"hiss": (0.1, 1.0)},
    "roar": {"roar": (0.1, 1.0), "gurgle": (0.2, 1.0), "slurp": (-0.3, 0.6)},
    "splash": {"splash": (0.05, 1.0), "hiss": (-0.2, 0.3), "roar": (-0.8, 0.8)},
}


class CoarseEars:
    """What one installation's sounds are taken for."""

    def __init__(self, seed: int) -> None:
        self._rng = np.random.default_rng([seed, 7001])
        self._shares = {
            (true, heard): float(self._rng.uniform(*between))
            for true, by in TAKEN.items() for heard, between in by.items()
        }

    def reading(
        self, heard: Mapping[SoundKind, tuple[Active, float]], step_s: float, seconds: float, level_db: float
    ) -> Reading:
        """Return the reading of kinds that are active at some steps, each so many dB over the room.

        ``level_db`` is the level of the whole window.
        """
        found: dict[SoundKind, tuple[Active, float]] = {}
        for kind, (active, over_db) in heard.items():
            for taken in TAKEN.get(kind, {kind: (1.0, 1.0)}):
                share = self._shares.get((kind, taken), 1.0)
                share *= 1.0 + WAVER * float(self._rng.standard_normal())
                part = self._part(active, share, step_s)
                if part.mean() < FAINTEST:
                    continue
                before, louder_db = found.get(taken, (np.zeros_like(part), over_db))
                found[taken] = before | part, max(louder_db, over_db)
        reading = perfect_reading(found, step_s, seconds, level_db)
        looks_db = self._looks(heard, step_s)
        if looks_db is None:
            return replace(reading, levels=replace(reading.levels, la90_db=level_db))
        background = float(np.quantile(looks_db, 0.1)) - 10 * float(np.log10(np.mean(10 ** (looks_db / 10))))
        paused = pauses(looks_db)
        return replace(
            reading, levels=replace(reading.levels, la90_db=level_db + background),
            features={} if paused is None else {PAUSES: paused},
        )

    def _part(self, active: Active, share: float, step_s: float) -> Active:
        """Return so large a share of the active time, in pieces; beyond 1 it is drawn out."""
        if share <= 0.0:
            return np.zeros_like(active)
        if share > 1.0:
            more = round((share - 1.0) * active.sum() / max(len(starts_of(active)), 1))
            last = np.maximum.accumulate(np.where(active, np.arange(active.size), -active.size))
            return np.asarray(np.arange(active.size) - last <= more)
        pieces = np.arange(active.size) // max(round(PIECE_S / step_s), 1)
        kept = self._rng.random(int(pieces[-1]) + 1) < share
        return np.asarray(active & kept[pieces])

    def _looks(
        self, heard: Mapping[SoundKind, tuple[Active, float]], step_s: float
    ) -> NDArray[np.float64] | None:
        """Return the level of each half second over the room, in dB; None for a silent window."""
        if not heard:
            return None
        power = 1.0 + sum(active * 10 ** (over_db / 10) for active, over_db in heard.values())
        per = round(LOOK_S / step_s)
        steps = np.asarray(power)[: np.size(power) // per * per]
        level_db = 10 * np.log10(steps.reshape(-1, per).mean(axis=1))
        return np.asarray(level_db + FLUTTER_DB * self._rng.standard_normal(level_db.size) * (level_db > 1.0))
