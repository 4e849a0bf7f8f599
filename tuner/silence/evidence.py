"""The evidence for or against silence, gathered while one listens; its memory does not grow with time.

Levels are kept as cells of clean time (one second each at first; when there are too many, neighbours are put
together and cells last twice as long), sounds as counts of bouts, spectra as one sum. Seconds that other sound masks
are counted and left out of everything.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tuner.sound.bands import band_weights, nominal_hz, third_octave_centres_hz, third_octave_edges_hz
from tuner.sound.frames import LongFrame, long_frequencies_hz
from tuner.sound.levels import HIGHEST_BAND_HZ, LOWEST_BAND_HZ
from tuner.sound.weighting import a_weighting_power
from tuner.terms import SOUND_KINDS, Moment, Sound, SoundKind

Floats = NDArray[np.float64]

MOST_CELLS = 1024
MASKED_FROM = 0.5
BOUT_GAP_S = 10.0  # events of one kind closer than this are one bout: a chugging siphon is not many causes
_SHOWN_SOUNDS = 40
_MASK_MEMORY = 2400  # moments, 20 min: the longest sound that can still be held against the masked seconds
_MOMENT_S = 0.5


@dataclass(slots=True)
class Bouts:
    """Bouts of one kind: how many, how long in all, the loudest level, and when the first and the last began."""

    count: int = 0
    events: int = 0
    total_s: float = 0.0
    loudest_db: float = -np.inf
    first_s: float = 0.0
    last_end_s: float = -np.inf


def is_masked(moment: Moment) -> bool:
    """Tell whether other sound covers the plumbing in a moment, so that it speaks neither for nor against silence."""
    return moment.outside >= MASKED_FROM and moment.outside > max(moment.probability.values())


class Evidence:
    """What was heard so far. ``hear`` takes a moment with the long spectrum that ends with it, ``heard`` a sound.

    Parameters
    ----------
    sample_rate
        Hz.
    """

    def __init__(self, sample_rate: int) -> None:
        frequencies = long_frequencies_hz(sample_rate)
        centres = third_octave_centres_hz(LOWEST_BAND_HZ, HIGHEST_BAND_HZ)
        edges = third_octave_edges_hz(centres)
        inside = edges[:, 1] <= sample_rate / 2.0
        self.frequencies_hz = frequencies
        self.bands_hz = tuple(nominal_hz(float(f)) for f in centres[inside])
        weights = band_weights(frequencies, edges[inside])
        self._columns = np.ascontiguousarray(
            np.vstack([a_weighting_power(frequencies), weights]).T, dtype=np.float32
        )
        self.reset()

    def reset(self) -> None:
        """Be as new."""
        self._cells = np.zeros((MOST_CELLS, 1 + len(self.bands_hz)))
        self._full = 0
        self._per_cell = 2  # moments of half a second
        self._open = np.zeros(1 + len(self.bands_hz))
        self._in_open = 0
        self._spectrum = np.zeros(self.frequencies_hz.size)
        self._clean = 0
        self._moments = 0
        self._present = dict.fromkeys(SOUND_KINDS, 0.0)
        self._masked: deque[tuple[float, bool]] = deque(maxlen=_MASK_MEMORY)
        self.bouts: dict[SoundKind, Bouts] = {}
        self.sounds: deque[Sound] = deque(maxlen=_SHOWN_SOUNDS)
        self.clipped = 0
        self.lost_s = 0.0

    def hear(self, moment: Moment, frame: LongFrame) -> None:
        """Take half a second and the one-second spectrum that ends with it."""
        self._moments += 1
        self.clipped += moment.clipped
        masked = is_masked(moment)
        self._masked.append((moment.end_s, masked))
        if masked:
            return
        self._clean += 1
        for kind, probability in moment.probability.items():
            self._present[kind] += probability
        self._spectrum += frame.power
        self._open += frame.power @ self._columns
        self._in_open += 1
        if self._in_open == self._per_cell:
            self._close_cell()

    def _close_cell(self) -> None:
        if self._full == MOST_CELLS:
            half = MOST_CELLS // 2
            self._cells[:half] = (self._cells[0::2] + self._cells[1::2]) / 2.0
            self._full = half
            self._per_cell *= 2
            # The open cell goes on until it has lasted as long as the others do now.
            return
        self._cells[self._full] = self._open / self._in_open
        self._full += 1
        self._open[:] = 0.0
        self._in_open = 0

    def heard(self, sound: Sound) -> None:
        """Take a sound that has ended; one that lies in masked seconds is left out."""
        part = [masked for end_s, masked in self._masked if sound.start_s < end_s <= sound.end_s + _MOMENT_S]
        if part and sum(part) > 0.5 * len(part):
            return
        self.sounds.append(sound)
        bouts = self.bouts.setdefault(sound.kind, Bouts(first_s=sound.start_s))
        if sound.start_s - bouts.last_end_s > BOUT_GAP_S:
            bouts.count += 1
        bouts.events += 1
        bouts.total_s += sound.duration_s
        bouts.loudest_db = max(bouts.loudest_db, sound.level_db)
        bouts.last_end_s = max(bouts.last_end_s, sound.end_s)

    def lost(self, seconds: float) -> None:
        """Say that a stretch of sound was lost."""
        self.lost_s += seconds

    @property
    def heard_s(self) -> float:
        """Seconds that were listened to."""
        return self._moments * _MOMENT_S

    @property
    def clean_s(self) -> float:
        """Seconds in which nothing masked the plumbing."""
        return self._clean * _MOMENT_S

    @property
    def cells(self) -> Floats:
        """Mean squares of the clean cells, shape (n_cells, 1 + n_bands): A-weighted first, then the third-octaves."""
        return self._cells[: self._full]

    @property
    def cell_s(self) -> float:
        """How long a cell lasts."""
        return self._per_cell * _MOMENT_S

    def presence(self, kind: SoundKind) -> float:
        """Return the mean probability of a kind over the clean time; 0 before there is any."""
        return self._present[kind] / self._clean if self._clean else 0.0

    def spectrum(self) -> Floats | None:
        """Return the mean power spectrum of the clean time over ``frequencies_hz``, or None before there is any."""
        return self._spectrum / self._clean if self._clean else None
