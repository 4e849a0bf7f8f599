"""The contract of every streaming part, and the list of the parts that it is checked on.

A streaming part takes samples in blocks of any size and gives the same results, to the bit, for all of
them; it keeps nothing of the caller's buffer, is as new after ``reset`` and after ``flush``, and its memory
does not grow with the length of the stream. To add a part, append a ``Part`` to ``PARTS``; a part that
takes slabs is put behind a framer with ``AfterFramer``.
"""

from __future__ import annotations

import dataclasses
import tracemalloc
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from tuner.signatures.ears import FEATURE_NAMES, Ears
from tuner.signatures.listener import Listener
from tuner.signatures.taught import PARTS as PARTS_TAUGHT
from tuner.signatures.taught import Templates, summed_up
from tuner.sound.frames import Framer, LongSpectrum, Slab
from tuner.sound.levels import LevelMeter
from tuner.sound.texture import Texturer
from tuner.terms import Levels, Moment, Sound

Sound32 = NDArray[np.float32]

# Results a part may keep between two moments of one stream (histories that wander within their bounds).
MEMORY_SLACK_BYTES = 200_000


class TakesSamples(Protocol):
    """What is under contract: samples in, a tuple of finished values out."""

    def push(self, samples: Sound32, /) -> tuple[Any, ...]: ...
    def flush(self) -> tuple[Any, ...]: ...
    def reset(self) -> None: ...


class TakesSlabs(Protocol):
    """A part that stands behind a framer."""

    def push(self, slab: Slab, /) -> tuple[Any, ...]: ...
    def flush(self) -> tuple[Any, ...]: ...
    def reset(self) -> None: ...


class AfterFramer:
    """A framer and a part that takes its slabs, as one part that takes samples."""

    def __init__(self, sample_rate: int, part: TakesSlabs) -> None:
        self._framer = Framer(sample_rate)
        self._part = part

    def _through(self, slabs: Iterable[Slab]) -> tuple[Any, ...]:
        return tuple(out for slab in slabs for out in self._part.push(slab))

    def push(self, samples: Sound32, /) -> tuple[Any, ...]:
        return self._through(self._framer.push(samples))

    def flush(self) -> tuple[Any, ...]:
        return self._through(self._framer.flush()) + self._part.flush()

    def reset(self) -> None:
        self._framer.reset()
        self._part.reset()


class LevelsAtTheEnd:
    """A level meter that gives its levels when the stream ends, where there was enough of it."""

    def __init__(self, sample_rate: int) -> None:
        self._meter = LevelMeter(sample_rate)

    def push(self, slab: Slab, /) -> tuple[Levels, ...]:
        self._meter.update(slab)
        return ()

    def flush(self) -> tuple[Levels, ...]:
        levels = (self._meter.levels(),) if self._meter.duration_s >= 1.0 else ()
        self._meter.reset()
        return levels

    def reset(self) -> None:
        self._meter.reset()


class ListenerAsPart:
    """A listener that gives its sounds and moments as results."""

    def __init__(self, sample_rate: int, templates: Templates | None = None) -> None:
        self._listener = Listener(sample_rate, templates=templates)

    def push(self, samples: Sound32, /) -> tuple[Sound | Moment, ...]:
        return (*self._listener.feed(samples), *self._listener.moments())

    def flush(self) -> tuple[Sound | Moment, ...]:
        rest = (*self._listener.flush(), *self._listener.moments())
        self._listener.reset()
        return rest

    def reset(self) -> None:
        self._listener.reset()


@dataclass(frozen=True)
class Part:
    """A streaming part under contract: how to make a new one, and for which sample rate."""

    name: str
    sample_rate: int
    make: Callable[[], TakesSamples]


def parts_of_sound(sample_rate: int) -> list[Part]:
    """Return the parts of tuner.sound for one sample rate."""
    return [
        Part(f"Framer at {sample_rate} Hz", sample_rate, lambda: Framer(sample_rate)),
        Part(
            f"LongSpectrum at {sample_rate} Hz",
            sample_rate,
            lambda: AfterFramer(sample_rate, LongSpectrum(sample_rate)),
        ),
        Part(
            f"LevelMeter at {sample_rate} Hz",
            sample_rate,
            lambda: AfterFramer(sample_rate, LevelsAtTheEnd(sample_rate)),
        ),
    ]


def parts_of_signatures(sample_rate: int) -> list[Part]:
    """Return the parts that hear, for one sample rate."""
    return [
        Part(
            f"Texturer at {sample_rate} Hz", sample_rate, lambda: AfterFramer(sample_rate, Texturer(sample_rate))
        ),
        Part(f"Ears at {sample_rate} Hz", sample_rate, lambda: AfterFramer(sample_rate, Ears(sample_rate))),
        Part(f"Listener at {sample_rate} Hz", sample_rate, lambda: ListenerAsPart(sample_rate)),
    ]


def taught_listener(sample_rate: int) -> Part:
    """Return a listener with templates of three arbitrary parts."""
    rng = np.random.default_rng(sample_rate)
    parts = {p: summed_up(5.0 * rng.normal(size=(40, len(FEATURE_NAMES)))) for p in PARTS_TAUGHT}
    own = Templates(FEATURE_NAMES, parts, "", sample_rate)
    return Part(f"taught Listener at {sample_rate} Hz", sample_rate, lambda: ListenerAsPart(sample_rate, own))


PARTS: list[Part] = [
    part for rate in (16000, 44100, 48000) for part in (*parts_of_sound(rate), *parts_of_signatures(rate))
]
PARTS.append(taught_listener(16000))


def stream(sample_rate: int, seconds: float, seed: int) -> Sound32:
    """Return a sound with something in it for every part: noise, a hum, bursts and short bubble notes."""
    rng = np.random.default_rng(seed)
    time_s = np.arange(round(seconds * sample_rate)) / sample_rate
    samples = 0.01 * rng.normal(size=time_s.size) + 0.02 * np.sin(2.0 * np.pi * 100.0 * time_s)
    for _ in range(round(8 * seconds)):
        start = int(rng.integers(0, time_s.size))
        span = time_s[: min(round(0.2 * sample_rate), time_s.size - start)]
        pitch_hz, decay_s = rng.uniform(300.0, 2500.0), rng.uniform(0.005, 0.05)
        note = np.sin(2.0 * np.pi * pitch_hz * span) + 0.5 * rng.normal(size=span.size)
        samples[start : start + span.size] += rng.uniform(0.05, 0.3) * note * np.exp(-span / decay_s)
    sound: Sound32 = np.clip(samples, -1.0, 1.0).astype(np.float32)
    return sound


def frozen(value: Any) -> Any:
    """Return ``value`` as plain nested tuples that are equal exactly when all bits are equal."""
    if isinstance(value, np.ndarray):
        return (str(value.dtype), value.shape, value.tobytes())
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        fields = tuple((f.name, frozen(getattr(value, f.name))) for f in dataclasses.fields(value))
        return (type(value).__name__, *fields)
    if isinstance(value, dict):
        return tuple((frozen(k), frozen(v)) for k, v in value.items())
    if isinstance(value, (tuple, list)):
        return tuple(frozen(item) for item in value)
    return repr(value)


def heard(part: TakesSamples, blocks: Iterable[Sound32]) -> Any:
    """Push all blocks, flush, and return everything that came out, frozen."""
    out: tuple[Any, ...] = ()
    for block in blocks:
        out += part.push(block)
    return frozen(out + part.flush())


def cut(samples: Sound32, sizes: Iterable[int]) -> list[Sound32]:
    """Cut ``samples`` into blocks of the given sizes, in turn from the first again, to the end."""
    pattern = list(sizes)
    blocks, taken, turn = [], 0, 0
    while taken < samples.size:
        size = pattern[turn % len(pattern)]
        blocks.append(samples[taken : taken + size])
        taken += size
        turn += 1
    return blocks


def check_cut_invariance(part: Part, seconds: float, sizes: list[int]) -> None:
    """Any cut gives what the whole at once gives, and that is something."""
    samples = stream(part.sample_rate, seconds, seed=1)
    whole = heard(part.make(), [samples])
    assert whole, f"{part.name} gave nothing in {seconds} s: lengthen the stream"
    assert heard(part.make(), cut(samples, sizes)) == whole


def check_reset_equals_new(part: Part, seconds: float) -> None:
    """After ``reset``, and after ``flush``, a part is as new, whatever it heard before."""
    before, samples = stream(part.sample_rate, seconds, seed=2), stream(part.sample_rate, seconds, seed=3)
    fresh = heard(part.make(), [samples])
    used = part.make()
    used.push(before[: round(0.77 * before.size)])
    used.reset()
    assert heard(used, [samples]) == fresh
    assert heard(used, [samples]) == fresh


def check_no_aliasing(part: Part, seconds: float) -> None:
    """A caller may reuse its buffer for every block, and the blocks are left as they were."""
    samples = stream(part.sample_rate, seconds, seed=4)
    whole = heard(part.make(), [samples])
    size = 1000
    buffer = np.zeros(size, dtype=np.float32)
    reused = part.make()
    out: tuple[Any, ...] = ()
    for block in cut(samples, [size]):
        view = buffer[: block.size]
        view[:] = block
        out += reused.push(view)
        assert view.tobytes() == block.tobytes(), f"{part.name} wrote into the caller's buffer"
        buffer[:] = 0.9
    assert frozen(out + reused.flush()) == whole


def check_flush_twice(part: Part, seconds: float) -> None:
    """A second flush gives nothing, and so does the first flush of a part that heard nothing."""
    used = part.make()
    assert used.flush() == ()
    used.push(stream(part.sample_rate, seconds, seed=5))
    used.flush()
    assert used.flush() == ()


def check_bounded_memory(part: Part, seconds: float) -> None:
    """What a part holds does not grow from one stretch of sound to the next."""
    blocks = cut(stream(part.sample_rate, seconds, seed=6), [part.sample_rate // 10])
    used = part.make()
    for block in blocks:
        used.push(block)
    tracemalloc.start()
    try:
        for block in blocks:
            used.push(block)
        settled = tracemalloc.get_traced_memory()[0]
        for _ in range(4):
            for block in blocks:
                used.push(block)
        grown = tracemalloc.get_traced_memory()[0] - settled
    finally:
        tracemalloc.stop()
    assert grown < MEMORY_SLACK_BYTES, f"{part.name} grew by {grown} bytes in {4 * seconds} s"
