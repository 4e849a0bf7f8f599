"""What a source of sound is, and the one loop that reads it.

A source gives mono blocks of about 100 ms at one sample rate, whether they come from a microphone, a
recording or the simulated rig. Nothing is resampled: every stage works at the source's own rate, because a
resampler would add its own ripple to the levels and the microphone's rate is already the best one it has.

Conventions: a position is a sample index from the opening of the source; a lost stretch appears as
``dropped`` on the block after it and as a jump of ``start``, so that no stage glues over a gap.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from types import TracebackType
from typing import Protocol, Self, TypeVar, runtime_checkable

import numpy as np

from tuner.errors import ConfigError
from tuner.terms import Block, Samples

BLOCK_S = 0.1  # long enough to keep the work per block small, short enough that a screen looks live

Out_co = TypeVar("Out_co", covariant=True)
Out = TypeVar("Out")


@runtime_checkable
class Source(Protocol):
    """A microphone, a recording or a simulated rig: use it in a ``with`` and iterate over its blocks.

    ``sample_rate`` (Hz) holds for every block; ``name`` is what a person would call the source.
    """

    @property
    def sample_rate(self) -> int:
        """Samples per second of every block."""
        ...

    @property
    def name(self) -> str:
        """What a person would call the source."""
        ...

    def __enter__(self) -> Self: ...

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None: ...

    def __iter__(self) -> Iterator[Block]: ...


class Stage(Protocol[Out_co]):
    """Something that takes blocks and gives zero, one or many results for each."""

    def push(self, item: Block, /) -> tuple[Out_co, ...]:
        """Take one block."""
        ...

    def flush(self) -> tuple[Out_co, ...]:
        """Give what is still held back at the end of the stream."""
        ...


def run(blocks: Iterable[Block], stage: Stage[Out]) -> Iterator[Out]:
    """Drive ``stage`` with every block of a source, then flush it.

    The same loop serves live sound and files; a file is only read faster.
    """
    for block in blocks:
        yield from stage.push(block)
    yield from stage.flush()


def block_length(sample_rate: int) -> int:
    """Samples in one block at ``sample_rate`` Hz.

    >>> block_length(48000)
    4800
    """
    return max(1, round(sample_rate * BLOCK_S))


def first_seconds(blocks: Iterable[Block], duration_s: float) -> Iterator[Block]:
    """Give the blocks of the next ``duration_s`` seconds, the last one cut to fit.

    Time is counted from the start of the first block and along the stream, so a gap counts as time that
    passed. Blocks after the end are not fetched, so the same source can be listened to again.

    Raises
    ------
    ConfigError
        When ``duration_s`` is not a positive number.

    >>> clip = Clip(np.full(48000, 0.1, np.float32), 48000, "a clip")
    >>> [block.samples.size for block in first_seconds(clip, 0.25)]
    [4800, 4800, 2400]
    """
    if not (np.isfinite(duration_s) and duration_s > 0):
        raise ConfigError(f"duration_s={duration_s} must be a number of seconds above 0")
    end: int | None = None
    for block in blocks:
        if end is None:
            end = block.start - block.dropped + round(duration_s * block.sample_rate)
        left = end - block.start
        if left <= 0:
            return
        if block.samples.size < left:
            yield block
            continue
        yield block if block.samples.size == left else replace(block, samples=block.samples[:left])
        return


class Clip:
    """Samples already in memory, as a source.

    Parameters
    ----------
    samples
        float32, shape (n,); copied, so that the caller may go on writing to its own array.
    sample_rate
        Hz.
    name
        What a person would call it.

    Raises
    ------
    ConfigError
        When the samples are not one row of numbers or the rate is not positive.
    """

    def __init__(self, samples: Samples, sample_rate: int, name: str) -> None:
        if samples.ndim != 1:
            raise ConfigError(f"samples.ndim={samples.ndim} must be 1: mix the channels down first")
        if sample_rate <= 0:
            raise ConfigError(f"sample_rate={sample_rate} must be a positive number of samples per second")
        self.sample_rate = sample_rate
        self.name = name
        self._samples: Samples = samples.astype(np.float32, copy=True)
        self._samples.flags.writeable = False

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        return None

    def __iter__(self) -> Iterator[Block]:
        step = block_length(self.sample_rate)
        for start in range(0, self._samples.size, step):
            yield Block(self._samples[start : start + step], self.sample_rate, start)
