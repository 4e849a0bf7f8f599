"""How loud each regime is expected to be, learnt for the rig at hand.

How strongly a pipe is heard depends on cabinet, distance and microphone, which nobody knows; how its level changes
with the flow is known better: 10 to 15 dB for ten times the excess over the onset. Every guess therefore carries
its own estimate of the level at a reference excess (a Gaussian with mean and variance), which the readings narrow.
From the second reading on, a level that fell tells how much nearer the onset is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tuner.coach.outlook import Outlook
from tuner.terms import Reading, SoundKind

Floats = NDArray[np.float64]

GRADED: tuple[SoundKind, ...] = ("gurgle", "hiss", "trickle")
SLOPE_DB = 12.0  # for ten times the excess over the onset; a judgement: power about as the excess to the 1.2
USUAL_DB, USUAL_SPREAD_DB = 22.0, 8.0  # over the measured room, at the reference excess of 1
UNKNOWN_SPREAD_DB = 14.0  # without a measured room: about the first level heard, which then says next to nothing
MEASURED_SPREAD_DB = 3.5  # of a level in one window, and of the slope
ELSE_SPREAD_DB, ELSE_SHARE = 12.0, 0.7  # of the level of a sound that something else makes; its mean density
LEAST_EXCESS = 0.02
LEAST_SURE = 0.5


@dataclass(frozen=True, slots=True)
class Loudness:
    """Mean and variance of the reference level of each graded sound, shape (3, n), dB.

    Over the room where it was measured; else on whatever scale the levels come, with NaN until one has come.
    """

    mean_db: Floats
    variance: Floats

    def taken(self, index: NDArray[np.intp]) -> Loudness:
        """Return the estimates of the guesses at ``index``."""
        return Loudness(self.mean_db[:, index], self.variance[:, index])


def usual_loudness(n: int, *, over_room: bool) -> Loudness:
    """Return the estimates before anything was heard; ``over_room`` when the room was measured."""
    shape = (len(GRADED), n)
    if not over_room:
        return Loudness(np.full(shape, np.nan), np.full(shape, UNKNOWN_SPREAD_DB**2))
    return Loudness(np.full(shape, USUAL_DB), np.full(shape, USUAL_SPREAD_DB**2))


def graded_excess(o: Outlook) -> tuple[Floats, Floats, Floats]:
    """Return how far each graded sound is over its onset: relative flow, relative jet speed, missing suction."""
    return (
        np.maximum(o.channel / o.gurgle_flow - 1, LEAST_EXCESS),
        np.maximum(o.jet_ratio - 1, LEAST_EXCESS),
        np.maximum(1 - o.suction_ratio, LEAST_EXCESS),
    )


def heard_levels(reading: Reading, *, over_room: bool) -> tuple[float | None, ...]:
    """Return the level of each graded sound, None where it was not surely heard.

    Without a measured room a window's own background is the noise itself when it never pauses, so that the level
    over it says nothing: the level of the whole window stands in.
    """
    stood = (reading.of(kind) for kind in GRADED)
    return tuple(
        (h.excess_db if over_room else reading.levels.laeq_db)
        if h and max(h.share, h.probability) >= LEAST_SURE else None
        for h in stood
    )


def graded(loudness: Loudness, o: Outlook, levels_db: tuple[float | None, ...]) -> tuple[Floats, Loudness]:
    """Return the log-likelihood of the levels under each guess, shape (n,), and the narrowed estimates."""
    active = (o.gurgling, o.hissing, o.trickling)
    total = np.zeros(np.shape(o.gurgling))
    mean, variance = loudness.mean_db.copy(), loudness.variance.copy()
    for i, (level, activity, excess) in enumerate(zip(levels_db, active, graded_excess(o), strict=True)):
        if level is None:
            continue
        mean[i] = np.where(np.isnan(mean[i]), level, mean[i])
        over = level - (mean[i] + SLOPE_DB * np.log10(excess))
        spread2 = variance[i] + MEASURED_SPREAD_DB**2
        fits = np.exp(-0.5 * over**2 / spread2) / np.sqrt(spread2)
        elsewhere = ELSE_SHARE / ELSE_SPREAD_DB
        total = total + np.log(activity * fits + (1 - activity) * elsewhere + 1e-9)
        gain = np.where(activity > 0.5, variance[i] / spread2, 0.0)
        mean[i] = mean[i] + gain * over
        variance[i] = variance[i] * (1 - gain)
    return total, replace(loudness, mean_db=mean, variance=variance)
