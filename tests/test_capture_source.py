from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tuner.capture.source import Clip, Source, block_length, first_seconds, run
from tuner.errors import ConfigError
from tuner.terms import Block


class Counting:
    """A stage that gives the length of each block, and at the end how many there were."""

    def __init__(self) -> None:
        self.blocks = 0

    def push(self, item: Block, /) -> tuple[int, ...]:
        self.blocks += 1
        return (item.samples.size,)

    def flush(self) -> tuple[int, ...]:
        return (-self.blocks,)


def noise(n: int) -> np.ndarray:
    return np.random.default_rng(1).uniform(-0.5, 0.5, n).astype(np.float32)


def test_clip_is_a_source() -> None:
    assert isinstance(Clip(noise(10), 48_000, "clip"), Source)


@given(n=st.integers(0, 20_000), sample_rate=st.sampled_from([8_000, 11_025, 44_100, 48_000, 96_000]))
def test_blocks_join_up_to_the_clip(n: int, sample_rate: int) -> None:
    samples = noise(n)
    blocks = list(Clip(samples, sample_rate, "clip"))
    joined = np.concatenate([b.samples for b in blocks]) if blocks else np.empty(0, np.float32)
    assert np.array_equal(joined, samples)
    position = 0
    for block in blocks:
        assert block.start == position
        position += block.samples.size
    assert all(b.samples.size == block_length(sample_rate) for b in blocks[:-1])


def test_blocks_last_about_a_tenth_of_a_second() -> None:
    for sample_rate in (8_000, 11_025, 22_050, 44_100, 48_000, 192_000):
        assert block_length(sample_rate) / sample_rate == pytest.approx(0.1, rel=1e-3)


def test_clip_keeps_no_hold_on_the_callers_array() -> None:
    samples = noise(4_800)
    clip = Clip(samples, 48_000, "clip")
    before = samples.copy()
    samples[:] = 9.0
    (block,) = clip
    assert np.array_equal(block.samples, before)
    assert not block.samples.flags.writeable


def test_clip_refuses_two_channels() -> None:
    with pytest.raises(ConfigError, match=r"samples\.ndim=2 must be 1"):
        Clip(np.zeros((10, 2), np.float32), 48_000, "clip")


def test_clip_refuses_a_rate_of_zero() -> None:
    with pytest.raises(ConfigError, match="sample_rate=0 must be a positive number"):
        Clip(noise(10), 0, "clip")


def test_run_pushes_every_block_and_flushes_once() -> None:
    assert list(run(Clip(noise(10_000), 48_000, "clip"), Counting())) == [4_800, 4_800, 400, -3]


@given(duration_s=st.floats(0.001, 2.0))
def test_first_seconds_gives_exactly_that_long(duration_s: float) -> None:
    blocks = list(first_seconds(Clip(noise(48_000), 48_000, "clip"), duration_s))
    assert sum(b.samples.size for b in blocks) == min(48_000, round(duration_s * 48_000))


def test_first_seconds_fetches_nothing_after_the_end() -> None:
    stream = iter(Clip(noise(48_000), 48_000, "clip"))
    list(first_seconds(stream, 0.2))
    assert next(stream).start == 2 * 4_800


def test_first_seconds_counts_a_gap_as_time_that_passed() -> None:
    blocks = [
        Block(noise(4_800), 48_000, 0),
        Block(noise(4_800), 48_000, 14_400, dropped=9_600),
        Block(noise(4_800), 48_000, 19_200),
    ]
    assert [b.start for b in first_seconds(blocks, 0.35)] == [0, 14_400]


def test_first_seconds_refuses_no_time() -> None:
    with pytest.raises(ConfigError, match="duration_s=0 must be a number of seconds above 0"):
        list(first_seconds([], 0))
