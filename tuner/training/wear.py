"""Wear: what happens to sound between a microphone and a file: codecs, filters, clipping, another speed.

Ears that are fitted on clean sound alone take the traces of a codec for evidence. Every scene may pass through these,
so that they are as common in water as in household sound.
"""

from __future__ import annotations

import io

import numpy as np
from numpy.typing import NDArray

from tuner.terms import Samples

_SPEEDS = ((5, 4), (4, 5), (4, 3), (3, 4), (9, 8), (8, 9), (3, 2), (2, 3))


def another_speed(rng: np.random.Generator, samples: NDArray[np.floating], n: int) -> NDArray[np.float64]:
    """Return n samples of ``samples`` played faster or slower by up to a half: other bubbles, another vessel."""
    from scipy.signal import resample_poly

    up, down = _SPEEDS[int(rng.integers(len(_SPEEDS)))]
    changed = resample_poly(np.asarray(samples, dtype=np.float64), up, down)
    return np.resize(changed, n)


def worn(rng: np.random.Generator, samples: Samples, sample_rate: int, uneven_share: float = 0.0) -> Samples:
    """Return the samples after a drawn chain: a tilt, a low-pass, clipping, a lossy codec; often none of them.

    In ``uneven_share`` of the draws the response is uneven as well, as in a cabinet or a corner.
    """
    from scipy.signal import butter, sosfilt

    out = samples.astype(np.float64)
    if rng.random() < 0.3:
        tilt = float(rng.uniform(-3.0, 3.0))
        spectrum = np.fft.rfft(out)
        bins = np.maximum(np.fft.rfftfreq(out.size, 1.0 / sample_rate), 50.0)
        out = np.fft.irfft(spectrum * (bins / 1000.0) ** (tilt / 6.02), out.size)
    if uneven_share and rng.random() < uneven_share:
        bins = np.maximum(np.fft.rfftfreq(out.size, 1.0 / sample_rate), 20.0)
        points = np.linspace(np.log2(20.0), np.log2(24_000.0), int(rng.integers(8, 40)))
        ripple_db = float(rng.uniform(1.0, 6.0)) * rng.standard_normal(points.size)
        gain_db = np.interp(np.log2(bins), points, np.clip(ripple_db, -12.0, 10.0))
        out = np.fft.irfft(np.fft.rfft(out) * 10.0 ** (gain_db / 20.0), out.size)
    if rng.random() < 0.2:
        cut_hz = float(np.exp(rng.uniform(np.log(4000.0), np.log(0.45 * sample_rate))))
        out = sosfilt(butter(6, cut_hz, fs=sample_rate, output="sos"), out)
    if rng.random() < 0.08:
        limit = float(np.quantile(np.abs(out), rng.uniform(0.98, 0.9999)))
        out = np.clip(out, -limit, limit)
    peak = float(np.abs(out).max())
    if peak > 0.98:
        out = out * (0.98 / peak)
    if rng.random() < 0.25:
        out = _lossy(out, sample_rate, float(rng.uniform(0.4, 0.95)))
    worn_samples: Samples = out.astype(np.float32)
    return worn_samples


def _lossy(samples: NDArray[np.float64], sample_rate: int, compression: float) -> NDArray[np.float64]:
    """Return the samples after an MP3 of constant rate: what a phone's memo or a download went through."""
    import soundfile

    file = io.BytesIO()
    soundfile.write(
        file, samples, sample_rate, format="MP3", bitrate_mode="CONSTANT", compression_level=compression
    )
    file.seek(0)
    decoded, _ = soundfile.read(file, dtype="float64")
    return np.resize(decoded, samples.size)
