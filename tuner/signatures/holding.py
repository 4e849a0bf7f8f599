"""Holding: what a few seconds with the microphone held close to one place hold, for a scan from place to place.

Kept are the third-octaves every tenth of a second and what the signature model thinks every half second; no audio.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tuner.errors import ConfigError
from tuner.signatures.catalogue import course_of
from tuner.signatures.ears import Ears
from tuner.signatures.model import SignatureModel, load_model
from tuner.sound.frames import Framer
from tuner.terms import PLACES, Place

SHORTEST_HOLDING_S = 1.5
LONGEST_HOLDING_S = 60.0  # nothing is gained beyond it


@dataclass(frozen=True, slots=True)
class Holding:
    """One holding of the microphone.

    ``thirds`` (n, 22) are mean squares of the third-octaves, every 0.1 s, re full scale; ``usable`` (22,) tells
    which of them the sample rate carries. ``probability`` (m, 10) is how sure each sound kind, and outside noise
    last, is heard, every 0.5 s from 1 s on; ``level`` (m,) the A-weighted mean square of those half seconds.
    """

    place: Place
    thirds: NDArray[np.float64]
    usable: NDArray[np.bool_]
    probability: NDArray[np.float64]
    level: NDArray[np.float64]
    clipped: int = 0

    @property
    def duration_s(self) -> float:
        """Seconds that were heard."""
        return 0.1 * len(self.thirds)


class Holder:
    """Takes the samples of one holding after the other; one model and one chain serve a whole scan."""

    def __init__(self, sample_rate: int, *, model: SignatureModel | None = None) -> None:
        self.sample_rate = sample_rate
        self._model = model or load_model()
        self._framer = Framer(sample_rate)
        self._ears = Ears(sample_rate)

    def hear(self, place: Place, samples: NDArray[np.floating]) -> Holding:
        """Return what was heard at a place.

        Raises
        ------
        ConfigError
            When the place is none, or the samples are too short, not one channel of finite floats, or digital silence.
        """
        if place not in PLACES:
            raise ConfigError(f"place={place!r} must be one of {', '.join(PLACES)}: the places to hold it at")
        if len(samples) < SHORTEST_HOLDING_S * self.sample_rate:
            raise ConfigError(
                f"at the {place}: seconds={len(samples) / self.sample_rate:.2g} must be at least "
                f"{SHORTEST_HOLDING_S:g}: hold it there for three seconds"
            )
        if not np.any(samples):
            raise ConfigError(f"at the {place}: digital silence throughout: check that the microphone is not muted")
        self._framer.reset()
        self._ears.reset()
        samples = samples[: int(LONGEST_HOLDING_S * self.sample_rate)]
        looks = [k for slab in (*self._framer.push(samples), *self._framer.flush()) for k in self._ears.push(slab)]
        probability = course_of(self._model, np.stack([k.features for k in looks]))
        return Holding(
            place, self._ears.thirds.astype(np.float64), self._ears.usable.copy(),
            probability, np.array([k.level for k in looks]), sum(k.clipped for k in looks),
        )


def hear_holding(place: Place, samples: NDArray[np.floating], sample_rate: int) -> Holding:
    """Return what one recording, made close to a place, holds; see ``Holder.hear``."""
    return Holder(sample_rate).hear(place, samples)
