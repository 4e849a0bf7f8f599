"""Noticing that a move was made, without being told: the sound or the pumps' tone has changed, and stays changed.

The last listening window is the measure: the usual level in each of some bands, how much that of ``BLOCK_S`` seconds
wanders about it, and where the strongest line of the pumps stands. A move shows as several bands whose level over
``HOLD_S`` seconds has left that range, or as a line that has shifted for as long. A word or a dropped tool is too short
for that. Sounds that come and go over minutes can do the same without a move: what follows is a settle time and a new
listening window, so nothing is lost but the time.
"""

from __future__ import annotations

from collections import deque

import numpy as np
from numpy.typing import NDArray

from tuner.sound.frames import Framer, LongFrame, LongSpectrum

Floats = NDArray[np.float64]

LEAST_HZ, MOST_HZ, BANDS = 60.0, 12_000.0, 14
BASE_S, LEAST_BASE_S = 30.0, 5.0
HOLD_S, BLOCK_S = 6.0, 4.0
CLEAR_SHARE, BAND_SIGMA, LEAST_DB = 0.3, 4.0, 1.2  # of the bands; of their wandering; whatever they wander
LEAST_WANDER_DB = 0.25
SETTLED_DB = 1.5
TONE_RANGE_HZ = (40.0, 800.0)
TONE_DB, TONE_SHIFT = 12.0, 0.015  # prominence of a line; relative shift that counts
TONE_SHARE = 0.85  # of the time
_HOP_S = 0.5


class MoveWatch:
    """Hears sound before a move (``baseline``) and after it was advised (``watch``), and tells when it was made."""

    def __init__(self, sample_rate: int) -> None:
        self._sample_rate = sample_rate
        self._framer = Framer(sample_rate)
        self._long = LongSpectrum(sample_rate)
        self._base: deque[Floats] = deque(maxlen=round(BASE_S / _HOP_S))
        self._base_tones: deque[float | None] = deque(maxlen=round(BASE_S / _HOP_S))
        self._shifted: deque[bool] = deque(maxlen=round(HOLD_S / _HOP_S))
        self._after: deque[Floats] = deque(maxlen=round(HOLD_S / _HOP_S))
        self._edges: NDArray[np.intp] | None = None

    def forget(self) -> None:
        """Begin a new listening window."""
        self._restart()
        self._base.clear()
        self._base_tones.clear()

    def _restart(self) -> None:
        self._framer.reset()
        self._long.reset()
        self._shifted.clear()
        self._after.clear()

    def baseline(self, samples: NDArray[np.floating]) -> None:
        """Take sound of the listening window before the move."""
        for frame in self._frames(samples):
            self._base.append(self._bands_db(frame))
            self._base_tones.append(self._tone_hz(frame))

    def begin(self) -> None:
        """A move has been advised; what is watched from now on is held against the window."""
        self._restart()

    def watch(self, samples: NDArray[np.floating]) -> bool:
        """Take sound after a move was advised; True once it was made and the sound stands still again."""
        made = False
        for frame in self._frames(samples):
            self._after.append(self._bands_db(frame))
            self._shifted.append(self._is_shifted(self._tone_hz(frame)))
            made = made or (self._is_other() and self._is_still())
        return made

    def _frames(self, samples: NDArray[np.floating]) -> list[LongFrame]:
        return [frame for slab in self._framer.push(samples) for frame in self._long.push(slab)]

    def _bands_db(self, frame: LongFrame) -> Floats:
        if self._edges is None:
            top_hz = min(MOST_HZ, 0.45 * self._sample_rate)
            bin_hz = self._bin_hz(frame)
            self._edges = np.unique(np.round(np.geomspace(LEAST_HZ, top_hz, BANDS + 1) / bin_hz).astype(np.intp))
        sums = np.add.reduceat(frame.power.astype(np.float64), self._edges)[:-1]
        bands: Floats = 10.0 * np.log10(sums + 1e-20)
        return bands

    def _bin_hz(self, frame: LongFrame) -> float:
        return self._sample_rate / 2.0 / (frame.power.size - 1)

    def _tone_hz(self, frame: LongFrame) -> float | None:
        """Return where the strongest line stands, where one stands out clearly."""
        bin_hz = self._bin_hz(frame)
        low, high = (round(hz / bin_hz) for hz in TONE_RANGE_HZ)
        power = frame.power[low:high].astype(np.float64)
        at = int(np.argmax(power))
        if not 0 < at < power.size - 1 or 10.0 * np.log10(power[at] / (np.median(power) + 1e-20) + 1e-20) < TONE_DB:
            return None
        a, b, c = np.log(power[at - 1 : at + 2] + 1e-30)
        shift = 0.5 * (a - c) / min(a - 2.0 * b + c, -1e-9)
        return float((low + at + shift) * bin_hz)

    def _is_other(self) -> bool:
        if len(self._base) * _HOP_S < LEAST_BASE_S or len(self._after) < HOLD_S / _HOP_S:
            return False
        if float(np.mean(self._shifted)) >= TONE_SHARE:
            return True
        base = np.stack(self._base)
        block = round(BLOCK_S / _HOP_S)
        # Medians, because a dropped tool must not count.
        blocks = np.median(base[: len(base) // block * block].reshape(-1, block, base.shape[1]), axis=1)
        wander = np.std(blocks, axis=0, ddof=1) if len(blocks) > 1 else np.std(base, axis=0)
        off = np.abs(np.median(np.stack(self._after), axis=0) - np.median(base, axis=0))
        limit = np.maximum(BAND_SIGMA * np.maximum(wander, LEAST_WANDER_DB), LEAST_DB)
        return float(np.mean(off >= limit)) >= CLEAR_SHARE

    def _is_shifted(self, tone_hz: float | None) -> bool:
        tones = [t for t in self._base_tones if t is not None]
        if tone_hz is None or len(tones) < max(1.0, 0.7 * len(self._base_tones)):
            return False
        usual = float(np.median(tones))
        steady = float(np.median(np.abs(np.array(tones) / usual - 1.0)))
        return abs(tone_hz / usual - 1.0) > max(TONE_SHIFT, 5.0 * steady)

    def _is_still(self) -> bool:
        """Tell whether the newer half of what followed is like the older one."""
        half = len(self._after) // 2
        after = np.stack(self._after)
        moved_db = np.median(after[half:], axis=0) - np.median(after[:half], axis=0)
        return float(np.median(np.abs(moved_db))) < SETTLED_DB
