"""Frequency weightings A and C of IEC 61672-1, from their analytic form.

The pole frequencies follow from the four design values that annex E of IEC 61672-1:2013 gives (reference
1000 Hz, low cut-off 10^1.5 Hz, high cut-off 10^3.9 Hz, A-weighting corner 10^2.45 Hz); rounded they are
20.60, 107.7, 737.9 and 12194 Hz. The curves hold at every frequency: no digital filter is involved, so
nothing is bent near the Nyquist frequency.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tuner.errors import ConfigError

Curve = NDArray[np.float64]

_REFERENCE_HZ = 1000.0
_LOW_CUT_HZ = 10.0**1.5
_HIGH_CUT_HZ = 10.0**3.9
_A_CORNER_HZ = 10.0**2.45


def _pole_squares() -> tuple[float, float, float, float]:
    """Return the squares of the four pole frequencies (Hz²), IEC 61672-1:2013 annex E."""
    reference, low, high = _REFERENCE_HZ**2, _LOW_CUT_HZ**2, _HIGH_CUT_HZ**2
    root_half = math.sqrt(0.5)
    b = (reference + low * high / reference - root_half * (low + high)) / (1.0 - root_half)
    c = low * high
    f1 = (-b - math.sqrt(b * b - 4.0 * c)) / 2.0
    f4 = (-b + math.sqrt(b * b - 4.0 * c)) / 2.0
    f2 = (_A_CORNER_HZ * (3.0 - math.sqrt(5.0)) / 2.0) ** 2
    f3 = (_A_CORNER_HZ * (3.0 + math.sqrt(5.0)) / 2.0) ** 2
    return f1, f2, f3, f4


_F1, _F2, _F3, _F4 = _pole_squares()


def _squares(frequency_hz: ArrayLike) -> Curve:
    frequency = np.asarray(frequency_hz, dtype=np.float64)
    if not bool(np.all(frequency >= 0.0)):
        raise ConfigError("frequency_hz must be at least 0 everywhere: a spectrum's bins run from 0 upwards")
    return frequency * frequency


def _a_power(square: Curve) -> Curve:
    # In powers (amplitudes squared), hence squares of squares.
    top: Curve = (_F4 * square * square) ** 2
    bottom: Curve = ((square + _F1) * (square + _F4)) ** 2 * (square + _F2) * (square + _F3)
    return top / bottom


def _c_power(square: Curve) -> Curve:
    top: Curve = (_F4 * square) ** 2
    bottom: Curve = ((square + _F1) * (square + _F4)) ** 2
    return top / bottom


def a_weighting_power(frequency_hz: ArrayLike) -> Curve:
    """Return the A-weighting as a factor on power, 1 at 1 kHz and 0 at 0 Hz; same shape as the input.

    >>> float(a_weighting_power(1000.0))
    1.0
    """
    return _a_power(_squares(frequency_hz)) / _a_power(np.asarray(_REFERENCE_HZ**2))


def c_weighting_power(frequency_hz: ArrayLike) -> Curve:
    """Return the C-weighting as a factor on power, 1 at 1 kHz and 0 at 0 Hz; same shape as the input.

    >>> float(c_weighting_power(1000.0))
    1.0
    """
    return _c_power(_squares(frequency_hz)) / _c_power(np.asarray(_REFERENCE_HZ**2))


def a_weighting_db(frequency_hz: ArrayLike) -> Curve:
    """Return the A-weighting of IEC 61672-1 in dB; -inf at 0 Hz; same shape as the input.

    Raises ConfigError for a negative frequency.

    >>> round(float(a_weighting_db(100.0)), 1)
    -19.1
    """
    with np.errstate(divide="ignore"):
        return 10.0 * np.log10(a_weighting_power(frequency_hz))


def c_weighting_db(frequency_hz: ArrayLike) -> Curve:
    """Return the C-weighting of IEC 61672-1 in dB; -inf at 0 Hz; same shape as the input.

    Raises ConfigError for a negative frequency.

    >>> round(float(c_weighting_db(8000.0)), 1)
    -3.0
    """
    with np.errstate(divide="ignore"):
        return 10.0 * np.log10(c_weighting_power(frequency_hz))
