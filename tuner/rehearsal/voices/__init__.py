"""The voices of the rehearsal rig: nine kinds of plumbing sound, the room, the microphone and the quiet background.

Scale: every voice gives sound pressure in pascal at 1 m. At drive 1 its A-weighted level is, by kind, gurgle 42,
slurp 48, trickle 38, splash 44, hiss 38, flush 52, roar 58, hum 36 and rattle 40 dB re 20 µPa, each voice a few
decibels off (drawn). A `Room` turns that into the pressure at the microphone, a `Background` (22 to 34 dB(A)) is
added there, and a `Microphone` turns pressure into samples in [-1, 1].
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from tuner.errors import ConfigError
from tuner.rehearsal.voices.background import Background
from tuner.rehearsal.voices.control import CONTROL_S, Voice
from tuner.rehearsal.voices.flush import Flush
from tuner.rehearsal.voices.gurgle import Gurgle
from tuner.rehearsal.voices.hiss import Hiss
from tuner.rehearsal.voices.hum import Hum
from tuner.rehearsal.voices.loudness import Levelled, RawVoice
from tuner.rehearsal.voices.microphone import Microphone, draw_microphone
from tuner.rehearsal.voices.rattle import Rattle
from tuner.rehearsal.voices.roar import Roar
from tuner.rehearsal.voices.room import Place, Room, draw_room
from tuner.rehearsal.voices.slurp import Slurp
from tuner.rehearsal.voices.splash import Splash
from tuner.rehearsal.voices.trickle import Trickle
from tuner.terms import SOUND_KINDS, SoundKind

__all__ = [
    "CONTROL_S",
    "TYPICAL_LEVEL_DB",
    "Background",
    "Microphone",
    "Place",
    "Room",
    "Voice",
    "draw_microphone",
    "draw_room",
    "make_hum",
    "make_rattle",
    "make_voice",
]

TYPICAL_LEVEL_DB: dict[SoundKind, float] = {
    "gurgle": 42.0,
    "slurp": 48.0,
    "trickle": 38.0,
    "splash": 44.0,
    "hiss": 38.0,
    "flush": 52.0,
    "roar": 58.0,
    "hum": 36.0,
    "rattle": 40.0,
}
"""A-weighted level at 1 m and drive 1, dB re 20 µPa; common practice for a cabinet sump, no source."""

_LEVEL_SD_DB = 2.5

_WATER: dict[SoundKind, Callable[..., RawVoice]] = {
    "gurgle": Gurgle,
    "slurp": Slurp,
    "trickle": Trickle,
    "splash": Splash,
    "hiss": Hiss,
    "flush": Flush,
    "roar": Roar,
}


def _levelled(kind: SoundKind, raw: RawVoice, sample_rate: int, rng: np.random.Generator) -> Voice:
    level_db = TYPICAL_LEVEL_DB[kind] + float(np.clip(rng.normal(0.0, _LEVEL_SD_DB), -6.0, 6.0))
    return Levelled(raw, sample_rate=sample_rate, level_db=level_db)


def make_hum(*, sample_rate: int, rng: np.random.Generator, mains_hz: float, shaft_hz: float) -> Voice:
    """Draw a pump's hum. ``mains_hz`` is 50 or 60, ``shaft_hz`` the rotor's revolutions per second."""
    raw = Hum(sample_rate=sample_rate, rng=rng, mains_hz=mains_hz, shaft_hz=shaft_hz)
    return _levelled("hum", raw, sample_rate, rng)


def make_rattle(*, sample_rate: int, rng: np.random.Generator, mains_hz: float, shaft_hz: float) -> Voice:
    """Draw a pump's rattle. ``mains_hz`` is 50 or 60, ``shaft_hz`` the rotor's revolutions per second."""
    raw = Rattle(sample_rate=sample_rate, rng=rng, mains_hz=mains_hz, shaft_hz=shaft_hz)
    return _levelled("rattle", raw, sample_rate, rng)


def make_voice(kind: SoundKind, *, sample_rate: int, rng: np.random.Generator) -> Voice:
    """Draw a voice of a kind; hum and rattle get a drawn pump.

    Raises
    ------
    ConfigError
        When the kind is none of the nine, or the sample rate does not fit the control steps.
    """
    if kind in ("hum", "rattle"):
        mains_hz = float(rng.choice([50.0, 60.0]))
        shaft_hz = mains_hz if rng.random() < 0.5 else float(rng.uniform(20.0, 60.0))
        make = make_hum if kind == "hum" else make_rattle
        return make(sample_rate=sample_rate, rng=rng, mains_hz=mains_hz, shaft_hz=shaft_hz)
    if kind not in _WATER:
        raise ConfigError(f"kind={kind} must be one of {', '.join(SOUND_KINDS)}: the nine kinds of sound")
    return _levelled(kind, _WATER[kind](sample_rate=sample_rate, rng=rng), sample_rate, rng)
