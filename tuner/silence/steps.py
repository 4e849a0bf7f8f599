"""Whether levels are followed: a loudspeaker's tone at three levels 10 dB apart must be read 10 dB apart."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tuner.errors import ConfigError
from tuner.sound.frames import Framer, frame_frequencies_hz

TONE_HZ = 1000.0
STEP_DB = 10.0
TOLERANCE_DB = 1.0
STEP_S = 3.0
STEPS = 3

_GUARD_S = 0.5  # after each change: reverberation, and the time that a loudspeaker takes
_OVER_NOISE_DB = 6.0
_TONE_WITHIN_HZ = 60.0
_BESIDE_HZ = (150.0, 300.0)


@dataclass(frozen=True, slots=True)
class StepsRead:
    """The levels (dB re full scale) at which the steps were read, lowest first, and whether they were followed."""

    levels_db: tuple[float, ...]
    followed: bool

    @property
    def differences_db(self) -> tuple[float, ...]:
        """How far each step was read above the one before."""
        return tuple(b - a for a, b in zip(self.levels_db, self.levels_db[1:], strict=False))


def steps_to_play(sample_rate: int, loudest: float) -> NDArray[np.float32]:
    """Return the sound to play: half a second of nothing, then 3 s each of a 1 kHz tone at -20, -10 and 0 dB.

    ``loudest`` is the amplitude of the last step (0-1).
    """
    time = np.arange(round(STEPS * STEP_S * sample_rate)) / sample_rate
    step = np.minimum(time // STEP_S, STEPS - 1)
    gain = loudest * 10.0 ** ((step - (STEPS - 1)) * STEP_DB / 20.0)
    tone = (gain * np.sin(2.0 * np.pi * TONE_HZ * time)).astype(np.float32)
    return np.concatenate([np.zeros(round(0.5 * sample_rate), dtype=np.float32), tone])


def read_steps(samples: NDArray[np.floating], sample_rate: int) -> StepsRead:
    """Return the levels of the steps in a recording of ``steps_to_play``, wherever in it they begin.

    Each is the median of the 1 kHz band; steps that the room's noise reaches cannot be judged.

    Raises ConfigError when three steps are not found in it, or the lowest does not stand out of the noise.
    """
    framer = Framer(sample_rate)
    slabs = (*framer.push(samples), *framer.flush())
    away_hz = np.abs(frame_frequencies_hz(sample_rate) - TONE_HZ)
    near, beside = away_hz < _TONE_WITHIN_HZ, (away_hz > _BESIDE_HZ[0]) & (away_hz < _BESIDE_HZ[1])
    level = np.array([10.0 * np.log10(float(slab.power[:, near].sum(axis=1).mean()) + 1e-20) for slab in slabs])
    noise = np.array([
        10.0 * np.log10(float(slab.power[:, beside].mean()) * np.count_nonzero(near) + 1e-20) for slab in slabs
    ])
    length, guard = round(STEP_S * 10), round(_GUARD_S * 10)
    if level.size < STEPS * length:
        raise ConfigError(f"duration_s={level.size / 10:.1f} must hold three steps of {STEP_S:g} s: record them all")
    # The steps begin where levels within them differ least and between them most.
    starts = range(level.size - STEPS * length + 1)
    inner = [[level[s + k * length + guard : s + (k + 1) * length - 1] for k in range(STEPS)] for s in starts]
    score = [
        float(np.median(parts[-1]) - np.median(parts[0])) - 3.0 * sum(float(np.std(part)) for part in parts)
        for parts in inner
    ]
    best = int(np.argmax(score))
    levels = tuple(float(np.median(part)) for part in inner[best])
    # Held against what lies beside the tone at the same moment: a gain control lifts the room before and after.
    if levels[0] < float(np.median(noise[best + guard : best + length - 1])) + _OVER_NOISE_DB:
        raise ConfigError("the softest step drowns in the room's noise: play louder, or wait for a quieter room")
    read = StepsRead(levels, False)
    followed = all(abs(difference - STEP_DB) <= TOLERANCE_DB for difference in read.differences_db)
    return StepsRead(levels, followed)
