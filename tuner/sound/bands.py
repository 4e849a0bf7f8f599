"""Octave and third-octave bands to IEC 61260-1 (base ten), and the matrix that sums bins into them.

Octave ratio G = 10^(3/10). Third-octave centres are 1000·10^(n/10) Hz with edges at ·10^(±1/20), octave
centres 1000·10^(3n/10) Hz with edges at ·10^(±3/20). Nominal names (31.5, 1250 Hz) label a band; its
arithmetic always uses the exact centre, and every function here takes either of the two.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tuner.errors import ConfigError

Floats = NDArray[np.float64]

# The ten preferred numbers of a decade (ISO 3, R10) as IEC 61260-1 annex E names the bands.
_NOMINAL = (1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0)
# Nominal and exact centres differ by at most 1.2 % (1.25 against 1.2589 is 0.7 %, 3.15 against 3.1623 0.4 %).
_NAME_TOLERANCE = 0.02


def _band_number(centre_hz: float, step: int) -> int:
    """Return n of the band centre 1000·10^(n/10) next to ``centre_hz``; n is a multiple of ``step``."""
    if not (math.isfinite(centre_hz) and centre_hz > 0.0):
        raise ConfigError(f"centre_hz={centre_hz!r} must be a positive frequency")
    number = step * round(10.0 * math.log10(centre_hz / 1000.0) / step)
    exact_hz = 1000.0 * 10.0 ** (number / 10.0)
    if abs(centre_hz / exact_hz - 1.0) > _NAME_TOLERANCE:
        kind = "an octave" if step == 3 else "a third-octave"
        raise ConfigError(f"centre_hz={centre_hz:g} must be {kind} centre: the nearest is {exact_hz:g} Hz")
    return number


def _centres_hz(lowest_hz: float, highest_hz: float, step: int) -> Floats:
    first, last = _band_number(lowest_hz, step), _band_number(highest_hz, step)
    if last < first:
        raise ConfigError(f"highest_hz={highest_hz:g} must be at least lowest_hz={lowest_hz:g}")
    return 1000.0 * 10.0 ** (np.arange(first, last + 1, step) / 10.0)


def third_octave_centres_hz(lowest_hz: float, highest_hz: float) -> Floats:
    """Return the exact third-octave centres (Hz) from one named band to another, both included.

    Raises ConfigError when either is no band centre.

    >>> third_octave_centres_hz(800, 1250).round(2).tolist()
    [794.33, 1000.0, 1258.93]
    """
    return _centres_hz(lowest_hz, highest_hz, 1)


def octave_centres_hz(lowest_hz: float, highest_hz: float) -> Floats:
    """Return the exact octave centres (Hz) from one named band to another, both included.

    Raises ConfigError when either is no band centre.

    >>> octave_centres_hz(63, 250).round(3).tolist()
    [63.096, 125.893, 251.189]
    """
    return _centres_hz(lowest_hz, highest_hz, 3)


def _edges_hz(centres_hz: ArrayLike, step: int) -> Floats:
    numbers = np.array([_band_number(float(c), step) for c in np.atleast_1d(np.asarray(centres_hz))])
    return np.stack(
        [1000.0 * 10.0 ** (numbers / 10.0 - step / 20.0), 1000.0 * 10.0 ** (numbers / 10.0 + step / 20.0)],
        axis=1,
    )


def third_octave_edges_hz(centres_hz: ArrayLike) -> Floats:
    """Return lower and upper edges (Hz), shape (n_bands, 2), of third-octaves given by name or exact centre.

    >>> third_octave_edges_hz([1000.0]).round(2).tolist()
    [[891.25, 1122.02]]
    """
    return _edges_hz(centres_hz, 1)


def octave_edges_hz(centres_hz: ArrayLike) -> Floats:
    """Return lower and upper edges (Hz), shape (n_bands, 2), of octaves given by name or exact centre.

    >>> octave_edges_hz([1000.0]).round(2).tolist()
    [[707.95, 1412.54]]
    """
    return _edges_hz(centres_hz, 3)


def nominal_hz(centre_hz: float) -> float:
    """Return the nominal centre of a third-octave (an octave has the same name), in Hz.

    >>> nominal_hz(1258.925), nominal_hz(31.6228)
    (1250.0, 31.5)
    """
    number = _band_number(centre_hz, 1)
    decade, place = divmod(number, 10)
    return round(_NOMINAL[place] * 10.0 ** (decade + 3), 6)


def nominal_name(centre_hz: float) -> str:
    """Return a band's nominal name as it is written on an axis.

    >>> nominal_name(31.6228), nominal_name(1258.925), nominal_name(16000)
    ('31.5', '1.25k', '16k')
    """
    nominal = nominal_hz(centre_hz)
    return f"{nominal:g}" if nominal < 1000.0 else f"{nominal / 1000.0:g}k"


def band_weights(frequencies_hz: ArrayLike, edges_hz: ArrayLike) -> Floats:
    """Return the weights, shape (n_bands, n_bins), that sum a one-sided power spectrum's bins into bands.

    ``power @ band_weights(...).T`` gives the bands' powers. ``frequencies_hz`` are the evenly spaced bins of
    a real FFT from 0 Hz to the Nyquist frequency, ``edges_hz`` has shape (n_bands, 2). A bin stands for the
    interval of one spacing around it (the first and the last for half of one, as their power is not
    doubled); a bin that an edge cuts is shared in proportion, so a white spectrum's band powers are exact.

    Raises ConfigError for bins that are not evenly spaced from 0 Hz, for edges in the wrong order and for a
    band that reaches above the last bin.
    """
    frequencies = np.asarray(frequencies_hz, dtype=np.float64)
    edges = np.atleast_2d(np.asarray(edges_hz, dtype=np.float64))
    if frequencies.ndim != 1 or frequencies.size < 2 or frequencies[0] != 0.0:
        raise ConfigError("frequencies_hz must be the bins of a real FFT, starting at 0 Hz")
    spacing = float(frequencies[-1]) / (frequencies.size - 1)
    if not np.allclose(np.diff(frequencies), spacing, rtol=1e-6, atol=0.0):
        raise ConfigError("frequencies_hz must be evenly spaced")
    if edges.ndim != 2 or edges.shape[1] != 2 or not bool(np.all(edges[:, 0] < edges[:, 1])):
        raise ConfigError("edges_hz must have shape (n_bands, 2) with every lower edge below its upper edge")
    if not bool(np.all((edges >= 0.0) & (edges <= frequencies[-1]))):
        raise ConfigError(
            f"edges_hz={float(edges.max()):g} must be at most {float(frequencies[-1]):g} Hz: "
            "the sample rate is too low for this band"
        )
    lower = np.maximum(frequencies - spacing / 2.0, 0.0)
    upper = np.minimum(frequencies + spacing / 2.0, frequencies[-1])
    overlap = np.minimum(upper, edges[:, 1:2]) - np.maximum(lower, edges[:, 0:1])
    weights: Floats = np.maximum(overlap, 0.0) / (upper - lower)
    return weights
