"""The nine kinds of sound, and rooms, made otherwise than by the rehearsal rig's voices: for the training alone.

Ears that learn from one way of making a sound learn its habits: a slurp that always gulps twice a second, a splash that
always holds bubbles. Part of the scenes therefore take their sounds from elsewhere: ``layered`` from noise and notes,
``physical`` from small models, ``designed`` as a sound designer patches them. None of them is as good as the rig's
voices; together they are far wider.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.voices.loudness import a_level_db
from tuner.terms import SoundKind
from tuner.training import designed, layered, physical
from tuner.training.textures import Band, noise, swell

Floats = NDArray[np.float64]

_MAKES = (layered.sound, physical.sound, designed.sound)
LEVEL_DB: dict[SoundKind, float] = {
    "gurgle": 42.0, "slurp": 47.0, "trickle": 38.0, "splash": 44.0, "hiss": 38.0, "flush": 50.0, "roar": 54.0,
    "hum": 36.0, "rattle": 40.0,
}
"""A-weighted at 1 m and drive 1, while it sounds: as the rig's voices, a little less for the loud ones."""
_LEVEL_SD_DB = 3.0
_LOUDER = 0.7  # amplitude grows with the drive to this power


def otherwise(kind: SoundKind, rng: np.random.Generator, sample_rate: int, drive: Floats, mains_hz: float) -> Floats:
    """Return the pressure (Pa at 1 m) of a kind made in a way that is drawn; ``drive`` as the rig's voices take it.

    Shape (len(drive) * step,), silent where the drive is 0 but for what rings on.
    """
    make = _MAKES[int(rng.integers(len(_MAKES)))]
    raw = make(kind, rng, sample_rate, drive, mains_hz)
    got_db = a_level_db(raw, sample_rate=sample_rate)
    if not np.isfinite(got_db):
        return raw
    wanted_db = LEVEL_DB[kind] + float(np.clip(rng.normal(0.0, _LEVEL_SD_DB), -7.0, 7.0))
    # the energy of the whole is that of the driven steps, each as loud as its drive makes it
    wanted_db += 10.0 * float(np.log10(np.mean(drive ** (2.0 * _LOUDER))))
    out: Floats = raw * 10.0 ** ((wanted_db - got_db) / 20.0)
    return out


def room_tone(rng: np.random.Generator, sample_rate: int, n: int, level_db: float) -> Floats:
    """Return the pressure (Pa) of a room at rest, of any tilt and with any hump, at ``level_db`` dB(A)."""
    knee_hz = float(np.exp(rng.uniform(np.log(40.0), np.log(600.0))))
    band = Band(
        knee_hz, float(np.exp(rng.uniform(np.log(3000.0), np.log(14000.0)))), below_db=float(rng.uniform(0.0, 6.0)),
        tilt_db=float(rng.uniform(-9.0, -2.0)), above_db=6.0, ripple_db=float(rng.uniform(0.5, 3.0)),
        peak_hz=float(np.exp(rng.uniform(np.log(80.0), np.log(1500.0)))),
        peak_db=float(rng.uniform(2.0, 10.0)) if rng.random() < 0.4 else 0.0, peak_octaves=float(rng.uniform(0.2, 1.0)),
    )
    tone = noise(rng, sample_rate, n, band)
    own = noise(rng, sample_rate, n, Band(20.0, 0.45 * sample_rate, tilt_db=float(rng.uniform(-1.0, 0.5))))
    tone = tone * swell(rng, sample_rate, n, float(rng.uniform(0.05, 1.0)), float(rng.uniform(0.0, 0.1)))
    tone = tone + own * 10.0 ** (float(rng.uniform(-45.0, -14.0)) / 20.0)
    if rng.random() < 0.3:
        hum_hz = float(rng.choice([50.0, 60.0, 100.0, 120.0]))
        tone = tone + 10.0 ** (float(rng.uniform(-20.0, -3.0)) / 20.0) * np.sin(
            2.0 * np.pi * hum_hz * np.arange(n) / sample_rate
        )
    out: Floats = tone * 10.0 ** ((level_db - a_level_db(tone, sample_rate=sample_rate)) / 20.0)
    return out
