"""Cases whose sounds and room are made otherwise: of one cause, the water the rehearsal rig's, or of one sound alone.

The rules that turn sounds into causes are fitted on these as well: what the ears take for what differs from one way of
making sounds to the next, and a cause must not hang on the rig's voices.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.cases import draw_case
from tuner.rehearsal.voices import CONTROL_S, draw_microphone, draw_room
from tuner.rig import Rig
from tuner.terms import SOUND_KINDS, CauseName, Samples, SoundKind
from tuner.training.otherwise import otherwise, room_tone
from tuner.training.scenes import draw_drive, sounds_of

MEANS: dict[SoundKind, tuple[CauseName, ...]] = {
    "gurgle": ("siphon over-closed",), "slurp": ("siphon over-open",), "trickle": ("vent too wide",),
    "splash": ("outlet above water", "weir drop"), "hiss": ("vent too closed",), "flush": ("vent too closed",),
    "roar": ("emergency carrying flow",), "hum": ("pump hum",), "rattle": ("pump hum",),
}
"""What a kind of sound means where nothing else is heard and nothing is known; common practice, no source."""
_ROOM_DB = (20.0, 33.0)
_LOUDER_DB = (-6.0, 8.0)


def case_elsewhere(cause: CauseName | None, seed: int, *, sample_rate: int, seconds: float) -> tuple[Samples, Rig]:
    """Return what a microphone hears of a drawn case, shape (n,), and the installation."""
    rehearsal = draw_case(cause, seed, sample_rate=sample_rate)
    rng = np.random.default_rng([seed, 83])
    steps = int(seconds / CONTROL_S)
    mains_hz = float(rng.choice([50.0, 60.0]))
    total = room_tone(rng, sample_rate, round(steps * CONTROL_S * sample_rate), float(rng.uniform(*_ROOM_DB)))
    doors_db = -float(rng.uniform(0.0, 8.0))
    for _, pressure in sounds_of(rehearsal, rng, sample_rate, steps, mains_hz, doors_db, otherwise_share=1.0):
        total = total + pressure
    return recorded(total, rng, sample_rate), rehearsal.rig


def sound_alone(kind: SoundKind, seed: int, *, sample_rate: int, seconds: float) -> Samples:
    """Return what a microphone hears of one kind of sound in a quiet room, shape (n,)."""
    rng = np.random.default_rng([seed, 89, SOUND_KINDS.index(kind)])
    steps = int(seconds / CONTROL_S)
    mains_hz = float(rng.choice([50.0, 60.0]))
    pressure = otherwise(kind, rng, sample_rate, draw_drive(kind, rng, steps), mains_hz)
    placed = draw_room(rng, sample_rate).place(pressure) * 10.0 ** (float(rng.uniform(*_LOUDER_DB)) / 20.0)
    room = room_tone(rng, sample_rate, placed.size, float(rng.uniform(*_ROOM_DB)))
    return recorded(room + placed, rng, sample_rate)


def recorded(pressure: NDArray[np.float64], rng: np.random.Generator, sample_rate: int) -> Samples:
    """Return a pressure (Pa), shape (n,), as a drawn microphone at a drawn gain gives it, below full scale."""
    heard = draw_microphone(rng, sample_rate).record(pressure)
    gain = 10.0 ** (float(rng.uniform(-25.0, 10.0)) / 20.0)  # unknown, as with any microphone
    return np.asarray(heard * min(gain, 0.98 / (float(np.abs(heard).max()) + 1e-9)), dtype=np.float32)
