"""Hearing: the loop's state. Blocks go in; the listener, the logbook's entry and the screen get what they need.

Times in the entry and on the screen count from the session's start; the listener's own count from the start
of its window, and are moved by where the window began.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterable
from dataclasses import replace

from tuner.capture.microphone import LOST
from tuner.logbook.clipfolder import ClipFolder
from tuner.logbook.entry import Entry
from tuner.screens.snapshot import SLICES, Screen, Slice, Snapshot
from tuner.screens.words import clock_text
from tuner.signatures.listener import Listener
from tuner.sound.quick import QuickLevel
from tuner.terms import Block, Diagnosis, Moment, Reading, Sound, SoundKind
from tuner.verbs.clipping import ClipKeeper
from tuner.verbs.instruments import Seconds, surest_first

SHOWN_SOUNDS = 8
HEARD_SHARE = 0.5  # more likely heard than not
# Before its moment a kind has to be surer: then the moment agrees as often as one moment with another.
GLANCE_SHARE = 0.6
GLANCE_BLOCKS = 2  # often enough to be quick, seldom enough to be cheap
TROUBLE_S = 60.0  # what ails the logbook matters longer than a notice
NOTICE_S = 6.0  # long enough to be read, short enough to be gone when it no longer holds


class Hearing:
    """Takes the blocks of a source.

    Parameters
    ----------
    listener
        The streaming ears; reset at the beginning of each window.
    entry
        The session's entry in the logbook.
    screen
        Shows every new state.
    face
        What does not change from one state to the next: title, source, room, log number.
    meter
        Gives the level of a block at once, for a living screen; None where nobody looks.
    """

    def __init__(
        self, listener: Listener, entry: Entry, screen: Screen, face: Snapshot, meter: QuickLevel | None = None
    ) -> None:
        self.listener = listener
        self.entry = entry
        self.shot = self._shown = face
        self._meter = meter
        self._screen = screen
        self._window_start_s: float | None = None
        self._seconds = Seconds()
        self._slices: deque[Slice] = deque(maxlen=SLICES)
        self._sounds: deque[Sound] = deque(maxlen=SHOWN_SOUNDS)
        self._dropped = 0
        self._clear_at_s = math.inf
        self._clips: ClipKeeper | None = None
        self._told = ""
        self._blocks = 0
        self.now_s = 0.0

    def keep_clips(self, folder: ClipFolder) -> None:
        """Keep clips of plumbing sounds from now on, as the keeper asked."""
        self._clips = ClipKeeper(folder, self.entry)

    def show(self, shot: Snapshot) -> None:
        """Make ``shot`` the state and show it."""
        self.shot = self._shown = shot
        self._screen.show(shot)

    def begin_window(self) -> None:
        """Forget what was heard; the next block begins a listening window."""
        self.listener.reset()
        self._window_start_s = None
        self._blocks = 0

    @property
    def heard_s(self) -> float:
        """Seconds since the window began."""
        return 0.0 if self._window_start_s is None else self.now_s - self._window_start_s

    def take(self, block: Block) -> None:
        """Take the next block of the source."""
        if self._window_start_s is None:
            self._window_start_s = block.start_s - block.dropped / block.sample_rate
        self.now_s = block.start_s + block.samples.size / block.sample_rate
        ended: tuple[Sound, ...] = ()
        if self._clips is not None:
            self._clips.hear(block)
        if block.dropped:
            self._dropped += block.dropped
            self._slices.extend([Slice()] * min(SLICES, max(1, round(2 * block.dropped / block.sample_rate))))
            ended += self.listener.gap(block.dropped)
        if block.dropped or block.note:
            self._notice(block)
        if block.samples.size:
            if self._meter is not None and (now_db := self._meter(block.samples)) is not None:
                self.shot = replace(self.shot, now_db=now_db, elapsed_s=self.now_s)
            ended += self.listener.feed(block.samples)
        else:
            self.show(replace(self.shot, elapsed_s=self.now_s))
        moments = self.listener.moments()
        self._keep(ended, moments)
        self._glance()
        self._tell_trouble()
        self._show_newest()

    def _show_newest(self) -> None:
        """Show the state if it is new: once a block, because a screen that has just drawn makes the next state wait."""
        if self.shot is not self._shown:
            self.show(self.shot)

    def _glance(self) -> None:
        """Show on a living screen what seems to have begun, and the newest moment does not tell yet."""
        self._blocks += 1
        if self._meter is None or self._blocks % GLANCE_BLOCKS:
            return
        probability = self.listener.glance() or {}
        known = kinds_heard(self.shot.heard)
        new = {kind: share for kind, share in probability.items() if share >= GLANCE_SHARE and kind not in known}
        glimpse = max(new.items(), key=lambda pair: pair[1], default=None)
        if glimpse != self.shot.glimpse:
            self.shot = replace(self.shot, glimpse=glimpse)

    def _tell_trouble(self) -> None:
        """Show once what keeps the logbook or the clips from being written; listening goes on."""
        trouble = self.entry.trouble or (self._clips.trouble if self._clips is not None else "")
        if trouble and trouble != self._told:
            self._clear_at_s = self.now_s + TROUBLE_S
            self.show(replace(self.shot, notice=trouble, elapsed_s=self.now_s))
        self._told = trouble

    def _notice(self, block: Block) -> None:
        length_s = block.dropped / block.sample_rate
        words = block.note or f"{1000 * length_s:.0f} ms of sound lost"
        if block.dropped or block.note.startswith(LOST):
            self.entry.gap(block.start_s - length_s, length_s, words)
        else:
            self.entry.note(f"{clock_text(self.now_s)} {words}")
        self._clear_at_s = self.now_s + NOTICE_S
        self.show(replace(self.shot, notice=words, elapsed_s=self.now_s, slices=tuple(self._slices)))

    def say(self, words: str) -> None:
        """Show some words for a while."""
        self._clear_at_s = self.now_s + NOTICE_S
        self.show(replace(self.shot, notice=words))

    def _keep(self, ended: Iterable[Sound], moments: tuple[Moment, ...]) -> None:
        start_s = self._window_start_s or 0.0
        shot = self.shot
        sounded: list[Sound] = []
        later: list[Moment] = []
        for sound in ended:
            moved = replace(sound, start_s=sound.start_s + start_s, end_s=sound.end_s + start_s)
            sounded.append(moved)
            self.entry.sound(moved)
            self._sounds.append(moved)
            shot = replace(shot, sounds=tuple(self._sounds), sound_count=shot.sound_count + 1)
        for moment in moments:
            moved_moment = replace(
                moment, start_s=moment.start_s + start_s, end_s=moment.end_s + start_s, dropped=self._dropped
            )
            self._dropped = 0
            later.append(moved_moment)
            self.entry.moment(moved_moment)
            self._seconds.add(moved_moment)
            heard = surest_first(moment)
            kinds = kinds_heard(heard)
            self._slices.append(Slice(moment.third_octave_db, kinds))
            told = shot.glimpse is None or shot.glimpse[0] in kinds
            shot = replace(
                shot, elapsed_s=self.now_s, told_s=moved_moment.end_s, level_db=moment.level_db,
                trace_db=self._seconds.levels_db, heard=heard, glimpse=None if told else shot.glimpse,
                outside=moment.outside, bands_hz=moment.third_octave_hz, slices=tuple(self._slices),
            )
        if self._clips is not None:
            self._clips.sounded(sounded)
            self._clips.moments(later)
        if self.now_s >= self._clear_at_s:
            self._clear_at_s = math.inf
            shot = replace(shot, notice="")
        self.shot = shot

    def end_window(self) -> Reading:
        """End the window: sounds under way are taken to end here, and the reading is returned.

        Raises
        ------
        ConfigError
            When it was too short to say anything.
        """
        self.end()
        return self.listener.reading()

    def end(self) -> None:
        """Keep and show what was heard up to here, moment by moment; sounds under way are taken to end."""
        ended = self.listener.flush()
        for moment in self.listener.moments():
            self._keep((), (moment,))
            self._show_newest()
        self._keep(ended, ())
        self._show_newest()

    def conclude(self, diagnosis: Diagnosis) -> None:
        """Log and show what the window came to."""
        self.entry.diagnosis(diagnosis, self.now_s)
        self.show(replace(self.shot, diagnosis=diagnosis, window=self.shot.window + 1))
        self._tell_trouble()


def kinds_heard(shares: Iterable[tuple[SoundKind, float]]) -> tuple[SoundKind, ...]:
    """Return the kinds that are more likely heard than not, in their order."""
    return tuple(kind for kind, share in shares if share >= HEARD_SHARE)
