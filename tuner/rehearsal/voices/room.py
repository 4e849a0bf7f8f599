"""The room: a small living room with the cabinet in it, as an early reverberation and a distance.

The response is a direct sound, some discrete reflections, and a noise tail that decays faster at high frequencies.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.voices.bed import OCTAVES_HZ
from tuner.rehearsal.voices.shaping import Convolver, response_of_curve

Floats = NDArray[np.float64]

_BANDS_HZ = (125.0, 500.0, 2000.0, 8000.0)
_HOLD = (1.3, 1.1, 0.9, 0.5)  # decay time of each band against the mid frequencies: a furnished room, common practice


@dataclass(frozen=True, slots=True)
class Place:
    """Where source and microphone stand.

    ``reverb_time_s`` is the 60 dB decay at mid frequencies, ``reverb_db`` the reverberant level at the microphone
    against the direct one, ``tilt_db_per_octave`` the dulling by cabinet doors above 500 Hz.
    """

    distance_m: float
    reverb_time_s: float
    reverb_db: float
    tilt_db_per_octave: float


def room_response(place: Place, *, sample_rate: int, rng: np.random.Generator) -> Floats:
    """Return a drawn impulse response for a place, from pascal at 1 m to pascal at the microphone."""
    n = int(1.1 * place.reverb_time_s * sample_rate)
    t = np.arange(n) / sample_rate
    noise = np.fft.rfft(rng.standard_normal(n))
    bins = np.log2(np.maximum(np.fft.rfftfreq(n, 1.0 / sample_rate), 1.0))
    gap_s = float(rng.uniform(0.001, 0.006))
    tail = np.zeros(n)
    for band, hold in enumerate(_HOLD):
        # Neighbouring bands fade into one another, so that together they pass every frequency alike.
        away = np.log2(_BANDS_HZ[band]) - bins
        if band == 0:
            away = np.minimum(away, 0.0)
        if band == len(_HOLD) - 1:
            away = np.maximum(away, 0.0)
        share = np.clip(1.0 - np.abs(away) / 2.0, 0.0, 1.0)
        tail += np.fft.irfft(noise * share, n) * np.exp(-6.908 * t / (place.reverb_time_s * hold))
    tail *= 1.0 - np.exp(-t / gap_s)
    tail /= np.sqrt(np.sum(tail**2))
    reflections = np.zeros(n)
    for _ in range(int(rng.integers(6, 21))):
        late_s = float(rng.uniform(0.0008, 0.03))
        reflections[int(late_s * sample_rate)] += float(rng.choice([-1.0, 1.0])) * np.exp(-late_s / 0.02)
    reflections /= np.sqrt(np.sum(reflections**2))
    out = 10.0 ** (place.reverb_db / 20.0) * (0.87 * tail + 0.5 * reflections)
    out[0] += 1.0
    octaves = np.maximum(0.0, np.log2(OCTAVES_HZ / 500.0))
    dull = response_of_curve(OCTAVES_HZ, place.tilt_db_per_octave * octaves, sample_rate=sample_rate, taps=256)
    response: Floats = np.convolve(out, dull)[:n] / place.distance_m
    return response


class Room:
    """A place with its response; carries the reverberation from chunk to chunk."""

    def __init__(self, place: Place, response: Floats) -> None:
        self.at = place
        self._convolver = Convolver(response)

    def place(self, samples: NDArray[np.floating]) -> Floats:
        """Return the pressure at the microphone for the pressure at 1 m from the source."""
        return self._convolver.push(np.asarray(samples, dtype=np.float64))


def draw_room(rng: np.random.Generator, sample_rate: int) -> Room:
    """Draw a furnished room of 0.2 to 0.6 s and a microphone 0.25 to 1.2 m from the source.

    The reverberant level follows the distance over the critical distance, drawn from 0.6 to 1.3 m: 0.057
    sqrt(V/T) for a diffuse field gives 0.6 to 1.1 m for 50 to 80 m³ and these times.
    """
    distance_m = float(np.exp(rng.uniform(np.log(0.25), np.log(1.2))))
    critical_m = float(np.exp(rng.uniform(np.log(0.6), np.log(1.3))))
    place = Place(
        distance_m=distance_m,
        reverb_time_s=float(rng.uniform(0.2, 0.6)),
        reverb_db=float(20.0 * np.log10(distance_m / critical_m)),
        tilt_db_per_octave=-float(rng.uniform(0.0, 1.5)),
    )
    return Room(place, room_response(place, sample_rate=sample_rate, rng=rng))
