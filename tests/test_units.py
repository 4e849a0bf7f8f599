"""Quantities as people write them. Exact definitions from NIST Handbook 44 app. C and SP 811 app. B, from memory:
inch = 25.4 mm, foot = 12 in, US gallon = 231 cubic inches.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tuner.errors import ConfigError
from tuner.units import (
    ANGLE,
    FLOW,
    LENGTH,
    POWER,
    SHARE,
    TIME,
    TURN,
    VOLUME,
    Dimension,
    amount_text,
    flow_text,
    length_text,
    parse_quantity,
    turns_text,
    volume_text,
)

DIMENSIONS = (LENGTH, VOLUME, FLOW, TIME, SHARE, TURN, ANGLE, POWER)
EVERY_UNIT = [(dimension, unit) for dimension in DIMENSIONS for unit in dimension.factors]


def read(text: str, dimension: Dimension) -> float:
    return parse_quantity(text, dimension, field="pump.flow")


@pytest.mark.parametrize(
    ("text", "dimension", "si"),
    [
        ("1 in", LENGTH, 0.0254),
        ("1 ft", LENGTH, 0.3048),
        ('1 1/2"', LENGTH, 0.0381),
        ("25,4 mm", LENGTH, 0.0254),
        ("-20 mm", LENGTH, -0.020),
        ("1 gal", VOLUME, 3.785411784e-3),
        ("90 gal", VOLUME, 0.34068706056),
        ("1 gpm", FLOW, 6.30901964e-5),
        ("1100 gph", FLOW, 1100 * 3.785411784e-3 / 3600),
        ("3.6 m³/h", FLOW, 1e-3),
        ("60 L/min", FLOW, 1e-3),
        ("2 min", TIME, 120.0),
        ("60 %", SHARE, 0.6),
        ("0.6", SHARE, 0.6),
        ("3/8 turn", TURN, 0.375),
        ("1 3/8 turns", TURN, 1.375),
        ("40 degrees", ANGLE, 40.0),
        ("1.2 kW", POWER, 1200.0),
    ],
)
def test_written_quantities(text: str, dimension: Dimension, si: float) -> None:
    assert read(text, dimension) == pytest.approx(si, rel=1e-9)


@given(pair=st.sampled_from(EVERY_UNIT), value=st.floats(1e-3, 1e6))
def test_every_unit_is_read_as_its_factor_says(pair: tuple[Dimension, str], value: float) -> None:
    dimension, unit = pair
    assert read(f"{value!r} {unit}", dimension) == pytest.approx(value * dimension.factors[unit], rel=1e-12)


@given(value=st.floats(1e-9, 1e9), unit=st.sampled_from(sorted(LENGTH.factors)))
def test_spaces_and_case_of_a_unit_do_not_matter(value: float, unit: str) -> None:
    assert read(f" {value!r}{unit.upper()} ", LENGTH) == read(f"{value!r} {unit}", LENGTH)


@given(whole=st.integers(0, 40), numerator=st.integers(0, 64), denominator=st.integers(1, 64))
def test_fractions_are_exact(whole: int, numerator: int, denominator: int) -> None:
    text = f"{whole} {numerator}/{denominator} turns"
    assert read(text, TURN) == pytest.approx(whole + numerator / denominator, rel=1e-15)


@given(length_m=st.floats(1e-3, 9.0), us=st.booleans())
def test_a_length_told_is_the_length_read(length_m: float, us: bool) -> None:
    assert read(length_text(length_m, us=us), LENGTH) == pytest.approx(length_m, rel=0.0051)  # three figures


@given(litres_h=st.integers(100, 60_000), us=st.booleans())
def test_a_flow_told_is_the_flow_read(litres_h: int, us: bool) -> None:
    flow = litres_h / 3.6e6
    half_unit = 0.5 * (FLOW.factors["gph"] if us else FLOW.factors["l/h"])
    assert read(flow_text(flow, us=us), FLOW) == pytest.approx(flow, abs=half_unit * 1.001)


@given(litres=st.floats(0.1, 900.0), us=st.booleans())
def test_a_volume_told_is_the_volume_read(litres: float, us: bool) -> None:
    assert read(volume_text(litres / 1e3, us=us), VOLUME) == pytest.approx(litres / 1e3, rel=0.0051)


@given(sixteenths=st.integers(0, 480))
def test_turns_told_are_the_turns_read(sixteenths: int) -> None:
    assert read(turns_text(sixteenths / 16), TURN) == sixteenths / 16


@pytest.mark.parametrize(("dimension", "unit"), EVERY_UNIT)
def test_no_factor_is_absurd(dimension: Dimension, unit: str) -> None:
    assert math.isfinite(dimension.factors[unit])
    assert dimension.factors[unit] > 0


@pytest.mark.parametrize("dimension", DIMENSIONS)
def test_the_example_in_an_error_is_itself_good(dimension: Dimension) -> None:
    first = dimension.example.partition(" or ")[0].strip('"')
    assert read(first, dimension) > 0


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("25", r"pump.flow='25' has no unit: write it like \"25 mm\" or \"1 in\""),
        ("25 furlong", "pump.flow='25 furlong' has the unit 'furlong', which is not one of mm, cm, m"),
        ("wide", "pump.flow='wide' must be a length with its unit, such as"),
        ("", "pump.flow='' must be a length with its unit"),
        ("1/0 in", "pump.flow='1/0 in' must not divide by zero"),
        ("1 gph", "has the unit 'gph'"),
        ("nan mm", "must be a length"),
    ],
)
def test_errors_name_field_value_rule_and_fix(text: str, says: str) -> None:
    with pytest.raises(ConfigError, match=says):
        read(text, LENGTH)


@pytest.mark.parametrize("value", [True, None, [1], {"a": 1}])
def test_what_is_no_quantity_is_refused(value: object) -> None:
    with pytest.raises(ConfigError, match="must be a number of turns with its unit"):
        parse_quantity(value, TURN, field="siphon.valve.turns")  # type: ignore[arg-type]


def test_amounts_of_a_move() -> None:
    assert amount_text(0.0625, "turn") == "1/16 turn"
    assert amount_text(-1, "degree") == "1 degree"
    assert amount_text(2.5, "percent") == "2.5 %"
