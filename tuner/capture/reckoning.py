"""Where a live block belongs in time: its samples counted against a clock.

A sound system that loses samples does not always say so. Whoever counts what arrived sees it: every loss makes
the stream run behind the clock for good, whereas a late delivery catches up. So the least lateness of the last
second is what counts. The clock of a sound card differs from the computer's by some tens of parts per million
(a virtual one by more); that drift is followed and is no loss. A leak as slow as such a drift is not seen.

A loss that only the clock shows is found about two seconds after it happened and is put where it is found.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

WINDOW_S = 1.0  # longer than a busy computer delays a delivery
# On a busy machine a sound server was seen to deliver one of its periods late (44 ms, with its jitter up to 67 ms) for
# tens of seconds, and to catch up: nothing was lost. The shortest loss that only the clock tells is longer, a block.
TOLERANCE_S = 0.08
MAX_DRIFT = 5e-3  # crystals stay within 1e-4, a sound server's virtual device within 2e-3; more is a leak


@dataclass(frozen=True, slots=True)
class Place:
    """Where a block begins (sample index) and how many samples are missing just before it."""

    start: int
    dropped: int


class Reckoning:
    """Gives each arriving block its place in the stream.

    Parameters
    ----------
    sample_rate
        Samples per second.
    """

    def __init__(self, sample_rate: int) -> None:
        self._sample_rate = sample_rate
        self._position = 0
        self._origin_s: float | None = None
        self._usual_s = 0.0
        self._least_s = math.inf
        self._window_start_s = 0.0
        self._was_interrupted = False

    @property
    def position(self) -> int:
        """Index of the next sample if nothing is lost before it."""
        return self._position

    def interrupt(self) -> None:
        """Say that the stream stopped; the next block's gap is read from the clock alone."""
        self._was_interrupted = True

    def push(self, arrived_s: float, frames: int, lost: int, overflowed: bool) -> Place:
        """Return the place of a block.

        Parameters
        ----------
        arrived_s
            The clock when the block was complete.
        frames
            Its samples.
        lost
            Samples that are known to be missing before it.
        overflowed
            The sound system says that it lost some, not how many.
        """
        rate = self._sample_rate
        if self._origin_s is None:
            self._origin_s = arrived_s - (self._position + lost + frames) / rate
            self._start_window(arrived_s)
        late_s = arrived_s - self._origin_s - (self._position + lost + frames) / rate
        missing = max(0, round((late_s - self._usual_s) * rate))
        if self._was_interrupted:
            dropped = lost + missing
            self._was_interrupted = False
            self._start_window(arrived_s)
        elif overflowed:
            dropped = lost + max(1, missing)
            self._start_window(arrived_s)
        else:
            dropped = lost + self._unannounced(arrived_s, late_s)
        late_s -= (dropped - lost) / rate
        self._least_s = min(self._least_s, late_s)
        self._usual_s = min(self._usual_s, late_s)
        start = self._position + dropped
        self._position = start + frames
        return Place(start, dropped)

    def _unannounced(self, arrived_s: float, late_s: float) -> int:
        """Return the samples missing by the least lateness of the window that ends here, if one does."""
        self._least_s = min(self._least_s, late_s)
        elapsed_s = arrived_s - self._window_start_s
        if elapsed_s < WINDOW_S:
            return 0
        excess_s = self._least_s - self._usual_s
        self._start_window(arrived_s)
        if excess_s > TOLERANCE_S:
            return round(excess_s * self._sample_rate)
        self._usual_s += min(max(excess_s, 0.0), MAX_DRIFT * elapsed_s)
        return 0

    def _start_window(self, arrived_s: float) -> None:
        self._window_start_s = arrived_s
        self._least_s = math.inf
