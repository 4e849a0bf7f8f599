"""What the moments of a start say: whether the siphon has caught by then, and whether anything still sounds after it.

Both are weighted sums of a few named quantities, in log-odds, fitted by logistic regression on rehearsal draws with
training seeds (``python -m tests.bench.restarts_fit`` prints the tables anew). A quantity looks some seconds back and
ahead: one gulp is like another, but only air that is driven out gurgles on until the noise falls for good.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from tuner.terms import Floor, Moment, SoundKind

Floats = NDArray[np.float64]

LOWEST_HZ = 250.0  # below, a pump's hum lies over what the water does
MOST_STEADY_DB = 6.0
HUM_SPREAD_DB = 0.6
_BANDS = 4
_PEAK = 8  # moments
_MOST_ODDS = 4.0  # what one moment can say for or against: no single one decides
_LOW_HZ, _HIGH_HZ, _TOP_HZ = 600.0, 1700.0, 9000.0
_BRIGHT_HZ = 2000.0
_AROUND = 40  # moments to either side
_QUIETEST = 0.3  # share of the time after the catch that is quiet, at the least
_SOUNDING_ODDS = 1.0  # a room that stirs is no sound of the start
_OVER_DB = 4.0

CAUGHT: Mapping[str, float] = {
    "": -1.2487,
    "over_db": -0.0128,
    "under_top_db": -0.0628,
    "gurgle": -3.7965,
    "trickle": 1.5647,
    "gurgle_10_s_before": 6.0572,
    "gurgle_10_s_after": -6.7585,
    "slurp": 2.5133,
    "over_3_s_after_db": 0.0562,
    "over_10_s_after_db": -0.1915,
    "over_3_s_before_db": -0.137,
    "over_10_s_before_db": 0.0569,
    "top_within_30_s_db": -0.2565,
    "low_bands_db": 0.2913,
    "high_bands_db": 0.1077,
}
"""Log-odds that the siphon has caught before a moment, by one unit of each quantity of ``catch_quantities``."""

SOUNDING: Mapping[str, float] = {
    "": -4.4223,
    "top_bands_db": 0.0854,
    "bright_bands_over_40_s_db": 3.0423,
    "root_of_trickle_for_3_s": 7.004,
}
"""Log-odds that anything sounds in a moment after the catch, by one unit of each of ``end_quantities``."""


def loudness_db(moments: Sequence[Moment], floor: Floor) -> Floats:
    """Return how far the four loudest third-octaves from 250 Hz up stand over the room, shape (n_moments,)."""
    _, over = _over_room_db(moments, floor)
    top: Floats = np.sort(over, axis=1)[:, -_BANDS:].mean(axis=1)
    return top


def is_steady(over: Floats) -> bool:
    """Tell whether the end of a loudness (dB) is as steady as a pump's hum, of any height; water never is."""
    return float(np.std(over[-20:])) < HUM_SPREAD_DB


def steady_db(over: Floats) -> float:
    """Return what the end of a loudness (dB over the room) stands at, where that can be taken for the pump's hum."""
    middle = float(np.median(over[-40:]))
    return middle if is_steady(over) else min(middle, MOST_STEADY_DB)


def catch_quantities(moments: Sequence[Moment], floor: Floor) -> dict[str, Floats]:
    """Return the quantities by which a catch is told, each of shape (n_moments,); levels in dB, shares 0-1."""
    loud = loudness_db(moments, floor)
    over = _mean(loud - steady_db(loud), 5)
    top = float(np.mean(np.sort(over)[-_PEAK:]))
    hz, excess = _over_room_db(moments, floor)
    excess = np.maximum(excess, 0.0)
    middle = excess.mean(axis=1)
    gurgle, slurp, trickle = (probability(moments, kind) for kind in ("gurgle", "slurp", "trickle"))
    return {
        "over_db": over,
        "under_top_db": np.minimum(over - top, 0.0),
        "gurgle": _mean(gurgle, 3),
        "trickle": _mean(trickle, 3),
        "gurgle_10_s_before": _before(gurgle, 20),
        "gurgle_10_s_after": _after(gurgle, 20),
        # A siphon that takes more than comes slurps at once after it has caught, about as loud as before.
        "slurp": _mean(slurp, 3),
        "over_3_s_after_db": _after(over, 6),
        "over_10_s_after_db": _after(over, 20),
        "over_3_s_before_db": _before(over, 6),
        "over_10_s_before_db": _before(over, 20),
        "top_within_30_s_db": np.array([over[i : i + 60].max() for i in range(len(over))]) - top,
        "low_bands_db": _mean(_band_db(excess, hz < _LOW_HZ) - middle, 5),
        "high_bands_db": _mean(_band_db(excess, (hz >= _HIGH_HZ) & (hz < _TOP_HZ)) - middle, 5),
    }


def end_quantities(moments: Sequence[Moment], floor: Floor, caught: int) -> dict[str, Floats]:
    """Return the quantities by which sound after the catch (moment ``caught``) is told, each of shape (n_moments,)."""
    hz, over = _over_room_db(moments, floor)
    # A hum may stand high over the room and is no sound of the start; water that goes on may not pass for one.
    quiet = np.quantile(over[caught + 2 :], _QUIETEST, axis=0)
    if not is_steady(loudness_db(moments, floor)):
        quiet = np.minimum(quiet, MOST_STEADY_DB)
    excess = over - quiet
    bright = _mean(_band_db(np.clip(excess, -3.0, 6.0), hz >= _BRIGHT_HZ), 3)
    # A room stirs slowly, by a decibel or two: what lasts for less than half a minute stands out of it.
    around = [bright[max(caught + 1, i - _AROUND) : i + _AROUND + 1] for i in range(caught + 1, len(bright))]
    stirring = np.concatenate([np.zeros(caught + 1), [np.quantile(part, 0.25) for part in around]])
    return {
        "top_bands_db": _mean(np.sort(excess, axis=1)[:, -_BANDS:].mean(axis=1), 3),
        "bright_bands_over_40_s_db": np.clip(bright - stirring, -2.0, 4.0),
        "root_of_trickle_for_3_s": np.sqrt(_mean(probability(moments, "trickle"), 7)),
    }


def log_odds(quantities: Mapping[str, Floats], weights: Mapping[str, float]) -> Floats:
    """Return the weighted sum of quantities, shape (n_moments,); the weight without a quantity, "", is the constant."""
    total = np.full(len(next(iter(quantities.values()))), weights[""])
    for name, values in quantities.items():
        total = total + weights[name] * values
    return total


def caught_from(odds: Floats) -> int:
    """Return the first moment after the catch: where all moments speak best, those before against, the rest for.

    ``len(odds)`` when nothing speaks for a catch.
    """
    bounded = np.clip(odds, -_MOST_ODDS, _MOST_ODDS)
    rest = np.append(np.cumsum(bounded[::-1])[::-1], 0.0)
    return int(np.argmax(rest))


def sounding_until(quantities: Mapping[str, Floats], weights: Mapping[str, float], caught: int) -> int:
    """Return the last moment after the catch (moment ``caught``) that sounds; ``caught - 1`` when none does.

    ``quantities`` are those of ``end_quantities``. One moment alone is not counted: it takes two in a row.
    """
    sounding = (log_odds(quantities, weights) > _SOUNDING_ODDS) | (quantities["top_bands_db"] > _OVER_DB)
    lasting = np.flatnonzero(sounding[caught + 1 :] & sounding[caught:-1])
    return caught + 1 + int(lasting[-1]) if lasting.size else caught - 1


def probability(moments: Sequence[Moment], kind: SoundKind) -> Floats:
    """Return how sure a kind of sound is heard, shape (n_moments,)."""
    return np.array([moment.probability[kind] for moment in moments])


def _over_room_db(moments: Sequence[Moment], floor: Floor) -> tuple[Floats, Floats]:
    """Return the third-octaves from 250 Hz up (Hz) and how far they stand over the room, shape (n_moments, n_bands)."""
    room = dict(zip(floor.levels.third_octave_hz, floor.levels.third_octave_db, strict=True))
    hz = moments[0].third_octave_hz
    places = [i for i, at in enumerate(hz) if at >= LOWEST_HZ and at in room]
    quiet = np.array([room[hz[i]] for i in places])
    over: Floats = np.array([m.third_octave_db for m in moments])[:, places] - quiet
    return np.array([hz[i] for i in places]), over


def _band_db(over: Floats, chosen: NDArray[np.bool_]) -> Floats:
    middle: Floats = over[:, chosen].mean(axis=1) if chosen.any() else np.zeros(len(over))
    return middle


def _mean(values: Floats, n: int) -> Floats:
    """Return the mean of ``n`` (odd) moments around each."""
    return _run(np.pad(values, n // 2, mode="edge"), n)


def _after(values: Floats, n: int) -> Floats:
    """Return the mean of the ``n`` moments after each; the last one is taken to go on."""
    return _run(np.pad(values[1:], (0, n), mode="edge"), n)[: len(values)]


def _before(values: Floats, n: int) -> Floats:
    return _after(values[::-1], n)[::-1]


def _run(values: Floats, n: int) -> Floats:
    mean: Floats = np.convolve(values, np.full(n, 1.0 / n), mode="valid")
    return mean
