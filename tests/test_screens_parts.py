from __future__ import annotations

import io
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.console import Console
from rich.text import Text

from tuner.screens import words
from tuner.screens.keys import readable
from tuner.screens.letters import GLYPHS, ROWS, BigWords, rows_of, width_of
from tuner.screens.meters import level_bar, share_bar, span_of, strip, trace
from tuner.screens.parts import beside
from tuner.terms import Step
from tuner.units import amount_text


def drawn(renderable: object, width: int = 80, ascii_only: bool = False) -> str:
    stream = io.TextIOWrapper(io.BytesIO(), encoding="ascii" if ascii_only else "utf-8", newline="")
    console = Console(file=stream, width=width, force_terminal=False)
    console.print(renderable)
    stream.flush()
    return stream.buffer.getvalue().decode(stream.encoding)  # type: ignore[attr-defined]


def test_every_glyph_is_five_rows_of_one_width() -> None:
    for shape in GLYPHS.values():
        assert len(shape) == ROWS
        assert len({len(row) for row in shape}) == 1
        assert set("".join(shape)) <= {"#", "."}


def test_no_two_letters_look_alike() -> None:
    assert len(set(GLYPHS.values())) == len(GLYPHS)


@given(st.text(alphabet=[*sorted(GLYPHS), " "], min_size=1, max_size=20))
def test_rows_are_as_wide_as_promised(text: str) -> None:
    assert {len(row) for row in rows_of(text)} == {width_of(text)}


@pytest.mark.parametrize("amount", [-2.5, -1.25, -0.0625, 0.125, 3.0])
@pytest.mark.parametrize(("control", "unit"), [
    ("siphon valve", "turn"), ("siphon valve", "degree"), ("vent tap", "turn"), ("return pump", "percent"),
])
def test_every_move_fits_an_80_column_terminal_in_large_letters(control: str, unit: str, amount: float) -> None:
    step = Step(control, amount, unit, 20.0, "why")  # type: ignore[arg-type]
    lines = words.move_banner(step)
    assert all(width_of(line) <= 79 for line in lines)
    assert lines[1] == amount_text(amount, unit).upper()
    assert set("".join(lines)) <= set(GLYPHS) | {" "}


def test_colour_stays_on_its_side() -> None:
    left, right = [Text("left side", "bold red"), Text("l")], [Text("right", "green"), Text("r")]
    first, second = beside(left, right, 12)
    assert (first.plain, second.plain) == ("left side     right", "l             r")
    assert str(first.style) == ""
    styles = {first.plain[span.start : span.end]: str(span.style) for span in first.spans}
    assert styles == {"left side": "bold red", "right": "green"}
    assert beside([Text("much too long")], [], 4)[0].plain == "much  "


def test_large_letters_grow_with_the_terminal_and_shrink_to_words() -> None:
    sign = BigWords(("OPEN VENT",))
    assert len(drawn(sign, 120).splitlines()) == ROWS
    assert max(map(len, drawn(sign, 120).splitlines())) == pytest.approx(2 * width_of("OPEN VENT"), abs=1)
    assert drawn(sign, 30).strip() == "OPEN VENT"


def test_large_letters_are_ascii_where_only_that_can_be_shown() -> None:
    assert set(drawn(BigWords(("CLOSE",)), ascii_only=True)) == {"#", " ", "\n"}


@given(st.floats(-150, 150) | st.just(-math.inf) | st.none(), st.floats(-150, 150) | st.none(), st.integers(3, 200),
       st.booleans(), st.booleans())
def test_a_bar_is_as_wide_as_asked(
    level: float | None, floor: float | None, width: int, ascii_only: bool, calibrated: bool
) -> None:
    bar = level_bar(level, floor, span_of(calibrated), width, ascii_only)
    assert bar.cell_len == width
    assert bar.plain.isascii() == ascii_only


def test_above_the_room_looks_different_without_colour() -> None:
    quiet = level_bar(-75.0, -70.0, (-100.0, 0.0), 40, True).plain
    loud = level_bar(-40.0, -70.0, (-100.0, 0.0), 40, True).plain
    assert "#" not in quiet
    assert loud.index("|") < loud.index("#")


@given(st.lists(st.floats(-120, 60) | st.just(-math.inf), max_size=90), st.floats(-120, 60) | st.none(),
       st.integers(1, 60))
def test_a_trace_fits_its_width(levels: list[float], floor: float | None, width: int) -> None:
    assert trace(levels, floor, width, True).cell_len <= width


def test_a_trace_rises_with_the_level() -> None:
    low, high = trace([30.0, 45.0], None, 10, False).plain
    assert (low, high) == ("▁", "█")


@given(st.floats(0, 1), st.integers(1, 60))
def test_a_share_fills_its_part(share: float, width: int) -> None:
    bar = share_bar(share, width, True).plain
    assert len(bar) == width
    assert bar.count("#") == round(share * width)


@given(st.lists(st.tuples(st.floats(0, 60), st.floats(0, 30)), max_size=8), st.integers(1, 80))
def test_a_strip_marks_every_sound(spans: list[tuple[float, float]], width: int) -> None:
    line = strip([(start, start + length) for start, length in spans], 90.0, width, True).plain
    assert len(line) == width
    assert ("#" in line) == bool(spans)


@pytest.mark.parametrize(("control", "amount", "unit", "says"), [
    ("siphon valve", 0.125, "turn", "open the siphon valve by 1/8 turn"),
    ("siphon valve", -2.0, "degree", "close the siphon valve by 2 degrees"),
    ("vent tap", -0.5, "turn", "close the vent tap by 1/2 turn"),
    ("return pump", 5.0, "percent", "speed the return pump up by 5 %"),
    ("return pump", -5.0, "percent", "slow the return pump down by 5 %"),
])
def test_the_sign_of_a_move_becomes_a_direction(control: str, amount: float, unit: str, says: str) -> None:
    assert words.move_text(Step(control, amount, unit, 20.0, "why")) == says  # type: ignore[arg-type]


def test_a_move_without_an_amount_is_a_job_by_hand() -> None:
    step = Step("return pump", 0.0, "percent", 60.0, "Clean the impeller.")
    assert words.move_text(step) == "a job by hand"
    assert words.move_banner(step) == ("BY HAND",)


@pytest.mark.parametrize(("seconds", "says"), [(0, "00:00"), (59.99, "00:59"), (61, "01:01"), (36000, "10:00:00")])
def test_clock_times(seconds: float, says: str) -> None:
    assert words.clock_text(seconds) == says


def test_a_probability_is_never_called_certain() -> None:
    assert words.percent_text(0.9999) == "99 %"
    assert words.percent_text(1e-6) == "1 %"
    assert (words.percent_text(0.0), words.percent_text(1.0)) == ("0 %", "100 %")


@given(st.text(max_size=30))
def test_keys_never_hold_an_escape(sent: str) -> None:
    assert "\x1b" not in readable(sent)
