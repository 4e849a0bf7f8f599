"""How loud each regime is expected to be, learnt for the rig at hand.

How strongly a pipe is heard depends on cabinet, distance and microphone, which nobody knows; how its level changes
with the flow is known better: 10 to 15 dB for ten times the excess over the onset. Every guess therefore carries its
own line of the level over the logarithm of the excess (the level at the excess 1 and the slope, jointly Gaussian),
which the readings narrow. From the second reading on, a level that fell tells how much nearer the onset is, and one
that hardly changed that the onset is still far.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from tuner.coach.outlook import Outlook
from tuner.terms import Reading, SoundKind

Floats = NDArray[np.float64]

GRADED: tuple[SoundKind, ...] = ("gurgle", "hiss", "trickle")
SLOPE_DB, SLOPE_SPREAD_DB = 12.0, 3.5  # for ten times the excess; a judgement: power about as the excess to the 1.2
USUAL_DB, USUAL_SPREAD_DB = 22.0, 8.0  # over the measured room, at the reference excess of 1
UNKNOWN_SPREAD_DB = 14.0  # without a measured room: about the first level heard, which then says next to nothing
MEASURED_SPREAD_DB = 2.0  # of a level in one window
ELSE_SPREAD_DB, ELSE_SHARE = 12.0, 0.7  # of the level of a sound that something else makes; its mean density
LEAST_EXCESS = 0.02
LEAST_SURE = 0.5


@dataclass(frozen=True, slots=True)
class Loudness:
    """Means and covariance of the line of each graded sound: level at the excess 1 (dB), slope (dB for ten times).

    Each of shape (3, n). Levels are over the room where it was measured; else on whatever scale they come, with NaN
    until one has come.
    """

    mean_db: Floats
    slope_db: Floats
    variance: Floats
    shared: Floats
    slope_variance: Floats

    def taken(self, index: NDArray[np.intp]) -> Loudness:
        """Return the estimates of the guesses at ``index``."""
        return Loudness(*(getattr(self, f.name)[:, index] for f in fields(self)))


def usual_loudness(n: int, *, over_room: bool) -> Loudness:
    """Return the estimates before anything was heard; ``over_room`` when the room was measured."""
    shape = (len(GRADED), n)
    mean, spread = (USUAL_DB, USUAL_SPREAD_DB) if over_room else (np.nan, UNKNOWN_SPREAD_DB)
    return Loudness(
        np.full(shape, mean), np.full(shape, SLOPE_DB), np.full(shape, spread**2), np.zeros(shape),
        np.full(shape, SLOPE_SPREAD_DB**2),
    )


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
    lines = Loudness(*(getattr(loudness, f.name).copy() for f in fields(loudness)))
    for i, (level, activity, excess) in enumerate(zip(levels_db, active, graded_excess(o), strict=True)):
        if level is None:
            continue
        x = np.log10(excess)
        first = np.isnan(lines.mean_db[i])
        lines.mean_db[i] = np.where(first, level - lines.slope_db[i] * x, lines.mean_db[i])
        over = level - (lines.mean_db[i] + lines.slope_db[i] * x)
        with_mean = lines.variance[i] + x * lines.shared[i]
        with_slope = lines.shared[i] + x * lines.slope_variance[i]
        spread2 = with_mean + x * with_slope + MEASURED_SPREAD_DB**2
        fits = np.exp(-0.5 * over**2 / spread2) / np.sqrt(spread2)
        elsewhere = ELSE_SHARE / ELSE_SPREAD_DB
        total = total + np.log(activity * fits + (1 - activity) * elsewhere + 1e-9)
        # Kalman's gain of a level and a slope that one level tells of together, where the sound is this regime's
        own = activity > 0.5
        gain, slope_gain = np.where(own, with_mean / spread2, 0.0), np.where(own, with_slope / spread2, 0.0)
        lines.mean_db[i] += gain * over
        lines.slope_db[i] += slope_gain * over
        lines.variance[i] -= gain * with_mean
        lines.shared[i] -= gain * with_slope
        lines.slope_variance[i] -= slope_gain * with_slope
    return total, lines
