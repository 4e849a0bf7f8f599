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

SOUND_SPEED_M_S = 343.0  # air at 20 °C


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
    gap_s = float(rng.uniform(0.001, 0.004))
    tail = np.zeros(n)
    for part, (low_hz, high_hz, hold) in enumerate(((60.0, 900.0, 1.15), (900.0, 3500.0, 1.0), (3500.0, 9000.0, 0.7))):
        middle = np.sqrt(low_hz * high_hz)
        curve = np.where((low_hz * 0.9 < OCTAVES_HZ) & (high_hz * 1.1 > OCTAVES_HZ), 0.0, -24.0)
        noise = rng.standard_normal(n) * np.exp(-6.908 * t / (place.reverb_time_s * hold)) * (t > gap_s)
        level = -1.5 * part if middle > 1000.0 else 0.0
        shape = response_of_curve(OCTAVES_HZ, curve + level, sample_rate=sample_rate, taps=512)
        tail += np.convolve(noise, shape)[:n]
    tail /= np.sqrt(np.sum(tail**2))
    reflections = np.zeros(n)
    for _ in range(int(rng.integers(5, 11))):
        late_s = float(rng.uniform(0.0008, 0.03))
        reflections[int(late_s * sample_rate)] += float(rng.choice([-1.0, 1.0])) * np.exp(-late_s / 0.02)
    reflections /= np.sqrt(np.sum(reflections**2))
    out = 10.0 ** (place.reverb_db / 20.0) * (0.85 * tail + 0.5 * reflections)
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
    """Draw a room of 0.2 to 0.6 s and a microphone 0.4 to 2 m from the source."""
    distance_m = float(np.exp(rng.uniform(np.log(0.4), np.log(2.0))))
    place = Place(
        distance_m=distance_m,
        reverb_time_s=float(rng.uniform(0.2, 0.6)),
        reverb_db=float(np.clip(20.0 * np.log10(distance_m) + rng.normal(1.0, 2.5), -6.0, 10.0)),
        tilt_db_per_octave=-float(rng.uniform(0.0, 2.0)),
    )
    return Room(place, room_response(place, sample_rate=sample_rate, rng=rng))
