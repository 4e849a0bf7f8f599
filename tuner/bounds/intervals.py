"""How much a count of events proves: exact Poisson limits, folded with what the ears miss.

Limits are those of Garwood (1936). They hold for events that come independently of each other: a siphon that gulps in
bouts counts once a bout.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy.special import betaincinv, gammaincinv

from tuner.errors import ConfigError


@dataclass(frozen=True, slots=True)
class Interval:
    """A lower and an upper limit."""

    low: float
    high: float


def poisson_interval_garwood(count: int, exposure: float, confidence: float) -> Interval:
    """Return the two-sided exact limits of a rate: ``count`` events in ``exposure`` (any unit; limits per unit of it).

    Raises ConfigError for a negative count, an exposure that is not positive, or a confidence outside (0, 1).

    >>> interval = poisson_interval_garwood(23, 5.25, 0.95)
    >>> round(interval.low, 6), round(interval.high, 6)
    (2.777148, 6.57358)
    """
    _require(count, exposure, confidence)
    tail = (1.0 - confidence) / 2.0
    low = float(gammaincinv(count, tail)) if count > 0 else 0.0
    return Interval(low / exposure, float(gammaincinv(count + 1, 1.0 - tail)) / exposure)


def poisson_upper_garwood(count: int, exposure: float, confidence: float, recall: float = 1.0) -> float:
    """Return the one-sided upper limit of the true rate, per unit of ``exposure``.

    ``recall`` is the share of events that the ears notice (0-1): a rate of what was noticed bounds the true rate times
    recall, so the limit is divided by it.

    Raises ConfigError as ``poisson_interval_garwood``, and for a recall outside (0, 1].

    >>> round(poisson_upper_garwood(0, 1.0, 0.95), 4), round(poisson_upper_garwood(0, 1.0, 0.95, 0.5), 4)
    (2.9957, 5.9915)
    """
    _require(count, exposure, confidence)
    if not 0.0 < recall <= 1.0:
        raise ConfigError(f"recall={recall!r} must be above 0 and at most 1: the share of events that is noticed")
    return float(gammaincinv(count + 1, confidence)) / exposure / recall


def poisson_lower_garwood(count: int, exposure: float, confidence: float) -> float:
    """Return the one-sided lower limit of a rate, per unit of ``exposure``; 0 without events.

    >>> round(poisson_lower_garwood(3, 1.0, 0.975), 4)
    0.6187
    """
    _require(count, exposure, confidence)
    return float(gammaincinv(count, 1.0 - confidence)) / exposure if count > 0 else 0.0


def exposure_for_rate(rate: float, confidence: float, recall: float = 1.0, count: int = 0) -> float:
    """Return how long one must listen, hearing ``count`` events, to claim fewer than ``rate`` per unit of time.

    Raises ConfigError unless the rate is positive.

    >>> round(exposure_for_rate(1.0, 0.95), 2)
    3.0
    """
    if not rate > 0.0:
        raise ConfigError(f"rate={rate!r} must be above 0: no listening proves that something never happens")
    return poisson_upper_garwood(count, 1.0, confidence, recall) / rate


def binomial_zero_upper(trials: int, confidence: float) -> float:
    """Return the upper limit of a probability after ``trials`` in which it never happened.

    >>> round(binomial_zero_upper(30, 0.95), 4)
    0.095
    """
    if trials < 1:
        raise ConfigError(f"trials={trials} must be at least 1")
    return -math.expm1(math.log1p(-confidence) / trials)


def _require(count: int, exposure: float, confidence: float) -> None:
    if count < 0 or int(count) != count:
        raise ConfigError(f"count={count!r} must be a whole number from 0 on")
    if not (exposure > 0.0 and math.isfinite(exposure)):
        raise ConfigError(f"exposure={exposure!r} must be positive: nothing was listened to")
    if not 0.0 < confidence < 1.0:
        raise ConfigError(f"confidence={confidence!r} must lie between 0 and 1, for instance 0.95")


@dataclass(frozen=True, slots=True)
class Ratio:
    """A ratio of two rates with its limits; infinite where the base is 0."""

    value: float
    low: float
    high: float


def rate_ratio_conditional(
    count: int, exposure: float, base_count: int, base_exposure: float, confidence: float
) -> Ratio:
    """Return the ratio of a rate to a base rate with two-sided exact limits.

    Given the sum of both counts, ``count`` is binomial with the odds ratio * exposure / base_exposure; the limits are
    those of Clopper and Pearson (1934) for its probability, turned into ratios (Przyborowski and Wilenski 1940).
    Without any event nothing is known: the value is NaN, the limits are 0 and infinity.

    Raises ConfigError as ``poisson_interval_garwood``.

    >>> ratio = rate_ratio_conditional(2, 1.0, 8, 1.0, 0.95)
    >>> round(ratio.value, 3), round(ratio.low, 4), round(ratio.high, 4)
    (0.25, 0.0259, 1.2527)
    """
    _require(count, exposure, confidence)
    _require(base_count, base_exposure, confidence)
    total = count + base_count
    if total == 0:
        return Ratio(math.nan, 0.0, math.inf)
    tail = (1.0 - confidence) / 2.0
    low = float(betaincinv(count, base_count + 1, tail)) if count > 0 else 0.0
    high = float(betaincinv(count + 1, base_count, 1.0 - tail)) if base_count > 0 else 1.0
    scale = base_exposure / exposure
    return Ratio(
        scale * count / base_count if base_count else math.inf,
        scale * low / (1.0 - low) if low < 1.0 else math.inf,
        scale * high / (1.0 - high) if high < 1.0 else math.inf,
    )
