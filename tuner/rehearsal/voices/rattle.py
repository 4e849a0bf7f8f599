"""Rattle: a worn rotor knocks once or twice a turn and rings the plastic and the cabinet around it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.voices.control import CONTROL_S, Wander, step_samples
from tuner.rehearsal.voices.grains import GrainBank, GrainStream
from tuner.rehearsal.voices.hum import check_pump

Floats = NDArray[np.float64]


def _knocks(*, sample_rate: int, rng: np.random.Generator) -> GrainBank:
    """Return knocks: one set of resonances, struck a little differently each time."""
    u = rng.uniform
    count = int(rng.integers(5, 11))
    modes_hz = np.exp(u(np.log(250.0), np.log(min(6500.0, 0.4 * sample_rate)), count))
    sharpness = np.exp(u(np.log(4.0), np.log(22.0), count))
    base = np.exp(0.8 * rng.standard_normal(count))
    click = float(u(0.1, 0.6))
    knocks = []
    for _ in range(64):
        t = np.arange(int(0.06 * sample_rate)) / sample_rate
        sizes = base * np.exp(0.4 * rng.standard_normal(count)) * np.sign(rng.standard_normal(count))
        decay = np.pi * modes_hz / sharpness
        knock = (sizes[:, None] * np.sin(2.0 * np.pi * modes_hz[:, None] * t) * np.exp(-decay[:, None] * t)).sum(axis=0)
        knock += click * rng.standard_normal(len(t)) * np.exp(-t / float(u(0.0005, 0.003)))
        knocks.append(knock * np.linspace(1.0, 0.0, len(t)) * np.minimum(1.0, t / 2e-4))
    return GrainBank(knocks)


class Rattle:
    """Knocks locked to the rotor with jitter and gaps; their strength wanders slowly."""

    def __init__(self, *, sample_rate: int, rng: np.random.Generator, mains_hz: float, shaft_hz: float) -> None:
        check_pump(mains_hz, shaft_hz)
        u = rng.uniform
        self._step = step_samples(sample_rate)
        self._sample_rate = sample_rate
        self._knocks_hz = shaft_hz * float(rng.choice([1.0, 1.0, 2.0]))
        self._jitter = float(u(0.01, 0.08))
        self._missing = float(u(0.0, 0.35))
        bank = _knocks(sample_rate=sample_rate, rng=rng)
        self._stream = GrainStream(bank, rng.spawn(1)[0], float(u(0.2, 0.6)))
        self._wander = Wander(rng.spawn(1)[0], float(u(0.3, 2.0)), float(u(0.15, 0.5)))
        self._rng = rng
        self._turn = float(rng.random())

    def sound(self, drive: Floats) -> Floats:
        """Return the unscaled sound for the drive."""
        wander = self._wander.steps(len(drive))
        turns = self._knocks_hz * CONTROL_S
        for step, strength in enumerate(drive.tolist()):
            ahead = 1.0 - self._turn
            count = int(np.ceil(turns - ahead)) if turns > ahead else 0
            self._turn = (self._turn + turns) % 1.0
            if count == 0 or strength == 0.0:
                continue
            at = (ahead + np.arange(count) + np.abs(self._jitter * self._rng.standard_normal(count))) / self._knocks_hz
            at = at[self._rng.random(count) >= self._missing]
            starts = step * self._step + (at * self._sample_rate).astype(np.int64)
            self._stream.scatter(starts, np.full(len(starts), strength * wander[step]))
        return self._stream.take(len(drive) * self._step)
