"""Every streaming part keeps the contract of tests/contract.py."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.contract import (
    PARTS,
    Part,
    check_bounded_memory,
    check_cut_invariance,
    check_flush_twice,
    check_no_aliasing,
    check_reset_equals_new,
)

# Long enough for several long spectra and for the levels of one second.
SECONDS = 2.3

every_part = pytest.mark.parametrize("part", PARTS, ids=lambda part: part.name)


@every_part
@settings(max_examples=5, deadline=None)
@given(sizes=st.lists(st.integers(1, 20000), min_size=1, max_size=6).filter(lambda s: sum(s) > 200 * len(s)))
def test_any_cut_gives_the_same_bits(part: Part, sizes: list[int]) -> None:
    check_cut_invariance(part, SECONDS, sizes)


@every_part
@pytest.mark.parametrize("size", [160, 441, 4800, 1_000_000])
def test_usual_block_sizes_give_the_same_bits(part: Part, size: int) -> None:
    check_cut_invariance(part, SECONDS, [size])


@every_part
def test_reset_and_flush_make_it_new(part: Part) -> None:
    check_reset_equals_new(part, SECONDS)


@every_part
def test_the_callers_buffer_is_neither_kept_nor_written(part: Part) -> None:
    check_no_aliasing(part, SECONDS)


@every_part
def test_a_second_flush_gives_nothing(part: Part) -> None:
    check_flush_twice(part, SECONDS)


@every_part
def test_memory_is_bounded(part: Part) -> None:
    check_bounded_memory(part, SECONDS)
