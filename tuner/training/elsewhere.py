"""Cases with one cause whose water is the rehearsal rig's but whose sounds and room are made otherwise.

The rules that turn sounds into causes are fitted on these as well: what the ears take for what differs from one way of
making sounds to the next, and a cause must not hang on the rig's voices.
"""

from __future__ import annotations

import numpy as np

from tuner.rehearsal.cases import draw_case
from tuner.rehearsal.voices import CONTROL_S, draw_microphone
from tuner.rig import Rig
from tuner.terms import CauseName, Samples
from tuner.training.otherwise import room_tone
from tuner.training.scenes import sounds_of

_ROOM_DB = (20.0, 33.0)


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
    heard = draw_microphone(rng, sample_rate).record(total)
    gain = 10.0 ** (float(rng.uniform(-25.0, 10.0)) / 20.0)  # unknown, as with any microphone
    return np.asarray(heard * min(gain, 0.98 / (float(np.abs(heard).max()) + 1e-9)), dtype=np.float32), rehearsal.rig
