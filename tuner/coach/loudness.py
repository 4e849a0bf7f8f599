"""How loud each regime is expected to be, learnt for the rig at hand, whatever it is taken for by ear.

How strongly a pipe is heard depends on cabinet, distance and microphone, which nobody knows; how its level changes
with the flow is known better: 10 to 15 dB for ten times the excess over the onset of what sounds all the time, and 10
dB for ten times the share of the time that gulps or flushes fill. Every guess therefore carries its own line of the
level over the logarithm of that excess for each regime (the level at the excess 1 and the slope, jointly Gaussian),
which the readings narrow. From the second reading on, a level that fell tells how much nearer the onset is, and one
that hardly changed that the onset is still far; one that grew as the siphon was opened tells of gulps, whatever they
sound like.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from math import inf

import numpy as np
from numpy.typing import NDArray

from tuner.causes.facts import presence
from tuner.coach.outlook import Outlook
from tuner.terms import CYCLIC_KINDS, Reading, SoundKind

Floats = NDArray[np.float64]

REGIMES = ("gurgling", "hissing", "trickling", "coming and going")
STEADY: tuple[SoundKind, ...] = ("gurgle", "hiss", "trickle")
BESIDE: tuple[SoundKind, ...] = ("splash", "roar", "hum", "rattle")  # what hides how the drains' level changes
SLOPE_DB, SLOPE_SPREAD_DB = 12.0, 3.5  # for ten times the excess; a judgement: power about as the excess to the 1.2
USUAL_DB, USUAL_SPREAD_DB = 22.0, 8.0  # over the measured room, at the reference excess of 1
CYCLE_LOUDER_DB = 10.0  # of gulps and flushes that never paused: they are louder while they last
UNKNOWN_SPREAD_DB = 14.0  # without a measured room: about the first level heard, which then says next to nothing
MEASURED_SPREAD_DB = 2.0  # of a level in one window
ELSE_SPREAD_DB, ELSE_SHARE = 12.0, 0.7  # of the level of a sound that something else makes; its mean density
LEAST_EXCESS = 0.02
LEAST_OVER_ROOM_DB = 1.0  # below, what is left of a level when the room is taken off it is chance
LEAST_SURE, LEAST_CYCLE, MOST_BESIDE = 0.5, 0.05, 0.3  # presence


@dataclass(frozen=True, slots=True)
class Loudness:
    """Means and covariance of the line of each regime: level at the excess 1 (dB), slope (dB for ten times).

    Each of shape (4, n). Levels are over the room where it was measured; else on whatever scale they come, with NaN
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
    shape = (len(REGIMES), n)
    usual = np.array([[USUAL_DB]] * len(STEADY) + [[USUAL_DB + CYCLE_LOUDER_DB]])
    mean, spread = (usual, USUAL_SPREAD_DB) if over_room else (np.nan, UNKNOWN_SPREAD_DB)
    return Loudness(
        np.full(shape, mean), np.full(shape, SLOPE_DB), np.full(shape, spread**2), np.zeros(shape),
        np.full(shape, SLOPE_SPREAD_DB**2),
    )


def excess_of(o: Outlook) -> Floats:
    """Return how far each regime is over its onset, shape (4, n).

    Relative flow, relative jet speed, missing suction, and the share of the cycle that sounds.
    """
    rest = np.where(o.gulping >= o.flushing, o.slurp_rest, o.flush_rest)
    return np.maximum([o.channel / o.gurgle_flow - 1, o.jet_ratio - 1, 1 - o.suction_ratio, 1 - rest], LEAST_EXCESS)


def heard_level(reading: Reading, *, over_room: bool) -> float | None:
    """Return the level of what the drains make, None where they were not surely heard, or something else beside them.

    Over the room where it was measured. Without it a window's own background is the noise itself when it never pauses,
    so that the level over it says nothing: the level of the whole window stands in.
    """
    sounds = any(presence(reading, kind) >= LEAST_SURE for kind in STEADY)
    comes = any(presence(reading, kind) >= LEAST_CYCLE for kind in CYCLIC_KINDS)
    beside = any(presence(reading, kind) >= MOST_BESIDE for kind in BESIDE)
    if beside or not (sounds or comes):
        return None
    return reading.excess_db if over_room else reading.levels.laeq_db


def without_room(level_db: float | None, room_db: float) -> float | None:
    """Return a level without the room's share of it, None where it hardly stands over the room; both on one scale.

    ``room_db`` is infinite while the room is not known; then the level stays as it is.
    """
    if level_db is None or room_db == inf:
        return level_db
    if level_db - room_db < LEAST_OVER_ROOM_DB:
        return None
    return float(10 * np.log10(10 ** (level_db / 10) - 10 ** (room_db / 10)))


def graded(loudness: Loudness, o: Outlook, level_db: float | None) -> tuple[Floats, Loudness]:
    """Return the log-likelihood of the level under each guess, shape (n,), and the narrowed estimates.

    Of each guess the regime counts that it takes to sound, where there is one.
    """
    n = np.size(o.gurgling)
    if level_db is None:
        return np.zeros(n), loudness
    active = np.array([
        o.gurgling, o.hissing, o.trickling, 1 - (1 - o.gulping * (1 - o.drawing)) * (1 - o.flushing),
    ])
    at = active.argmax(axis=0), np.arange(n)
    x, activity = np.log10(excess_of(o))[at], active[at]
    lines = Loudness(*(getattr(loudness, f.name).copy() for f in fields(loudness)))
    mean, slope, variance, shared, slope_variance = (getattr(lines, f.name)[at] for f in fields(lines))
    mean = np.where(np.isnan(mean), level_db - slope * x, mean)
    over = level_db - (mean + slope * x)
    with_mean, with_slope = variance + x * shared, shared + x * slope_variance
    spread2 = with_mean + x * with_slope + MEASURED_SPREAD_DB**2
    fits = np.exp(-0.5 * over**2 / spread2) / np.sqrt(spread2)
    told: Floats = np.log(activity * fits + (1 - activity) * ELSE_SHARE / ELSE_SPREAD_DB + 1e-9)
    # Kalman's gain of a level and a slope that one level tells of together, where the sound is this regime's
    own = activity > 0.5
    gain, slope_gain = np.where(own, with_mean / spread2, 0.0), np.where(own, with_slope / spread2, 0.0)
    lines.mean_db[at] = np.where(own, mean + gain * over, lines.mean_db[at])
    lines.slope_db[at] += slope_gain * over
    lines.variance[at] -= gain * with_mean
    lines.shared[at] -= gain * with_slope
    lines.slope_variance[at] -= slope_gain * with_slope
    return told, lines
