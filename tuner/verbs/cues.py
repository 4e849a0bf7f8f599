"""Short audible cues for a keeper whose eyes are elsewhere. They never sound while it listens.

The loop plays a cue between two stretches of listening, waits for its end, and throws away what was recorded meanwhile.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

Cue = Literal["move", "question", "done", "end"]
Player = Callable[[Cue], float]  # plays a cue to its end and returns how long it was, in seconds

RATE = 48_000
NOTE_S, RAMP_S = 0.14, 0.02
LOUDNESS = 0.2  # of full scale
# Two rising notes ask for a hand, two falling ones say that it was noticed, three end it.
NOTES_HZ: dict[Cue, tuple[float, ...]] = {
    "move": (660.0, 880.0), "question": (660.0, 660.0), "done": (880.0, 660.0), "end": (660.0, 880.0, 1320.0),
}


def mute(_cue: Cue) -> float:
    """Play nothing."""
    return 0.0


def cue_samples(cue: Cue) -> NDArray[np.float32]:
    """Return a cue as mono samples at ``RATE``, float32, shape (n,), without clicks at its ends."""
    time_s = np.arange(round(NOTE_S * RATE)) / RATE
    ramp = np.minimum(1.0, np.minimum(time_s, NOTE_S - time_s) / RAMP_S)
    notes = [LOUDNESS * ramp * np.sin(2 * np.pi * hz * time_s) for hz in NOTES_HZ[cue]]
    return np.concatenate(notes).astype(np.float32)


class Loudspeaker:
    """Plays cues on the default output; ``complaint`` is why it cannot, once it could not."""

    def __init__(self, library: Any) -> None:
        self._library = library
        self.complaint = ""

    def __call__(self, cue: Cue) -> float:
        """Play a cue to its end and return its length in seconds; 0 where nothing can be played."""
        if self.complaint:
            return 0.0
        samples = cue_samples(cue)
        try:
            with self._library.OutputStream(samplerate=RATE, channels=1, dtype="float32") as stream:
                stream.write(samples[:, None])
        except (self._library.PortAudioError, ValueError, OSError) as error:
            self.complaint = f"no cue can be played ({error}): choose a sound output in the system's settings"
            return 0.0
        return samples.size / RATE
