"""Short sounds laid over one another: a bank of waveforms and the stream that they are added to."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]

_STRONGEST = 2.3  # standard deviations: no bubble is stronger than its cavity allows
_BATCH = 1_000_000  # samples laid in one go: bounds the memory


class GrainBank:
    """Waveforms sorted into classes of equal (power of two) length, so that many are laid at once.

    The bank is scaled so that the mean energy of a grain (sum of squares) is 1: a stream of grains at a rate
    per sample of q and gain g has the power q g².
    """

    def __init__(self, grains: list[Floats]) -> None:
        energy = np.array([float(np.sum(g**2)) for g in grains])
        mean = float(energy.mean())
        scale = 1.0 / np.sqrt(mean) if mean > 0.0 else 0.0
        length = np.array([max(32, 1 << (len(g) - 1).bit_length()) for g in grains])
        self.lengths = np.unique(length)
        self._class_of = np.searchsorted(self.lengths, length)
        self._row_of = np.zeros(len(grains), dtype=np.int64)
        self._waves: list[Floats] = []
        for number, size in enumerate(self.lengths):
            members = np.flatnonzero(self._class_of == number)
            table = np.zeros((len(members), int(size)))
            for row, member in enumerate(members):
                table[row, : len(grains[member])] = grains[member] * scale
            self._row_of[members] = np.arange(len(members))
            self._waves.append(table)

    def __len__(self) -> int:
        return len(self._row_of)

    def lay(self, buffer: Floats, starts: Indices, which: Indices, gains: Floats) -> None:
        """Add grain ``which[i]`` times ``gains[i]`` to ``buffer`` from sample ``starts[i]`` on.

        The buffer must be long enough: the last start plus the longest grain.
        """
        classes = self._class_of[which]
        for number, size in enumerate(self.lengths.tolist()):
            members = np.flatnonzero(classes == number)
            span = np.arange(size)
            batch = max(1, _BATCH // size)
            for at in range(0, len(members), batch):
                some = members[at : at + batch]
                waves = self._waves[number][self._row_of[which[some]]] * gains[some, None]
                first = int(starts[some].min())
                places = (starts[some] - first)[:, None] + span
                summed = np.bincount(places.ravel(), weights=waves.ravel())
                buffer[first : first + len(summed)] += summed

    @property
    def longest(self) -> int:
        """Samples of the longest class."""
        return int(self.lengths[-1])


class GrainStream:
    """Grains of one bank, added as they fall and taken out in chunks; tails ring on into the next chunk."""

    def __init__(self, bank: GrainBank, rng: np.random.Generator, spread: float) -> None:
        self._bank = bank
        self._rng = rng
        self._spread = spread
        self._tail = np.zeros(0)
        self._starts: list[Indices] = []
        self._which: list[Indices] = []
        self._gains: list[Floats] = []

    def scatter(self, starts: Indices, gains: Floats) -> None:
        """Let grains fall at samples ``starts`` (from the beginning of the next chunk), each drawn from the bank.

        The gains get a log-normal spread of ``spread`` nepers that about leaves the mean power alone, and a
        random sign.
        """
        n = len(starts)
        if n == 0:
            return
        self._starts.append(np.asarray(starts, dtype=np.int64))
        self._which.append(self._rng.integers(0, len(self._bank), n))
        normal = np.minimum(self._rng.standard_normal(n), _STRONGEST)
        sizes = np.exp(self._spread * normal - self._spread**2)
        self._gains.append(gains * sizes * np.where(self._rng.random(n) < 0.5, -1.0, 1.0))

    def take(self, n_samples: int) -> Floats:
        """Return the next ``n_samples`` of the stream."""
        if not self._starts and not len(self._tail):
            return np.zeros(n_samples)
        size = max(n_samples, len(self._tail))
        if self._starts:
            starts = np.concatenate(self._starts)
            size = max(size, int(starts.max()) + self._bank.longest)
        buffer = np.zeros(size)
        buffer[: len(self._tail)] = self._tail
        if self._starts:
            self._bank.lay(buffer, starts, np.concatenate(self._which), np.concatenate(self._gains))
            self._starts, self._which, self._gains = [], [], []
        self._tail = buffer[n_samples:].copy()
        return buffer[:n_samples]
