"""Lines: tones that stand still (pump hum) and envelopes that beat with a rotor (rattle).

A pump's magnets pull twice a mains cycle: lines at 100 or 120 Hz and multiples, with the shaft and the
blades beside them; a pump on direct current hums where its speed puts it. All such lines stand still for
seconds, which voices and music do not. A worn rotor strikes once or more a revolution: no line, but the
envelope of the bands from 0.7 to 6 kHz beats at 15 to 130 Hz.
"""

from __future__ import annotations

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from tuner.signatures.memory import SLABS_PER_S, Memory
from tuner.sound.frames import LongFrame
from tuner.sound.texture import FAST_PER_SLAB
from tuner.sound.weighting import a_weighting_db

Vector = NDArray[np.float64]

LINE_NAMES: tuple[str, ...] = (
    "line twice mains", "line mains family", "line strongest", "line third", "line count", "line share",
    "line fleeting",
    "rotor 1k", "rotor 2k", "rotor 4k",
)
LINE_RANGE_HZ = (45.0, 1600.0)
LINE_DB = 10.0  # prominence from which a bin counts as a line; noise reaches it in one second, not in three
HELD_FRAMES = 6  # 1 s frames every 0.5 s: a line has to stand for 3.5 s to count in full
_NEAR, _FAR = 4, 18  # bins: the neighbourhood that a line is compared with
_ROTOR_RANGE_HZ = (15.0, 130.0)
_ROTOR_SLABS = 2 * SLABS_PER_S


class LineTracker:
    """Keep the prominence of the last long spectra and tell what stands still in them."""

    def __init__(self, sample_rate: int) -> None:
        self.sample_rate = sample_rate
        self._length: int | None = None
        self.reset()

    def reset(self) -> None:
        """Forget every spectrum."""
        self._held: list[Vector] = []
        self._power: Vector | None = None

    def add(self, frame: LongFrame) -> None:
        """Take the next one-second spectrum."""
        if self._length != frame.power.size:
            self._prepare(frame.power.size)
        log_power = 10 * np.log10(frame.power[self._low - _FAR : self._high + _FAR + 1].astype(np.float64) + 1e-20)
        sums = np.concatenate([[0.0], np.cumsum(log_power)])
        n = self._high - self._low + 1
        at = np.arange(n) + _FAR
        wide = sums[at + _FAR + 1] - sums[at - _FAR]
        near = sums[at + _NEAR + 1] - sums[at - _NEAR]
        local = (wide - near) / (2 * (_FAR - _NEAR))
        self._held = [*self._held[-(HELD_FRAMES - 1) :], log_power[at] - local]
        self._power = frame.power[self._low : self._high + 1].astype(np.float64)

    def measure(self, memory: Memory) -> Vector:
        """Return the line features, shape (len(LINE_NAMES),); zeros before the first long spectrum."""
        rotor = _rotor(memory)
        if not self._held or self._power is None:
            return np.concatenate([np.zeros(len(LINE_NAMES) - rotor.size), rotor])
        wide = np.stack([_widest(p) for p in self._held])
        stable = np.minimum(wide.min(axis=0), self._held[-1])
        # a line must have had time to prove itself: the first frames count for less
        stable = stable * min(1.0, len(self._held) / 4)
        top = np.partition(stable, -3)[-3:]
        mains = [self._family(stable, f) for f in (50.0, 60.0)]
        lines = stable > LINE_DB
        crests = lines[1:-1] & (stable[1:-1] >= stable[:-2]) & (stable[1:-1] > stable[2:])
        weighted = self._power * self._a_curve
        total = weighted.sum() + 1e-20
        share = 10 * np.log10((weighted[_spread(lines)].sum() + 1e-4 * total) / total)
        fleeting = float(self._held[-1].max() - stable.max())
        return np.array([
            max(m[0] for m in mains), max(m[1] for m in mains), top[-1], top[0], min(20, np.count_nonzero(crests)),
            share, fleeting, *rotor,
        ])

    def _prepare(self, size: int) -> None:
        self._length = size
        self._spacing = self.sample_rate / (2.0 * (size - 1))
        self._low = max(_FAR, round(LINE_RANGE_HZ[0] / self._spacing))
        self._high = min(size - _FAR - 2, round(LINE_RANGE_HZ[1] / self._spacing))
        frequencies = np.arange(self._low, self._high + 1) * self._spacing
        self._a_curve = 10 ** (a_weighting_db(frequencies) / 10)
        self._held = []

    def _family(self, stable: Vector, mains_hz: float) -> tuple[float, float]:
        """Prominence at twice the mains, and the mean of the best three multiples of it up to 1 kHz."""
        multiples = 2 * mains_hz * np.arange(1, int(500 / mains_hz) + 1)
        index = np.round(multiples / self._spacing).astype(int) - self._low
        index = index[(index >= 1) & (index < stable.size - 1)]
        values = np.max([stable[index - 1], stable[index], stable[index + 1]], axis=0)
        best = np.sort(values)[-3:]
        return float(values[0]), float(best.mean())


def _widest(values: Vector) -> Vector:
    """Maximum over each bin and its two neighbours, so that a line may lie between bins."""
    wide = values.copy()
    np.maximum(wide[1:], values[:-1], out=wide[1:])
    np.maximum(wide[:-1], values[1:], out=wide[:-1])
    return wide


def _spread(lines: NDArray[np.bool_]) -> NDArray[np.bool_]:
    wide = lines.copy()
    wide[1:] |= lines[:-1]
    wide[:-1] |= lines[1:]
    return wide


def _rotor(memory: Memory) -> Vector:
    """Prominence (dB) of the strongest line in the envelopes of three octaves, 15 to 130 Hz."""
    envelope = np.log(memory.fast(_ROTOR_SLABS)[:, 1:4].astype(np.float64))
    n = len(envelope)
    window = np.hanning(n)[:, None]
    power = np.abs(scipy.fft.rfft((envelope - envelope.mean(axis=0)) * window, axis=0)) ** 2 + 1e-12
    frequency = np.arange(len(power)) * FAST_PER_SLAB * SLABS_PER_S / n
    inside = power[(frequency >= _ROTOR_RANGE_HZ[0]) & (frequency < _ROTOR_RANGE_HZ[1])]
    return np.asarray(10 * np.log10(inside.max(axis=0) / np.median(inside, axis=0)))
