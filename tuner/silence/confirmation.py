"""Confirming silence while one listens: the ears, the watch on the chain and the evidence behind one ``feed``."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from tuner.errors import ConfigError
from tuner.rig import Rig
from tuner.signatures.listener import Listener
from tuner.signatures.model import stated_recall
from tuner.signatures.taught import Templates
from tuner.silence.chain import ChainCheck, ChainReport
from tuner.silence.evidence import Evidence
from tuner.silence.judgement import TONAL, Limits, Setting, Verdict
from tuner.silence.verdict import judge
from tuner.sound.frames import Framer, LongFrame, LongSpectrum
from tuner.terms import SOUND_KINDS, Floor, Levels, Moment, Sound

_SEED = 1936
_MOST_ENDED = 1000


def usual_limits() -> Limits:
    """Return the limits with the recall that the signature model's card states, the least of all sounds in bouts."""
    recall = stated_recall([kind for kind in SOUND_KINDS if kind not in TONAL])
    return Limits() if recall is None else replace(Limits(), recall=min(max(recall, 0.05), 1.0))


class Confirmation:
    """Listen for silence: ``feed`` samples, ask ``verdict`` at any time. Memory does not grow with time.

    Parameters
    ----------
    sample_rate
        Hz.
    floor
        The room with the pumps off by the same microphone, or None.
    check
        The microphone's tried chain, or None: then nothing is called silent.
    rig, offset_db, self_noise_db, limits
        The installation, the calibration (dB), the microphone's own noise (dB) and what counts as silent.
    templates
        What was taught of this rig, where it was.
    """

    def __init__(
        self, sample_rate: int, floor: Floor | None, check: ChainReport | None, *, rig: Rig | None = None,
        offset_db: float | None = None, self_noise_db: float | None = None, limits: Limits | None = None,
        templates: Templates | None = None,
    ) -> None:
        self.sample_rate = sample_rate
        self.limits = limits or usual_limits()
        self._ended: deque[Sound] = deque(maxlen=_MOST_ENDED)
        self.evidence = Evidence(sample_rate)
        self._listener = Listener(sample_rate, rig, floor, offset_db=offset_db, templates=templates)
        self._framer = Framer(sample_rate)
        self._long = LongSpectrum(sample_rate)
        self._frames: deque[LongFrame] = deque()  # of moments that are still to come
        self._watch = ChainCheck(sample_rate)
        self._setting: Callable[[ChainReport], Setting] = lambda watch: Setting(
            floor, check, watch, offset_db, self_noise_db
        )

    def feed(self, samples: NDArray[np.floating]) -> tuple[Moment, ...]:
        """Take the next samples, float in [-1, 1], and return the moments that they complete."""
        for slab in self._framer.push(samples):
            self._watch.take(slab)
            self._frames.extend(self._long.push(slab))
        return self._hear(self._listener.feed(samples))

    def _hear(self, sounds: tuple[Sound, ...]) -> tuple[Moment, ...]:
        """Take the moments that are new as evidence, each with its frame, and then the sounds that have ended."""
        moments = self._listener.moments()
        for moment in moments:
            if self._frames:  # what is left of a stream at its end may give a moment more than frames
                self.evidence.hear(moment, self._frames.popleft())
        for sound in sounds:
            self.evidence.heard(sound)
        self._ended.extend(sounds)
        return moments

    def ended(self) -> tuple[Sound, ...]:
        """Return the sounds that have ended since the last call, oldest first; very old ones are forgotten."""
        ended = tuple(self._ended)
        self._ended.clear()
        return ended

    def gap(self, dropped: int) -> tuple[Moment, ...]:
        """Say that ``dropped`` samples were lost here; return the moments that were still to come before them."""
        moments = self._hear(self._listener.gap(dropped))
        self._framer.reset()
        self._long.reset()
        self._frames.clear()
        self.evidence.lost(dropped / self.sample_rate)
        return moments

    def end(self) -> tuple[Moment, ...]:
        """End the listening: sounds that were under way count; return the moments that were still to come."""
        return self._hear(self._listener.flush())

    def quietest_db(self, offset_db: float | None) -> float | None:
        """Return the A-weighted level (dB) that 90 % of the clean cells exceed, or None before there are any."""
        cells = self.evidence.cells
        if not cells.shape[0]:
            return None
        return float(10.0 * np.log10(np.quantile(cells[:, 0], 0.1) + 1e-20)) + (offset_db or 0.0)

    def levels(self) -> Levels | None:
        """Return the levels of everything heard, masked seconds included, or None with less than a second of it."""
        try:
            return self._listener.levels()
        except ConfigError:
            return None

    def verdict(self) -> Verdict:
        """Return what is established so far."""
        setting = self._setting(self._watch.report(trial=False))
        return judge(self.evidence, setting, self.limits, np.random.default_rng(_SEED))
