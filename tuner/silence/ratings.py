"""Noise ratings of a room: NC by tangency and NR, from calibrated octave levels.

Both hold a spectrum against a family of curves and take the highest curve that any band reaches. They speak of
sound pressure levels: of a microphone without calibration they say nothing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from tuner.errors import ConfigError
from tuner.sound.bands import nominal_hz
from tuner.sound.decibels import energy_sum_db
from tuner.terms import Levels

NC_OCTAVES_HZ: tuple[float, ...] = (63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0)
NC_CURVES_DB: dict[int, tuple[float, ...]] = {
    15: (47.0, 36.0, 29.0, 22.0, 17.0, 14.0, 12.0, 11.0),
    20: (51.0, 40.0, 33.0, 26.0, 22.0, 19.0, 17.0, 16.0),
    25: (54.0, 44.0, 37.0, 31.0, 27.0, 24.0, 22.0, 21.0),
    30: (57.0, 48.0, 41.0, 35.0, 31.0, 29.0, 28.0, 27.0),
    35: (60.0, 52.0, 45.0, 40.0, 36.0, 34.0, 33.0, 32.0),
    40: (64.0, 56.0, 50.0, 45.0, 41.0, 39.0, 38.0, 37.0),
    45: (67.0, 60.0, 54.0, 49.0, 46.0, 44.0, 43.0, 42.0),
    50: (71.0, 64.0, 58.0, 54.0, 51.0, 49.0, 48.0, 47.0),
    55: (74.0, 67.0, 62.0, 58.0, 56.0, 54.0, 53.0, 52.0),
    60: (77.0, 71.0, 67.0, 63.0, 61.0, 59.0, 58.0, 57.0),
    65: (80.0, 75.0, 71.0, 68.0, 66.0, 64.0, 63.0, 62.0),
}
"""The curves of Beranek as ANSI/ASA S12.2 prints them (45 and above from memory), dB over ``NC_OCTAVES_HZ``."""

NR_OCTAVES_HZ: tuple[float, ...] = (31.5, *NC_OCTAVES_HZ)
NR_CURVES = (0.0, 130.0)
"""The lowest and the highest curve of the family, ISO 1996:1971."""
_NR_A_DB: tuple[float, ...] = (55.4, 35.4, 22.0, 12.0, 4.8, 0.0, -3.5, -6.1, -8.0)
_NR_B: tuple[float, ...] = (0.681, 0.790, 0.870, 0.930, 0.974, 1.0, 1.015, 1.025, 1.030)


@dataclass(frozen=True, slots=True)
class Rating:
    """A rating and the octave (Hz) that sets it.

    ``value`` is None when the spectrum lies wholly below the lowest curve (``bound`` is then that curve: "below NC
    15", "below NR 0") or reaches above the highest one (``bound`` is that one: "above NC 65").
    """

    family: str
    value: float | None
    octave_hz: float
    bound: float | None = None

    @property
    def text(self) -> str:
        """The rating as it is written: ``NC 46 (500 Hz)``."""
        if self.value is not None:
            return f"{self.family} {self.value:.0f} ({self.octave_hz:g} Hz)"
        side = "below" if self.bound in (NR_CURVES[0], min(NC_CURVES_DB)) else "above"
        return f"{side} {self.family} {self.bound:g}"


def nr_curve_db(rating: float) -> tuple[float, ...]:
    """Return the NR curve (dB over ``NR_OCTAVES_HZ``) of a rating: L = a + b NR, ISO 1996:1971 / Kosten and van Os.

    Printed sets of a and b differ by up to 0.6 dB at 63 and 500 Hz.

    >>> [round(level, 1) for level in nr_curve_db(25.0)][3:6]
    [35.2, 29.1, 25.0]
    """
    return tuple(a + b * rating for a, b in zip(_NR_A_DB, _NR_B, strict=True))


def noise_criterion(octave_db: Sequence[float]) -> Rating:
    """Return the NC rating by tangency of octave levels (dB re 20 µPa) over ``NC_OCTAVES_HZ``.

    Between two curves the rating is interpolated in the band that sets it.

    Raises ConfigError unless there is one finite level for each octave.

    >>> noise_criterion([61, 56, 54, 50, 44, 43, 39, 34]).text
    'NC 46 (500 Hz)'
    """
    levels = _require(octave_db, NC_OCTAVES_HZ)
    names = sorted(NC_CURVES_DB)
    best: Rating | None = None
    for place, (octave_hz, level) in enumerate(zip(NC_OCTAVES_HZ, levels, strict=True)):
        column = [NC_CURVES_DB[name][place] for name in names]
        value = _between(level, column, names)
        if best is None or best.value is None or value > best.value:
            best = Rating("NC", value, octave_hz)
    assert best is not None
    assert best.value is not None
    if math.isinf(best.value):
        return Rating("NC", None, best.octave_hz, float(names[0] if best.value < 0.0 else names[-1]))
    return best


def _between(level: float, column: Sequence[float], names: Sequence[int]) -> float:
    """Return where a level stands among the curves of one band: minus infinity below, plus infinity above them."""
    if level < column[0]:
        return -math.inf
    for low, high, name in zip(column, column[1:], names, strict=False):
        if level <= high:
            return name + (names[1] - names[0]) * (level - low) / (high - low)
    return math.inf


def noise_rating(octave_db: Sequence[float]) -> Rating:
    """Return the NR rating of octave levels (dB re 20 µPa) over ``NR_OCTAVES_HZ``.

    Raises ConfigError unless there is one finite level for each octave.

    >>> noise_rating([72.0, 54.7, 43.8, 35.2, 29.2, 25.0, 21.9, 19.5, 17.8]).text
    'NR 25 (125 Hz)'
    """
    levels = _require(octave_db, NR_OCTAVES_HZ)
    values = [(level - a) / b for level, a, b in zip(levels, _NR_A_DB, _NR_B, strict=True)]
    top = max(range(len(values)), key=values.__getitem__)
    low, high = NR_CURVES
    if not low <= values[top] <= high:
        return Rating("NR", None, NR_OCTAVES_HZ[top], low if values[top] < low else high)
    return Rating("NR", values[top], NR_OCTAVES_HZ[top])


def octave_levels_db(
    thirds_hz: Sequence[float], thirds_db: Sequence[float], octaves_hz: Sequence[float]
) -> tuple[float, ...]:
    """Return octave levels (dB), each the energy sum of its three third-octaves.

    Raises ConfigError when a third-octave of an octave is missing: the sample rate was too low.
    """
    by_name = dict(zip(map(nominal_hz, thirds_hz), thirds_db, strict=True))
    found = []
    for octave_hz in octaves_hz:
        names = [nominal_hz(1000.0 * 10.0 ** (n / 10.0)) for n in _third_numbers(octave_hz)]
        missing = [name for name in names if name not in by_name]
        if missing:
            raise ConfigError(f"third_octave_hz must hold {missing[0]:g} Hz for the {octave_hz:g} Hz octave")
        found.append(energy_sum_db(by_name[name] for name in names))
    return tuple(found)


def _third_numbers(octave_hz: float) -> tuple[int, int, int]:
    middle = 3 * round(math.log10(octave_hz / 1000.0) * 10.0 / 3.0)
    return middle - 1, middle, middle + 1


def rate(levels: Levels) -> tuple[Rating, Rating]:
    """Return the NC and NR ratings of calibrated levels; NR from the octaves that NC has (its lowest is left out).

    Raises ConfigError for levels that are not calibrated: a rating is a statement about sound pressure.
    """
    if not levels.calibrated:
        raise ConfigError("calibrated=False must be True for a rating: 'hushweir mic calibrate' makes it so")
    return _rate(levels.third_octave_hz, levels.third_octave_db)


def _rate(thirds_hz: Sequence[float], thirds_db: Sequence[float]) -> tuple[Rating, Rating]:
    octaves = octave_levels_db(thirds_hz, thirds_db, NC_OCTAVES_HZ)
    # Microphones seldom reach down to 31.5 Hz, whose curve is far above any room's level.
    return noise_criterion(octaves), noise_rating((-math.inf, *octaves))


def rating_text(levels: Levels) -> str:
    """Return both ratings as they are written, or "" where none can be given: not calibrated, or too low a rate.

    >>> rating_text(Levels(30.0, 31.0, 30.0, 29.0, 32.0, (1000.0,), (25.0,)))
    ''
    """
    return rating_of_thirds(levels.third_octave_hz, levels.third_octave_db) if levels.calibrated else ""


def rating_of_thirds(thirds_hz: Sequence[float], thirds_db: Sequence[float]) -> str:
    """Return both ratings of third-octave levels (dB re 20 µPa) as they are written, "" where an octave is missing."""
    try:
        nc, nr = _rate(thirds_hz, thirds_db)
    except ConfigError:
        return ""
    return f"{nc.text}, {nr.text}"


def _require(octave_db: Sequence[float], octaves_hz: Sequence[float]) -> list[float]:
    levels = [float(level) for level in octave_db]
    if len(levels) != len(octaves_hz) or any(math.isnan(level) for level in levels):
        raise ConfigError(f"octave_db={levels!r} must be {len(octaves_hz)} levels: one for each octave")
    return levels
