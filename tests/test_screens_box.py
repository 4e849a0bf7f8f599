"""The drawing of the box: to scale, every height named once, readable without colour and without Unicode."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tuner.rig import Rig
from tuner.rigfile import typical_rig
from tuner.screens.box import (
    BOX_COLUMNS,
    LABEL_COLUMNS,
    BoxHeights,
    Mark,
    box_grid,
    box_lines,
    heights_of,
    number_text,
    row_of,
)
from tuner.water.standing import standing

# hung after the middling box: rim 300, weir 250, E 200, O 160, mouth 100, S 50 mm; 31 rows: 10 mm each
USUAL = BoxHeights(
    depth=Mark(0.300, "box rim"), weir=Mark(0.250, "weir edge"), rim=Mark(0.200, "E rim", assumed=True),
    crest=Mark(0.160, "O crest"), mouth=Mark(0.100, "O mouth"), inlet=Mark(0.050, "S inlet"),
    level_low_m=0.160, level_high_m=0.180, tank_m=0.270,
)
ROWS = 31


def drawn(h: BoxHeights = USUAL, rows: int = ROWS, *, us: bool = False, ascii_only: bool = False) -> list[str]:
    return [line.plain for line in box_lines(h, rows, us=us, ascii_only=ascii_only)]


def beside(lines: list[str], name: str) -> int:
    """Return how many rows above the floor a name stands."""
    found = [i for i, line in enumerate(lines) if line[BOX_COLUMNS:].strip().endswith(name)]
    assert len(found) == 1, f"{name} stands in {len(found)} rows"
    floor = next(i for i, line in enumerate(lines) if "box floor" in line)
    return floor - found[0]


@pytest.mark.parametrize(("name", "rows"), [
    ("box rim", 30), ("weir edge", 25), ("E rim", 20), ("O mouth", 10), ("S inlet", 5), ("box floor", 0),
])
def test_heights_are_to_scale(name: str, rows: int) -> None:
    assert beside(drawn(), name) == rows


def test_every_pipe_ends_where_it_is_named() -> None:
    grid, at = box_grid(USUAL, ROWS, ascii_only=False)
    columns = list(zip(*grid, strict=True))
    emergency = columns[17]
    assert max(row for row, cell in enumerate(emergency) if cell == "║") == at(0.200) == 20
    siphon = columns[5]
    assert max(row for row, cell in enumerate(siphon) if cell == "║") == at(0.050) == 5
    channel = columns[12]
    assert max(row for row, cell in enumerate(channel) if cell == "║") == at(0.160) == 16
    hood = columns[9]
    assert min(row for row, cell in enumerate(hood) if cell == "║") == at(0.100) == 10


def test_the_running_level_is_a_band_of_its_own_sign() -> None:
    grid, at = box_grid(USUAL, ROWS, ascii_only=False)
    surface = [row for row in range(ROWS) if grid[row][3] == "~"]
    assert surface == list(range(at(0.160), at(0.180) + 1))
    assert "160-180 water" in "\n".join(drawn())
    assert grid[at(0.270)][0] == "~"
    assert grid[at(0.280)][0] == " "


def test_assumed_heights_are_marked_and_measured_ones_are_not() -> None:
    text = "\n".join(drawn())
    assert "200? E rim" in text
    assert "250 weir edge" in text


def test_names_that_want_one_row_point_to_it() -> None:
    close = replace(USUAL, crest=Mark(0.195, "O crest"), level_low_m=0.197, level_high_m=0.199)
    lines = drawn(close, 15)
    order = [beside(lines, name) for name in ("E rim", "water", "O crest")]
    assert order == sorted(order, reverse=True)
    assert len(set(order)) == 3
    assert sum("↓" in line for line in lines) == 2


def test_ascii_is_ascii_and_says_the_same() -> None:
    plain, fine = drawn(ascii_only=True), drawn()
    assert all(line.isascii() for line in plain)
    for name in ("box rim", "weir edge", "E rim", "O crest", "water", "S inlet"):
        assert beside(plain, name) == beside(fine, name)


def test_inches() -> None:
    assert "7.9? E rim" in "\n".join(drawn(us=True))  # 200 mm / 25.4 mm
    assert number_text(0.254, us=True) == "10.0"


@settings(max_examples=60)
@given(
    heights=st.lists(st.floats(0.01, 1.4), min_size=6, max_size=6, unique=True).map(sorted),
    rows=st.integers(8, 40), ascii_only=st.booleans(), swing=st.floats(0, 0.05),
)
def test_any_box_is_drawn_whole(heights: list[float], rows: int, ascii_only: bool, swing: float) -> None:
    inlet, mouth, crest, rim, weir, depth = heights
    h = BoxHeights(
        depth=Mark(depth, "box rim"), weir=Mark(weir, "weir edge"), rim=Mark(rim, "E rim"),
        crest=Mark(crest, "O crest"), mouth=Mark(mouth, "O mouth"), inlet=Mark(inlet, "S inlet"), level_low_m=crest,
        level_high_m=crest + swing, tank_m=weir + 0.01,
    )
    lines = drawn(h, rows, ascii_only=ascii_only)
    assert {len(line) for line in lines} == {BOX_COLUMNS + LABEL_COLUMNS}
    names = [name for line in lines[:-2] for name in ("box rim", "weir edge", "E rim", "O crest", "O mouth", "S inlet",
                                                      "water", "box floor") if name in line]
    assert len(names) == 8


@given(low=st.floats(0, 1), high=st.floats(0, 1), rows=st.integers(2, 60))
def test_what_is_higher_is_never_drawn_lower(low: float, high: float, rows: int) -> None:
    low, high = sorted((low, high))
    assert 0 <= row_of(low, 1.0, rows) <= row_of(high, 1.0, rows) <= rows - 1


def test_the_level_stands_over_the_drawn_crest_whatever_the_crests_own_uncertainty() -> None:
    rig = typical_rig()
    h = heights_of(rig, standing(rig, np.random.default_rng(1)))
    # a few mm of film over the crest, or a few below it under the vent's suction, not the tape's uncertainty
    assert abs(h.level_low_m - h.crest.height_m) < 0.03
    assert abs(h.level_high_m - h.crest.height_m) < 0.03
    assert all(mark.assumed for mark in h.marks)
    assert not any(mark.assumed for mark in heights_of(Rig(), standing(Rig(), np.random.default_rng(1))).marks)
