"""What a tuning listens with: a live microphone, where time passes by itself, or the simulated rig."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Protocol

import numpy as np

from tuner.capture.source import Source, block_length, first_seconds
from tuner.terms import Block, Question, Samples, Step

if TYPE_CHECKING:  # a microphone's listener need not wait for the simulated rig
    from tuner.rehearsal.rehearsal import Rehearsal

IDLE_S = 0.1
_NOTHING: Samples = np.empty(0, np.float32)
_NOTHING.flags.writeable = False


class Ears(Protocol):
    """Sound on demand: for a listening window, while the water settles, while the keeper thinks."""

    def listen(self, duration_s: float) -> Iterator[Block]:
        """Give the next ``duration_s`` seconds of sound."""
        ...

    def settle(self, duration_s: float) -> Iterator[Block]:
        """Let ``duration_s`` seconds pass and give what sound there is meanwhile."""
        ...

    def idle(self) -> Iterator[Block]:
        """Let about a tenth of a second pass and give what sound there is meanwhile."""
        ...

    def asked(self, asked: Step | Question) -> None:
        """Learn what the keeper was asked for."""
        ...

    def moved(self, step: Step, amount: float) -> None:
        """Learn what was done, signed; the simulated rig carries it out."""
        ...


class LiveEars:
    """An open source that goes on by itself. ``has_ended`` tells that no more sound will come."""

    def __init__(self, source: Source) -> None:
        self._blocks = self._taken(iter(source))
        self.has_ended = False

    def _taken(self, blocks: Iterator[Block]) -> Iterator[Block]:
        yield from blocks
        self.has_ended = True

    def listen(self, duration_s: float) -> Iterator[Block]:
        """Give the next ``duration_s`` seconds of sound."""
        return first_seconds(self._blocks, duration_s)

    def settle(self, duration_s: float) -> Iterator[Block]:
        """Give the sound of the settling time."""
        return first_seconds(self._blocks, duration_s)

    def idle(self) -> Iterator[Block]:
        """Give the next tenth of a second."""
        return first_seconds(self._blocks, IDLE_S)

    def asked(self, asked: Step | Question) -> None:
        """Nothing to do: the keeper knows."""

    def moved(self, step: Step, amount: float) -> None:
        """Nothing to do: the keeper's hand has done it."""


class Pace:
    """Holds a faster stream back to ``speed`` times real time, so that a person can follow it."""

    def __init__(self, speed: float, seconds: Callable[[], float], sleep: Callable[[float], None]) -> None:
        self._speed = speed
        self._seconds = seconds
        self._sleep = sleep
        self._due_s = seconds()

    def passed(self, duration_s: float) -> None:
        """Wait until ``duration_s`` seconds of the stream may have passed since the last call."""
        now_s = self._seconds()
        self._due_s = max(self._due_s + duration_s / self._speed, now_s - 1.0)
        if self._due_s > now_s:
            self._sleep(self._due_s - now_s)

    def paced(self, blocks: Iterator[Block]) -> Iterator[Block]:
        """Give blocks no faster than the pace."""
        for block in blocks:
            yield block
            self.passed(block.samples.size / block.sample_rate)


class RehearsalEars:
    """The simulated rig: it sounds while it is listened to, and time passes unheard while the water settles.

    Parameters
    ----------
    rehearsal
        The rig; what the keeper did is done on it.
    pace
        Holds everything to a speed that a person can follow; None goes as fast as it can.
    sleep
        Waits while the keeper thinks.
    runs_on
        Whether the water runs on, and is heard, while the keeper thinks.
    hand_after_s
        For a hand that tells nobody: how long after it was asked it makes the move by itself; None for no such hand.
    """

    def __init__(
        self, rehearsal: Rehearsal, pace: Pace | None, sleep: Callable[[float], None], *, runs_on: bool = False,
        hand_after_s: float | None = None,
    ) -> None:
        self._rehearsal = rehearsal
        self._pace = pace
        self._sleep = sleep
        self._runs_on = runs_on
        self._hand_after_s = hand_after_s
        self._hand: Step | None = None
        self._hand_s = 0.0
        self._at = 0
        self._ready: list[Block] = []

    def listen(self, duration_s: float) -> Iterator[Block]:
        """Give the next ``duration_s`` seconds of sound."""
        self._ready.clear()
        rate = self._rehearsal.sample_rate
        length = block_length(rate)
        left_s = duration_s
        while left_s > 1e-9:
            # Rendered by the second, because each rendering has a price of its own, whatever its length.
            samples = self._rehearsal.listen(min(1.0, left_s))
            left_s -= 1.0
            for start in range(0, samples.size, length):
                block = Block(samples[start : start + length], rate, self._at)
                self._at += block.samples.size
                yield block
                self._pass(block.samples.size / rate)

    def settle(self, duration_s: float) -> Iterator[Block]:
        """Let time pass unheard; one empty block a second tells how it goes."""
        left_s = duration_s
        while left_s > 0:
            step_s = min(1.0, left_s)
            self._rehearsal.wait(step_s)
            self._at += round(step_s * self._rehearsal.sample_rate)
            left_s -= step_s
            yield Block(_NOTHING, self._rehearsal.sample_rate, self._at)
            self._pass(step_s)

    def idle(self) -> Iterator[Block]:
        """Wait a moment, with the water running on or standing still."""
        if not self._runs_on:
            self._sleep(IDLE_S)
            return
        if self._hand is not None and self._hand_s >= (self._hand_after_s or 0.0):
            self._turn()
        if not self._ready:
            self._ready = self._rendered(1.0)
        block = self._ready.pop(0)
        self._at = block.start + block.samples.size
        self._hand_s += block.samples.size / block.sample_rate
        yield block
        self._pass(IDLE_S)

    def _rendered(self, duration_s: float) -> list[Block]:
        samples, rate = self._rehearsal.listen(duration_s), self._rehearsal.sample_rate
        length = block_length(rate)
        return [
            Block(samples[start : start + length], rate, self._at + start) for start in range(0, samples.size, length)
        ]

    def asked(self, asked: Step | Question) -> None:
        """Set the hand to what it was asked for, where there is one that acts by itself."""
        if self._hand_after_s is not None and isinstance(asked, Step):
            self._hand, self._hand_s = asked, 0.0

    def _turn(self) -> None:
        hand, self._hand = self._hand, None
        if hand is not None and hand.amount:
            self._rehearsal.move(hand.control, hand.amount)

    def moved(self, step: Step, amount: float) -> None:
        """Do on the rig what the keeper did, unless its own hand has done it or will."""
        if self._hand_after_s is not None:
            self._turn()
        elif amount:
            self._rehearsal.move(step.control, amount)

    def _pass(self, duration_s: float) -> None:
        if self._pace is not None:
            self._pace.passed(duration_s)
