"""How sure the difference of two groups' means is, when each member of a group is one independent figure."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from tuner.errors import ConfigError

Floats = NDArray[np.float64]

LEAST_FREEDOM = 3
"""Degrees of freedom below which a spread between members is hardly known: two and one make one."""


@dataclass(frozen=True, slots=True)
class MeanDifference:
    """Means of the second group minus those of the first, by columns, with one-sided bounds of each."""

    difference: Floats
    low: Floats
    high: Floats


def mean_difference_student(first: Floats, second: Floats, confidence: float) -> MeanDifference:
    """Return how far the means of ``second`` lie over those of ``first``, each of shape (n_members, n_columns).

    With three members or more on both sides the spreads may differ (Welch 1947, degrees of freedom of Satterthwaite);
    with fewer on one side they are taken to be the same (Student), down to a single member against a group.

    Raises ConfigError when together they have fewer than ``LEAST_FREEDOM`` degrees of freedom.
    """
    n, m = first.shape[0], second.shape[0]
    if min(n, m) < 1 or n + m - 2 < LEAST_FREEDOM:
        raise ConfigError(f"members={n} and {m} must be at least {LEAST_FREEDOM + 2} together: add sessions")
    squares = [((x - x.mean(axis=0)) ** 2).sum(axis=0) for x in (first, second)]
    if min(n, m) >= 3:
        parts = (squares[0] / (n - 1) / n, squares[1] / (m - 1) / m)
        variance = parts[0] + parts[1]
        with np.errstate(divide="ignore", invalid="ignore"):
            freedom = variance**2 / (parts[0] ** 2 / (n - 1) + parts[1] ** 2 / (m - 1))
        freedom = np.where(np.isfinite(freedom), freedom, n + m - 2.0)
    else:
        variance = (squares[0] + squares[1]) / (n + m - 2) * (1.0 / n + 1.0 / m)
        freedom = np.full(variance.shape, n + m - 2.0)
    half = stdtrit(freedom, confidence) * np.sqrt(variance)
    difference = second.mean(axis=0) - first.mean(axis=0)
    return MeanDifference(difference, difference - half, difference + half)


def hypergeometric_upper(heard: int, spells: int, base_heard: int, base_spells: int) -> float:
    """Return how likely at most ``heard`` of ``spells`` would be if both lots of spells heard it equally often.

    The one-sided exact test of Fisher (1935): of all spells in which it was heard, as few fall to the first lot.

    >>> round(hypergeometric_upper(0, 10, 5, 10), 4)
    0.0163
    """
    total, both = heard + base_heard, spells + base_spells
    if min(heard, base_heard) < 0 or heard > spells or base_heard > base_spells:
        raise ConfigError(f"heard={heard} and {base_heard} must lie within {spells} and {base_spells} spells")

    def log_choose(n: int, k: int) -> float:
        return math.lgamma(n + 1) - math.lgamma(k + 1) - math.lgamma(n - k + 1)

    whole = log_choose(both, total)
    return min(1.0, sum(
        math.exp(log_choose(spells, k) + log_choose(base_spells, total - k) - whole)
        for k in range(max(0, total - base_spells), heard + 1)
    ))
