"""The microphone: from pascal to samples, with a low cut, an uneven response, its own noise and a full scale."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.voices.bed import OCTAVES_HZ
from tuner.rehearsal.voices.loudness import REFERENCE_PA, a_weighting_db
from tuner.rehearsal.voices.shaping import Convolver, response_of_curve

Floats = NDArray[np.float64]

Make = Literal["laptop", "phone", "usb measurement"]

_NOISE_DB: Floats = np.array([9.0, 5.0, 2.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0])


@dataclass(frozen=True, slots=True)
class MicrophoneMake:
    """What a microphone is like.

    ``full_scale_db`` is the level in dB re 20 µPa of a sine that just fills the range; ``self_noise_db`` the
    A-weighted level of its own noise as if it were sound; ``curve_db`` its response over the octave bands.
    """

    make: Make
    low_cut_hz: float
    low_cut_order: int
    curve_db: tuple[float, ...]
    self_noise_db: float
    full_scale_db: float


class Microphone:
    """Records pressure; carries its filters from chunk to chunk."""

    def __init__(self, make: MicrophoneMake, *, sample_rate: int, rng: np.random.Generator) -> None:
        from scipy.signal import butter

        self.make = make
        self._sections = butter(make.low_cut_order, make.low_cut_hz, "highpass", fs=sample_rate, output="sos")
        self._state = np.zeros((len(self._sections), 2))
        curve = np.array(make.curve_db)
        self._shape = Convolver(response_of_curve(OCTAVES_HZ, curve, sample_rate=sample_rate, taps=256))
        noise = response_of_curve(OCTAVES_HZ, _NOISE_DB, sample_rate=sample_rate, taps=512)
        bins = np.fft.rfftfreq(8192, 1.0 / sample_rate)[1:]
        power = np.abs(np.fft.rfft(noise, 8192)[1:]) ** 2 * 10.0 ** (a_weighting_db(bins) / 10.0)
        wanted = REFERENCE_PA**2 * 10.0 ** (make.self_noise_db / 10.0)
        self._noise = Convolver(noise * np.sqrt(wanted / float(np.mean(power))))
        self._gain = 1.0 / (REFERENCE_PA * 10.0 ** (make.full_scale_db / 20.0) * np.sqrt(2.0))
        self._rng = rng

    @property
    def full_scale_offset_db(self) -> float:
        """Decibels from dB re full scale (RMS 1) to dB re 20 µPa at 1 kHz."""
        return self.make.full_scale_db + 3.0103

    def record(self, pressure: NDArray[np.floating]) -> NDArray[np.float32]:
        """Return float32 samples in [-1, 1] for pressure in pascal; what exceeds full scale is clipped, as in life."""
        from scipy.signal import sosfilt

        heard = np.asarray(pressure, dtype=np.float64) + self._noise.push(self._rng.standard_normal(len(pressure)))
        if not len(heard):
            return np.zeros(0, dtype=np.float32)
        cut, self._state = sosfilt(self._sections, heard, zi=self._state)
        samples = np.clip(self._gain * self._shape.push(cut), -1.0, 1.0)
        out: NDArray[np.float32] = samples.astype(np.float32)
        return out


def draw_make(rng: np.random.Generator) -> MicrophoneMake:
    """Draw a laptop's, a phone's or a USB measurement microphone."""
    u = rng.uniform
    make: Make = rng.choice(["laptop", "phone", "usb measurement"])
    octaves = np.log2(OCTAVES_HZ / 1000.0)
    if make == "usb measurement":
        curve = rng.normal(0.0, 0.4, len(octaves))
        low_cut, order, noise, full = u(40.0, 50.0), 1, u(18.0, 26.0), u(105.0, 120.0)
    else:
        presence = u(0.0, 5.0) * np.exp(-0.5 * ((octaves - u(2.0, 3.2)) / 0.7) ** 2)
        curve = u(-0.8, 0.8) * octaves + presence + rng.normal(0.0, 1.2, len(octaves))
        curve[-1] -= u(0.0, 8.0)
        low_cut, order = u(60.0, 150.0), int(rng.integers(1, 3))
        noise = u(26.0, 34.0) if make == "laptop" else u(23.0, 30.0)
        full = u(88.0, 110.0)
    curve = curve - curve[4]
    return MicrophoneMake(
        make=str(make),  # type: ignore[arg-type]
        low_cut_hz=float(low_cut),
        low_cut_order=order,
        curve_db=tuple(float(v) for v in curve),
        self_noise_db=float(noise),
        full_scale_db=float(full),
    )


def draw_microphone(rng: np.random.Generator, sample_rate: int) -> Microphone:
    """Draw a microphone."""
    make = draw_make(rng)
    return Microphone(make, sample_rate=sample_rate, rng=rng.spawn(1)[0])
