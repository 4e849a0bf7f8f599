"""The rehearsal of a power cut as a loop: pumps off, listen, pumps on, listen until it is quiet; some times over."""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Protocol

from tuner.errors import SourceError
from tuner.logbook.entry import Entry
from tuner.rig import Rig
from tuner.screens.restartpage import RestartShot, Stage
from tuner.screens.words import clock_text, count_text, duration_text
from tuner.signatures.listener import Listener
from tuner.signatures.taught import Templates
from tuner.silence.restart import LONGEST_S, STEADY_S, Start, find_start
from tuner.terms import Block, Moment, Sound
from tuner.verbs.desk import Desk
from tuner.verbs.ears import Ears
from tuner.verbs.instruments import Instruments
from tuner.verbs.opening import Room, Scale

CHUNK_S = 10.0
FIRST_FOUND_S = 20.0  # phases cannot be told from less
FOUND_EVERY_S = 2.0
READY_S = 30.0  # to walk from the keyboard to the pumps' switch
IDLE_S = 0.1


@dataclass(frozen=True, slots=True)
class Place:
    """What is started: ears, the installation, the room, how the pumps are switched, and how a wait is ended."""

    name: str
    sample_rate: int
    ears: Ears
    rig: Rig | None
    room: Room
    scale: Scale
    switch: Callable[[bool], None]
    templates: Templates | None = None
    end: Callable[[], None] = lambda: None


class Teller(Protocol):
    """Whoever tells how the starts go."""

    def begins(self, waited_s: float) -> bool:
        """Tell whether the first call may come, after so long a wait."""
        ...

    def called(self, number: int, lasts_s: float, /, *, on: bool) -> None:
        """Learn that the pumps are to be switched now, and how long is then listened at most."""
        ...

    def heard(self, block: Block, moments: tuple[Moment, ...], stage_s: float) -> None:
        """Learn what was just heard, so long after the call."""
        ...

    def drained(self, sounds: int, off_s: float) -> None:
        """Learn how many sounds ended while the pumps were off."""
        ...

    def found(self, start: Start, *, ended: bool) -> None:
        """Learn what has been found of the present start, so far or in the end."""
        ...


class LineTeller:
    """Prints each call and each start; nothing where ``quiet``."""

    def __init__(self, desk: Desk, *, quiet: bool) -> None:
        self._tell: Callable[[str], None] = (lambda _words: None) if quiet else desk.tell

    def begins(self, _waited_s: float) -> bool:
        """Begin at once: whoever called this stands ready."""
        return True

    def called(self, number: int, _lasts_s: float, /, *, on: bool) -> None:
        """Print the call to switch off; that to switch on comes with what was heard until then."""
        if not on:
            self._tell(f"start {number}  switch the pumps OFF now")

    def heard(self, _block: Block, _moments: tuple[Moment, ...], _stage_s: float) -> None:
        """Print nothing meanwhile."""

    def drained(self, sounds: int, off_s: float) -> None:
        """Print the call to switch on."""
        heard = f"drained for {duration_text(off_s)}, {count_text(sounds, 'sound')}"
        self._tell(f"         {heard}; switch the pumps ON now")

    def found(self, start: Start, *, ended: bool) -> None:
        """Print the phases of a start that is over."""
        if not ended:
            return
        for name, from_s, to_s in start.phases:
            self._tell(f"         {clock_text(from_s)} to {clock_text(to_s)}  {name}")
        if start.catches_s is None:
            self._tell("         the siphon did not catch while one listened")


class Shows(Protocol):
    """A screen that takes the states of a rehearsal."""

    def show(self, state: RestartShot, /) -> None:
        """Take the newest state; may be called from the loop's thread."""
        ...


class ScreenTeller:
    """Makes the states of the full screen; ``begin`` may be called by the thread that owns it."""

    def __init__(self, instruments: Instruments, state: RestartShot, screen: Shows) -> None:
        self._instruments = instruments
        self._state = replace(state, stage="ready", lasts_s=READY_S)
        self._screen = screen
        self._begins = threading.Event()

    def begin(self) -> None:
        """Let the first call come now."""
        self._begins.set()

    def begins(self, waited_s: float) -> bool:
        """Show how long there is to go to the switch; begin with the key, or when that time is over."""
        self._show(replace(self._state, stage_s=waited_s))
        return self._begins.is_set() or waited_s >= READY_S

    def called(self, number: int, lasts_s: float, /, *, on: bool) -> None:
        """Show the call."""
        stage: Stage = "on" if on else "off"
        self._show(replace(self._state, stage=stage, number=number, stage_s=0.0, lasts_s=lasts_s, start=None))

    def heard(self, block: Block, moments: tuple[Moment, ...], stage_s: float) -> None:
        """Show the newest state."""
        self._instruments.hear(block, moments)
        self._show(replace(self._state, stage_s=stage_s, shot=self._instruments.shot))

    def drained(self, _sounds: int, _off_s: float) -> None:
        """Show nothing of it: the next call says it."""

    def found(self, start: Start, *, ended: bool) -> None:
        """Show the phases."""
        starts = (*self._state.starts, start) if ended else self._state.starts
        self._show(replace(self._state, start=start, starts=starts))

    def ended(self, findings: tuple[str, ...], restarts: bool | None) -> None:
        """Show what it came to."""
        shot = replace(self._state.shot, phase="done", now_db=None)
        self._show(replace(self._state, shot=shot, stage="done", findings=findings, restarts=restarts))

    def _show(self, state: RestartShot) -> None:
        self._state = state
        self._screen.show(state)


class Restarting:
    """The loop. ``leave`` may be called from any thread.

    ``starts`` are those that are over, ``switched_on_s`` when the pumps were called on in each, in the session's time.
    """

    def __init__(self, place: Place, off_s: float, count: int, entry: Entry, teller: Teller) -> None:
        self.starts: list[Start] = []
        self.switched_on_s: list[float] = []
        self._place = place
        self._off_s = off_s
        self._count = count
        self._entry = entry
        self._teller = teller
        self._left = threading.Event()
        self._words: queue.SimpleQueue[str] = queue.SimpleQueue()
        self._began_s: float | None = None  # when the ears' time began, in the session's
        self._sounds = 0  # that ended since then
        self._listener = Listener(
            place.sample_rate, place.rig, place.room.floor, offset_db=place.scale.offset_db, templates=place.templates
        )

    @property
    def has_left(self) -> bool:
        """Whether it was left before its end."""
        return self._left.is_set()

    def leave(self) -> None:
        """End it at the next block."""
        self._left.set()
        self._place.end()

    def note(self, words: str) -> None:
        """Keep the keeper's words; they are written with the next block."""
        self._words.put(words)

    def run(self) -> None:
        """Carry out all starts, unless it is left."""
        waited_s = 0.0
        while not self.has_left and not self._teller.begins(waited_s):
            for block in self._place.ears.idle():
                self._teller.heard(block, (), waited_s)
            waited_s += IDLE_S
        for number in range(1, self._count + 1):
            start = None if self.has_left else self._one(number)
            if start is None:
                return
            self.starts.append(start)
            self.switched_on_s.append(self._began_s or 0.0)

    def _one(self, number: int) -> Start | None:
        """Carry out one stop and one start; None when it was left meanwhile."""
        place, listener, teller = self._place, self._listener, self._teller
        floor = place.room.floor
        assert floor is not None
        self._begin()
        teller.called(number, self._off_s, on=False)
        place.switch(False)
        for _ in self._heard(place.ears.listen(self._off_s), 0.0):
            pass
        if self.has_left:
            return None
        self._keep(listener.flush())
        drained = self._sounds
        self._begin()
        teller.drained(drained, self._off_s)
        teller.called(number, LONGEST_S, on=True)
        place.switch(True)
        moments: list[Moment] = []
        heard_s, next_s = 0.0, FIRST_FOUND_S
        start: Start | None = None
        while heard_s < LONGEST_S:
            for new in self._heard(place.ears.listen(CHUNK_S), heard_s):
                moments.extend(new)
                if moments and moments[-1].end_s >= next_s and len(moments) >= 2.0 * FIRST_FOUND_S:
                    next_s += FOUND_EVERY_S
                    teller.found(find_start(moments, floor, 0.0, place.rig), ended=False)
            if self.has_left:
                return None
            heard_s += CHUNK_S
            if heard_s < 30.0:
                continue
            start = find_start(moments, floor, 0.0, place.rig)
            # A film that settles late may yet be heard: quiet has to last.
            if start.quiet_s is not None and start.heard_s - start.quiet_s >= 2.0 * STEADY_S:
                break
        self._keep(listener.flush())
        if start is None:
            raise SourceError(f"{place.name} gave no sound after the start: check the microphone")
        teller.found(start, ended=True)
        return start

    def _begin(self) -> None:
        """Keep what the ears have still to say, and let them be as new; their time begins with the next block."""
        self._keep(self._listener.flush())
        self._listener.reset()
        self._began_s = None
        self._sounds = 0

    def _keep(self, sounds: tuple[Sound, ...]) -> tuple[Moment, ...]:
        """Keep sounds that have ended and the new moments, in the session's time; return the moments in the ears'."""
        began_s = self._began_s or 0.0
        moments = self._listener.moments()
        for moment in moments:
            self._entry.moment(replace(moment, start_s=moment.start_s + began_s, end_s=moment.end_s + began_s))
        for sound in sounds:
            self._entry.sound(replace(sound, start_s=sound.start_s + began_s, end_s=sound.end_s + began_s))
        self._sounds += len(sounds)
        return moments

    def _heard(self, blocks: Iterator[Block], stage_s: float) -> Iterator[tuple[Moment, ...]]:
        """Hear blocks that begin ``stage_s`` seconds after the call; give the moments that each completes."""
        listener, entry = self._listener, self._entry
        for block in blocks:
            if self._began_s is None:
                self._began_s = block.start_s - block.dropped / block.sample_rate
            moments: tuple[Moment, ...] = ()
            if block.dropped:
                length_s = block.dropped / block.sample_rate
                moments = self._keep(listener.gap(block.dropped))
                entry.gap(block.start_s - length_s, length_s, block.note)
            moments += self._keep(listener.feed(block.samples))
            stage_s += (block.samples.size + block.dropped) / block.sample_rate
            self._teller.heard(block, moments, stage_s)
            while not self._words.empty():
                entry.note(f"{clock_text(block.start_s)} {self._words.get()}")
            yield moments
            if self.has_left:
                return
