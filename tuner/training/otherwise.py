"""The nine kinds of sound, and rooms, made otherwise than by the rehearsal rig's voices: for the training alone.

Ears that learn from one way of making a sound learn its habits: a slurp that always gulps twice a second, a splash that
always holds bubbles. Part of the scenes therefore take their sounds from elsewhere: ``layered`` from noise and notes,
``physical`` from small models, ``designed`` as a sound designer patches them, ``everyday`` after bathtubs, bottles and
kettles, ``textural`` by the statistics of its bands, ``plumbed`` as source, path and receiver in a building. None is as
good as the rig's voices; together they are far wider.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.voices.loudness import a_level_db
from tuner.terms import SoundKind
from tuner.training.makes import designed, everyday, layered, physical, plumbed, textural

Floats = NDArray[np.float64]

_MAKES = (layered.sound, physical.sound, designed.sound, everyday.sound, textural.sound, plumbed.sound)
_ROOMS = (layered.room, everyday.room, textural.room, plumbed.room)
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
    """Return the pressure (Pa) of a room at rest, made in a way that is drawn, at ``level_db`` dB(A)."""
    tone = _ROOMS[int(rng.integers(len(_ROOMS)))](rng, sample_rate, n)
    out: Floats = tone * 10.0 ** ((level_db - a_level_db(tone, sample_rate=sample_rate)) / 20.0)
    return out
