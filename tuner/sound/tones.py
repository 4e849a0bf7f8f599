"""Tones in a long spectrum: tone-to-noise ratio and prominence ratio in the form of ECMA-418-1.

Both compare a tone with what surrounds it in critical bands: the tone-to-noise ratio (TNR) with the noise of
the tone's own critical band, the prominence ratio (PR) the whole band with its two neighbours. A tone is
called prominent from 8 dB (TNR) or 9 dB (PR) at 1 kHz and above; the limits rise towards low frequencies.
The standard speaks of tones from 89.1 to 11220 Hz, and so does this module: a 50 Hz hum is seen by its
100 Hz line. At 100 Hz the critical band runs from 50 to 150 Hz, so shaft, hum and blade tones may share
one; TNR takes all their lines out of the noise, PR cannot tell them apart.

Feed an average of several long spectra: in a single one noise itself stands 10 dB up in places.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tuner.errors import ConfigError
from tuner.sound.decibels import level_db

LOWEST_TONE_HZ = 89.1
HIGHEST_TONE_HZ = 11220.0

Floats = NDArray[np.float64]

# A candidate's five lines hold at least four times (6 dB) the noise that would fill them.
_CANDIDATE_RATIO = 4.0
# Half of a Hann window's main lobe, in bins.
_LOBE_BINS = 2
# Below this frequency the lower neighbour band is cut off at 20 Hz and PR scales it up.
_TRUNCATED_BELOW_HZ = 171.4
# Coarser bins than this do not separate a tone from the noise in a critical band of 100 Hz.
_COARSEST_BIN_HZ = 5.0


@dataclass(frozen=True, slots=True)
class Tone:
    """One tone of a spectrum.

    ``level_db`` is its own level in the scale of the spectrum (10 lg of the mean square), ``tnr_db`` the
    tone-to-noise ratio, ``prominence_db`` the prominence ratio (None when the spectrum ends before the
    neighbour band does).
    """

    frequency_hz: float
    level_db: float
    prominence_db: float | None
    tnr_db: float

    @property
    def prominent(self) -> bool:
        """Whether it is a prominent discrete tone by either ratio."""
        by_pr = self.prominence_db is not None and self.prominence_db >= prominence_limit_db(self.frequency_hz)
        return by_pr or self.tnr_db >= tnr_limit_db(self.frequency_hz)


def _require_tone_hz(frequency_hz: float) -> float:
    if not LOWEST_TONE_HZ <= frequency_hz <= HIGHEST_TONE_HZ:
        raise ConfigError(
            f"frequency_hz={frequency_hz:g} must be from {LOWEST_TONE_HZ} to {HIGHEST_TONE_HZ:g} Hz: "
            "ECMA-418-1 covers no other tones"
        )
    return frequency_hz


def prominence_limit_db(frequency_hz: float) -> float:
    """Return the prominence ratio (dB) from which a tone is prominent (ECMA-418-1).

    Raises ConfigError outside 89.1 to 11220 Hz.

    >>> round(prominence_limit_db(100.0), 1), prominence_limit_db(2000.0)
    (19.0, 9.0)
    """
    return 9.0 + 10.0 * math.log10(max(1000.0 / _require_tone_hz(frequency_hz), 1.0))


def tnr_limit_db(frequency_hz: float) -> float:
    """Return the tone-to-noise ratio (dB) from which a tone is prominent (ECMA-418-1).

    Raises ConfigError outside 89.1 to 11220 Hz.

    >>> round(tnr_limit_db(100.0), 1), tnr_limit_db(2000.0)
    (16.3, 8.0)
    """
    return 8.0 + 8.33 * math.log10(max(1000.0 / _require_tone_hz(frequency_hz), 1.0))


def critical_bandwidth_hz(frequency_hz: float) -> float:
    """Return the width (Hz) of the critical band around a tone (ECMA-418-1).

    >>> round(critical_bandwidth_hz(1000.0), 1)
    162.2
    """
    return 25.0 + 75.0 * math.pow(1.0 + 1.4 * (frequency_hz / 1000.0) ** 2, 0.69)


def critical_band_hz(frequency_hz: float) -> tuple[float, float]:
    """Return the edges (Hz) of the critical band: centred arithmetically below 500 Hz, geometrically above.

    >>> [round(edge) for edge in critical_band_hz(100.0)]
    [50, 150]
    """
    width = critical_bandwidth_hz(frequency_hz)
    if frequency_hz < 500.0:
        return frequency_hz - width / 2.0, frequency_hz + width / 2.0
    lower = math.sqrt(width * width + 4.0 * frequency_hz**2) / 2.0 - width / 2.0
    return lower, lower + width


def neighbour_edges_hz(frequency_hz: float) -> tuple[float, float]:
    """Return the lower edge of the band below and the upper edge of the band above (Hz) for PR.

    The polynomials of ECMA-74 annex D / ECMA-418-1, as MOSQITO 1.2.1 has them.
    """
    f = frequency_hz
    if f < _TRUNCATED_BELOW_HZ:
        lower = 20.0
    elif f <= 1600.0:
        lower = -149.5 + 1.001 * f - 6.90e-5 * f * f
    else:
        lower = 6.8 + 0.806 * f - 8.20e-6 * f * f
    upper = 149.5 + 1.035 * f + 7.70e-5 * f * f if f <= 1600.0 else 3.3 + 1.215 * f + 2.16e-5 * f * f
    return lower, upper


class _Spectrum:
    """A one-sided power spectrum with its running sum, for the power between any two frequencies."""

    def __init__(self, power: ArrayLike, frequencies_hz: ArrayLike) -> None:
        self.power: Floats = np.asarray(power, dtype=np.float64)
        frequencies: Floats = np.asarray(frequencies_hz, dtype=np.float64)
        if self.power.ndim != 1 or self.power.shape != frequencies.shape or self.power.size < 2:
            raise ConfigError(
                f"power of shape {self.power.shape} must be one spectrum over its bins "
                f"frequencies_hz of shape {frequencies.shape}"
            )
        if not bool(np.all(self.power >= 0.0)):
            raise ConfigError("power must be at least 0 everywhere: give powers, not levels in dB")
        self.spacing_hz = float(frequencies[-1]) / (frequencies.size - 1)
        even = np.allclose(np.diff(frequencies), self.spacing_hz, rtol=1e-6, atol=0.0)
        if frequencies[0] != 0.0 or not even or self.spacing_hz > _COARSEST_BIN_HZ:
            raise ConfigError(
                "frequencies_hz must be evenly spaced bins from 0 Hz, at most "
                f"{_COARSEST_BIN_HZ:g} Hz apart: take a long spectrum"
            )
        self.highest_hz = float(frequencies[-1])
        self._borders_hz = np.append(frequencies - self.spacing_hz / 2.0, self.highest_hz)
        self._borders_hz[0] = 0.0
        self._sums = np.concatenate([[0.0], np.cumsum(self.power)])

    def between(self, lower_hz: float, upper_hz: float) -> float:
        """Return the power between two frequencies; a bin that is cut is shared in proportion."""
        lower, upper = np.interp([lower_hz, upper_hz], self._borders_hz, self._sums)
        return float(upper - lower)


def _prominence_db(spectrum: _Spectrum, frequency_hz: float) -> float | None:
    lower, upper = critical_band_hz(frequency_hz)
    lowest, highest = neighbour_edges_hz(frequency_hz)
    if highest > spectrum.highest_hz:
        return None
    below = spectrum.between(lowest, lower)
    if frequency_hz <= _TRUNCATED_BELOW_HZ:
        below *= 100.0 / (lower - lowest)
    middle, above = spectrum.between(lower, upper), spectrum.between(upper, highest)
    return level_db(middle) - level_db((below + above) / 2.0)


def prominence_ratio_db(power: ArrayLike, frequencies_hz: ArrayLike, tone_hz: float) -> float | None:
    """Return the prominence ratio (dB) of the critical band around ``tone_hz`` (ECMA-418-1).

    ``power`` is a one-sided power spectrum, shape (n_bins,), over evenly spaced bins from 0 Hz. None when
    the spectrum ends before the upper neighbour band does.

    Raises ConfigError for a tone outside 89.1 to 11220 Hz and for a spectrum that is none.
    """
    return _prominence_db(_Spectrum(power, frequencies_hz), _require_tone_hz(tone_hz))


def _noise_per_bin(spectrum: _Spectrum) -> Floats:
    """Return the noise in each bin: medians over half-overlapping critical bands, which lines do not lift."""
    middles_hz, medians = [], []
    middle = LOWEST_TONE_HZ / 2.0
    while middle < min(1.2 * HIGHEST_TONE_HZ, spectrum.highest_hz):
        half = critical_bandwidth_hz(middle) / 2.0
        first = max(int((middle - half) / spectrum.spacing_hz), 0)
        middles_hz.append(middle)
        medians.append(float(np.median(spectrum.power[first : int((middle + half) / spectrum.spacing_hz) + 1])))
        middle += half
    bins_hz = np.arange(spectrum.power.size) * spectrum.spacing_hz
    noise: Floats = np.interp(bins_hz, middles_hz, medians)
    return noise


def _lines(power: Floats, noise: Floats, peak: int) -> tuple[int, int]:
    """Return the first and one past the last bin of the tone that peaks at ``peak``."""
    first, last = max(peak - _LOBE_BINS, 0), min(peak + _LOBE_BINS, power.size - 1)
    while first > 0 and _CANDIDATE_RATIO * noise[first - 1] < power[first - 1] < power[first]:
        first -= 1
    while last < power.size - 1 and _CANDIDATE_RATIO * noise[last + 1] < power[last + 1] < power[last]:
        last += 1
    return first, last + 1


def _candidates(spectrum: _Spectrum) -> list[tuple[int, int, int]]:
    """Return (peak, first, end) of every line that stands out of the noise, strongest first, not overlapping.

    A hump wider than half a critical band is no tone (W. Bray's criterion, as MOSQITO 1.2.1 names it).
    """
    power, noise = spectrum.power, _noise_per_bin(spectrum)
    inner = power[1:-1]
    peaks = np.flatnonzero((inner > power[:-2]) & (inner >= power[2:])) + 1
    in_range = (peaks * spectrum.spacing_hz >= LOWEST_TONE_HZ) & (peaks * spectrum.spacing_hz <= HIGHEST_TONE_HZ)
    width = 2 * _LOBE_BINS + 1
    lobes = np.convolve(power, np.ones(width), mode="same")
    peaks = peaks[in_range & (lobes[peaks] > _CANDIDATE_RATIO * width * noise[peaks])]
    found: list[tuple[int, int, int]] = []
    taken = np.zeros(power.size, dtype=np.bool_)
    for peak in peaks[np.argsort(-power[peaks], kind="stable")].tolist():
        if taken[peak]:
            continue
        first, end = _lines(power, noise, peak)
        while taken[first]:
            first += 1
        while taken[end - 1]:
            end -= 1
        taken[first:end] = True
        if (end - first) * spectrum.spacing_hz <= critical_bandwidth_hz(peak * spectrum.spacing_hz) / 2.0:
            found.append((peak, first, end))
    return found


def _refined_hz(spectrum: _Spectrum, peak: int) -> float:
    """Return the frequency of a peak from a parabola through the levels of its three highest bins."""
    left, middle, right = (level_db(float(p)) for p in spectrum.power[peak - 1 : peak + 2])
    bend = left - 2.0 * middle + right
    shift = 0.5 * (left - right) / bend if bend < 0.0 else 0.0
    return (peak + shift) * spectrum.spacing_hz


def _proximity_hz(frequency_hz: float) -> float:
    """Return how near (Hz) a weaker tone is heard as one with a tone (ECMA-418-1, as MOSQITO 1.2.1 has it)."""
    return float(21.0 * 10.0 ** (1.2 * abs(math.log10(frequency_hz / 212.0)) ** 1.8))


def find_tones(power: ArrayLike, frequencies_hz: ArrayLike, least_tnr_db: float = 0.0) -> tuple[Tone, ...]:
    """Return the tones of a spectrum with a tone-to-noise ratio of at least ``least_tnr_db``, by frequency.

    ``power`` is a one-sided power spectrum of Hann windows (LongFrame.power or an average of several), shape
    (n_bins,), over evenly spaced bins from 0 Hz at most 5 Hz apart. TNR leaves the lines of all tones out
    of the noise and adds to a tone the weaker ones so near that they are heard as one with it. Tones from
    89.1 to 11220 Hz only. Below a TNR of about -2 to -6 dB a tone is masked (ISO/PAS 20065).

    Raises ConfigError for a spectrum that is none (levels in dB, uneven or coarse bins).
    """
    spectrum = _Spectrum(power, frequencies_hz)
    lines = _candidates(spectrum)
    peaks_hz = [_refined_hz(spectrum, peak) for peak, _, _ in lines]
    powers = [float(spectrum.power[first:end].sum()) for _, first, end in lines]
    rest = spectrum.power.copy()
    filled = np.ones(rest.size)
    for _, first, end in lines:
        rest[first:end] = 0.0
        filled[first:end] = 0.0
    bins_hz = np.arange(rest.size) * spectrum.spacing_hz
    noise, share = _Spectrum(rest, bins_hz), _Spectrum(filled, bins_hz)
    tones = []
    for place, frequency_hz in enumerate(peaks_hz):
        if not LOWEST_TONE_HZ <= frequency_hz <= HIGHEST_TONE_HZ:
            continue
        lower, upper = critical_band_hz(frequency_hz)
        upper = min(upper, spectrum.highest_hz)
        # The noise between the tones, scaled up to the whole critical band.
        filled_hz = max(share.between(lower, upper) * spectrum.spacing_hz, spectrum.spacing_hz)
        masking = noise.between(lower, upper) * critical_bandwidth_hz(frequency_hz) / filled_hz
        near_hz = _proximity_hz(frequency_hz)
        heard = powers[place] + sum(
            powers[other]
            for other in range(place + 1, len(lines))
            if lower <= peaks_hz[other] <= upper and abs(peaks_hz[other] - frequency_hz) < near_hz
        )
        tnr_db = level_db(heard) - level_db(masking)
        if tnr_db >= least_tnr_db:
            own_db = level_db(powers[place])
            tones.append(Tone(frequency_hz, own_db, _prominence_db(spectrum, frequency_hz), tnr_db))
    return tuple(sorted(tones, key=lambda tone: tone.frequency_hz))
