"""Keeping clips of plumbing sounds, when the keeper asked for it: a few seconds each, and never of the household.

A clip is cut only from a stretch in which no half second, nor any within ``MARGIN_S`` before and after it, was likely
to hold outside sound (speech, music, steps), and that was heard without a gap. Until that is known the sound stays in
memory, and nothing older than what a clip may need does.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable

import numpy as np

from tuner.errors import LogbookError
from tuner.logbook.clipfolder import MOST_BYTES, ClipFolder
from tuner.logbook.entry import Entry
from tuner.terms import Block, Moment, Samples, Sound

LEAD_S = 0.5  # before a sound, so that its onset is heard
LONGEST_S = 4.0
SHORTEST_S = 1.0
MARGIN_S = 2.0  # a word is over, or has not begun
OUTSIDE_BELOW = 0.2  # far below what counts as outside sound elsewhere: a clip too few does no harm
SURE_FROM = 0.5
MOST_OF_A_KIND = 3
MOST_A_SESSION = 12
_MEMORY_S = 41.0  # the longest wait for a sound's end and its judgement, a clip's length and both margins
_STEP_S = 0.5
_TONAL = ("hum",)  # steady tones say nothing that the levels do not


class ClipKeeper:
    """Takes what the ears take and keeps clips of what they heard. ``trouble`` says why it keeps no more, or is ""."""

    def __init__(self, folder: ClipFolder, entry: Entry) -> None:
        self.kept = 0
        self.trouble = ""
        self._folder = folder
        self._entry = entry
        self._blocks: deque[Block] = deque()
        self._moments: deque[Moment] = deque()
        self._waiting: list[tuple[str, float, float]] = []
        self._of_kind: dict[str, int] = {}
        self._room = MOST_BYTES - folder.used_bytes()

    def hear(self, block: Block) -> None:
        """Take the next block; its times count from the session's start. What was lost breaks the memory."""
        if block.dropped or block.note:
            self._forget()
        if block.samples.size:
            self._blocks.append(block)
            while self._blocks and _end_s(self._blocks[0]) < _end_s(block) - _MEMORY_S:
                self._blocks.popleft()

    def sounded(self, sounds: Iterable[Sound]) -> None:
        """Take the sounds that have ended, in seconds from the session's start."""
        for sound in sounds:
            if sound.confidence >= SURE_FROM and sound.kind not in _TONAL:
                self._waiting.append((sound.kind, max(0.0, sound.start_s - LEAD_S), sound.end_s + LEAD_S))

    def moments(self, moments: Iterable[Moment]) -> None:
        """Take how likely outside sound was, half second by half second, and keep the clips that are now decided."""
        for moment in moments:
            self._moments.append(moment)
            while self._moments[0].end_s < moment.end_s - _MEMORY_S:
                self._moments.popleft()
        if not self._moments or self.trouble:
            return
        known_s = self._moments[-1].end_s
        for waiting in tuple(self._waiting):
            if self._decide(*waiting) or waiting[2] + MARGIN_S <= known_s:
                self._waiting.remove(waiting)

    def _forget(self) -> None:
        self._blocks.clear()
        self._moments.clear()
        self._waiting.clear()

    def _decide(self, kind: str, start_s: float, end_s: float) -> bool:
        """Keep the first stretch of a sound that may be kept; tell whether nothing more can come of this sound."""
        if self.trouble or self.kept >= MOST_A_SESSION or self._of_kind.get(kind, 0) >= MOST_OF_A_KIND:
            return True
        for begin_s in np.arange(start_s, end_s - SHORTEST_S + 1e-9, _STEP_S).tolist():
            stop_s = min(begin_s + LONGEST_S, end_s)
            if self._is_clean(begin_s - MARGIN_S, stop_s + MARGIN_S):
                samples, rate = self._cut(begin_s, stop_s)
                if samples is not None:
                    self._keep(kind, begin_s, samples, rate)
                    return True
        return False

    def _keep(self, kind: str, start_s: float, samples: Samples, rate: int) -> None:
        if self._room < 4 * samples.size:  # FLAC needs less
            self.trouble = (
                f"clips take {MOST_BYTES // 1_000_000} MB, no more are kept: 'hushweir log clips' deletes some"
            )
            return
        try:
            name, size = self._folder.keep(self._entry.id, kind, start_s, samples, rate)
        except LogbookError as error:
            self.trouble = str(error)
            return
        self._entry.clip(kind, start_s, samples.size / rate, name, size)
        self._room -= size
        self.kept += 1
        self._of_kind[kind] = self._of_kind.get(kind, 0) + 1

    def _is_clean(self, from_s: float, to_s: float) -> bool:
        """Tell whether every half second of a stretch was heard and was not likely to hold outside sound."""
        inside = [m for m in self._moments if m.end_s > from_s and m.start_s < to_s]
        heard_s = sum(m.end_s - m.start_s for m in inside)
        # Before the session's first moment there is nothing that could have been said.
        wanted_s = to_s - max(from_s, 0.0)
        return heard_s >= wanted_s - 1e-6 and all(m.outside < OUTSIDE_BELOW for m in inside)

    def _cut(self, from_s: float, to_s: float) -> tuple[Samples | None, int]:
        """Return the samples of a stretch, or None when memory does not hold them whole."""
        parts = [b for b in self._blocks if _end_s(b) > from_s and b.start_s < to_s]
        if not parts:
            return None, 0
        rate = parts[0].sample_rate
        first = round(from_s * rate) - parts[0].start
        count = round((to_s - from_s) * rate)
        samples = np.concatenate([b.samples for b in parts])[max(first, 0) : max(first, 0) + count]
        if first < 0 or samples.size < count:
            return None, rate
        return samples, rate


def _end_s(block: Block) -> float:
    return block.start_s + block.samples.size / block.sample_rate
