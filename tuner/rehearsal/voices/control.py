"""How a voice is driven: control steps, slow wander and the times of irregular events.

A voice gets one drive value per control step of ``CONTROL_S`` seconds: 0 is off, 1 the typical strength, about 3
violent. Everything random is drawn control step by control step from generators that each part owns, so a
stream that is rendered in chunks is the stream that is rendered at once.
"""

from __future__ import annotations

from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from tuner.errors import ConfigError

CONTROL_S = 0.05
"""Length of a control step in seconds."""

Floats = NDArray[np.float64]


class Voice(Protocol):
    """A sound source that follows a drive curve."""

    def render(self, drive: Floats) -> NDArray[np.float32]:
        """Return the sound pressure at 1 m in pascal, ``len(drive) * CONTROL_S`` seconds of it."""
        ...


def step_samples(sample_rate: int) -> int:
    """Return the samples in a control step.

    Raises
    ------
    ConfigError
        When the rate lies outside 16 to 48 kHz or does not fill a control step with whole samples.

    >>> step_samples(48_000)
    2400
    """
    if not 16_000 <= sample_rate <= 48_000 or sample_rate % 20:
        raise ConfigError(f"sample_rate={sample_rate} must be a multiple of 20 from 16000 to 48000: use 48000 Hz")
    return sample_rate // 20


def checked_drive(drive: Floats) -> Floats:
    """Return the drive as float64 after checking that it is one finite value >= 0 per control step."""
    checked = np.asarray(drive, dtype=np.float64)
    if checked.ndim != 1 or not np.all(np.isfinite(checked)) or np.any(checked < 0):
        raise ConfigError("drive=... must be a row of finite values >= 0: one for each control step")
    return checked


class Ramp:
    """Per-sample gain that glides from one control value to the next within a step."""

    def __init__(self, sample_rate: int) -> None:
        self._step = step_samples(sample_rate)
        self._last = 0.0

    def render(self, values: Floats) -> Floats:
        """Return ``len(values) * step`` gains; the value of a step is reached at its end."""
        if not len(values):
            return np.zeros(0)
        before = np.concatenate(([self._last], values[:-1]))
        self._last = float(values[-1])
        share = np.arange(1, self._step + 1) / self._step
        out: Floats = (before[:, None] + (values - before)[:, None] * share).ravel()
        return out


class Wander:
    """A slow random factor around 1, log-normal with ``sd`` (nepers) and a memory of ``time_s`` seconds."""

    def __init__(self, rng: np.random.Generator, time_s: float, sd: float) -> None:
        self._rng = rng
        self._keep = float(np.exp(-CONTROL_S / time_s))
        self._sd = sd
        self._state = float(rng.standard_normal())

    def steps(self, n_steps: int) -> Floats:
        """Return the factor for each of the next ``n_steps`` control steps."""
        fresh = self._rng.standard_normal(n_steps) * np.sqrt(1.0 - self._keep**2)
        out = np.empty(n_steps)
        state = self._state
        for i, value in enumerate(fresh.tolist()):
            state = self._keep * state + value
            out[i] = state
        self._state = state
        walked: Floats = np.exp(self._sd * out)
        return walked


class Returns:
    """Times of events that return at a rate, from regular (large ``shape``) to wholly irregular (1).

    The gaps follow a gamma distribution with the given shape.
    """

    def __init__(self, rng: np.random.Generator, shape: float) -> None:
        self._rng = rng
        self._shape = shape
        self._left_s: float | None = None

    def step(self, rate_hz: float) -> list[float]:
        """Return the times (seconds from the start of this control step) of the events in it."""
        if rate_hz <= 0.0:
            self._left_s = None
            return []
        if self._left_s is None:
            self._left_s = float(self._rng.random()) / rate_hz
        times = []
        while self._left_s < CONTROL_S:
            times.append(self._left_s)
            self._left_s += float(self._rng.gamma(self._shape)) / (self._shape * rate_hz)
        self._left_s -= CONTROL_S
        return times
