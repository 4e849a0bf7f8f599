"""Confirming silence as a loop: blocks go into the confirmation, the log and whoever tells how it goes."""

from __future__ import annotations

import queue
import threading
from collections import deque
from collections.abc import Iterator
from dataclasses import replace
from typing import Protocol

from tuner.logbook.entry import Entry
from tuner.screens.confirmpage import ConfirmShot, Stretch
from tuner.screens.words import clock_text, duration_text
from tuner.silence.confirmation import Confirmation
from tuner.silence.evidence import is_masked
from tuner.silence.judgement import Limits, Verdict
from tuner.silence.points import points
from tuner.sound.bands import nominal_name
from tuner.terms import Block, Moment, Sound
from tuner.verbs.clipping import ClipKeeper
from tuner.verbs.desk import Desk
from tuner.verbs.instruments import Instruments

PROGRESS_SHARE = 0.1
LONGEST_PROGRESS_S = 600.0
JUDGED_EVERY_S = 5.0
STRETCHES = 50
COVERED, LOST = "other sound", "sound was lost"
_BRIDGE_S = 3.0  # a shorter rest between two disturbances is part of one


class Teller(Protocol):
    """Whoever tells how a confirmation goes."""

    def heard(self, block: Block, moments: tuple[Moment, ...], confirmation: Confirmation) -> None:
        """Learn what was just heard."""
        ...

    def trouble(self, words: str) -> None:
        """Learn what keeps the logbook from being written, or "" when it can be again."""
        ...

    def ended(self, verdict: Verdict) -> None:
        """Learn the verdict."""
        ...


class LineTeller:
    """Ten lines over the whole time, at least one every ten minutes; none where ``quiet``."""

    def __init__(self, desk: Desk, lasts_s: float, *, quiet: bool) -> None:
        self._desk = desk
        self._quiet = quiet
        self._every_s = min(PROGRESS_SHARE * lasts_s, LONGEST_PROGRESS_S)
        self._next_s = self._every_s

    def heard(self, block: Block, _moments: tuple[Moment, ...], confirmation: Confirmation) -> None:
        """Print a line when it is time."""
        at_s = block.start_s + block.samples.size / block.sample_rate
        if at_s >= self._next_s and not self._quiet:
            self._next_s += self._every_s
            self._desk.tell(f"{clock_text(at_s)}    {progress_text(confirmation.verdict())}")

    def trouble(self, words: str) -> None:
        """Say it on the error stream."""
        self._desk.say(words or "the logbook can be written again")

    def ended(self, _verdict: Verdict) -> None:
        """The certificate tells it."""


def progress_text(verdict: Verdict) -> str:
    """Return in one line what is established so far."""
    parts = [f"{duration_text(verdict.clean_s)} unmasked"]
    if verdict.high_db is not None:
        parts.append(f"at most {max(verdict.high_db, 0.0):.1f} dB(A) over the room")
    if verdict.bands:
        worst = max(verdict.bands, key=lambda band: band.high_db)
        parts.append(f"worst band {nominal_name(worst.hz)} Hz at most {max(worst.high_db, 0.0):.1f} dB over it")
    if verdict.per_hour is not None:
        parts.append(f"fewer than {verdict.per_hour:.0f} plumbing sounds an hour")
    parts.append(f"so far {verdict.outcome}" + (f": {verdict.heard[0]}" if verdict.heard else ""))
    return ", ".join(parts)


class Shows(Protocol):
    """A screen that takes the states of a confirmation."""

    def show(self, state: ConfirmShot, /) -> None:
        """Take the newest state; may be called from the loop's thread."""
        ...


class ScreenTeller:
    """Makes the states of the full screen; ``show`` takes them from the loop's thread."""

    def __init__(self, instruments: Instruments, lasts_s: float, limits: Limits, screen: Shows) -> None:
        self._instruments = instruments
        self._limits = limits
        self._screen = screen
        self._state = ConfirmShot(instruments.shot, lasts_s)
        self._stretches: deque[Stretch] = deque(maxlen=STRETCHES)
        self._judged_s = 0.0

    def heard(self, block: Block, moments: tuple[Moment, ...], confirmation: Confirmation) -> None:
        """Show the newest state; the verdict so far comes every five seconds."""
        if block.dropped:
            length_s = block.dropped / block.sample_rate
            self._cover(block.start_s - length_s, block.start_s, LOST)
        self._instruments.hear(block, moments)
        state = replace(self._state, shot=self._instruments.shot)
        for moment in moments:
            state = replace(state, disturbed=is_masked(moment))
            if state.disturbed:
                self._cover(moment.start_s, moment.end_s, COVERED)
        now_s = state.shot.elapsed_s
        if now_s >= self._judged_s + JUDGED_EVERY_S:
            self._judged_s = now_s
            verdict = confirmation.verdict()
            state = replace(state, verdict=verdict, points=points(verdict, self._limits))
        self._show(replace(state, stretches=tuple(self._stretches)))

    def _cover(self, start_s: float, end_s: float, words: str) -> None:
        last = self._stretches[-1] if self._stretches else None
        if last is not None and last.words == words and start_s - last.end_s <= _BRIDGE_S:
            self._stretches[-1] = replace(last, end_s=end_s)
        else:
            self._stretches.append(Stretch(start_s, end_s, words))

    def _show(self, state: ConfirmShot) -> None:
        self._state = state
        self._screen.show(state)

    def trouble(self, words: str) -> None:
        """Show it until the logbook can be written again."""
        self._instruments.shot = replace(self._instruments.shot, notice=words)
        self._show(replace(self._state, shot=self._instruments.shot))

    def ended(self, verdict: Verdict) -> None:
        """Show the verdict."""
        shot = replace(self._instruments.shot, phase="done", now_db=None)
        standing = points(verdict, self._limits)
        self._show(replace(self._state, shot=shot, verdict=verdict, points=standing, disturbed=False))


class Confirming:
    """The loop. ``leave`` may be called from any thread and ends it at the next block."""

    def __init__(self, confirmation: Confirmation, entry: Entry, clips: ClipKeeper | None, teller: Teller) -> None:
        self._confirmation = confirmation
        self._entry = entry
        self._clips = clips
        self._teller = teller
        self._left = threading.Event()
        self._words: queue.SimpleQueue[str] = queue.SimpleQueue()

    def leave(self) -> None:
        """End it at the next block."""
        self._left.set()

    def note(self, words: str) -> None:
        """Keep the keeper's words; they are written with the next block."""
        self._words.put(words)

    def hear(self, blocks: Iterator[Block]) -> None:
        """Take the blocks until they end or it is left; sounds that are then under way count."""
        confirmation, entry, trouble = self._confirmation, self._entry, ""
        for block in blocks:
            if block.dropped:
                length_s = block.dropped / block.sample_rate
                moments = confirmation.gap(block.dropped)
                self._keep(confirmation.ended(), moments)
                entry.gap(block.start_s - length_s, length_s, block.note)
            moments = confirmation.feed(block.samples)
            if self._clips is not None:
                self._clips.hear(block)
            self._keep(confirmation.ended(), moments)
            self._teller.heard(block, moments, confirmation)
            while not self._words.empty():
                entry.note(f"{clock_text(block.start_s)} {self._words.get()}")
            if entry.trouble != trouble:
                trouble = entry.trouble
                self._teller.trouble(trouble)
            if self._left.is_set():
                break
        moments = confirmation.end()
        self._keep(confirmation.ended(), moments)

    def _keep(self, ended: tuple[Sound, ...], moments: tuple[Moment, ...]) -> None:
        for moment in moments:
            self._entry.moment(moment)
        for sound in ended:
            self._entry.sound(sound)
        if self._clips is not None:
            self._clips.sounded(ended)
            self._clips.moments(moments)
