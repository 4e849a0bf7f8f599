"""Units as people write them, and back."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tuner import units
from tuner.errors import ConfigError

DIMENSIONS = (units.LENGTH, units.VOLUME, units.FLOW, units.TIME, units.SHARE, units.TURN, units.ANGLE, units.POWER)


@settings(deadline=None)
@given(st.sampled_from(DIMENSIONS), st.floats(1e-6, 1e6), st.data())
def test_every_unit_comes_back(dimension: units.Dimension, value: float, data: st.DataObject) -> None:
    unit = data.draw(st.sampled_from(sorted(dimension.factors)))
    back = units.parse_quantity(f"{value / dimension.factors[unit]!r} {unit}", dimension, field="x")
    assert back == pytest.approx(value, rel=1e-12)


@settings(deadline=None)
@given(st.floats(1e-3, 0.999), st.booleans())
def test_length_text_comes_back_within_its_digits(length: float, us: bool) -> None:
    back = units.parse_quantity(units.length_text(length, us=us), units.LENGTH, field="x")
    assert back == pytest.approx(length, rel=6e-3)


@settings(deadline=None)
@given(st.integers(100, 50_000), st.booleans())
def test_flow_text_comes_back_within_its_digits(litres_per_hour: int, us: bool) -> None:
    flow = litres_per_hour / 3.6e6
    back = units.parse_quantity(units.flow_text(flow, us=us), units.FLOW, field="x")
    assert back == pytest.approx(flow, abs=0.51 * (units.US_GALLON_M3 / 3600 if us else 1 / 3.6e6))


@settings(deadline=None)
@given(st.floats(1e-4, 5.0), st.booleans())
def test_volume_text_comes_back_within_its_digits(volume: float, us: bool) -> None:
    back = units.parse_quantity(units.volume_text(volume, us=us), units.VOLUME, field="x")
    assert back == pytest.approx(volume, rel=6e-3)


@given(st.integers(1, 400))
def test_turns_come_back_in_sixteenths(sixteenths: int) -> None:
    text = units.turns_text(sixteenths / 16)
    assert units.parse_quantity(text, units.TURN, field="x") == pytest.approx(sixteenths / 16)


@pytest.mark.parametrize(
    ("text", "dimension", "value"),
    # an inch is 25.4 mm and a US gallon 231 cubic inches, by definition
    [("1 in", units.LENGTH, 0.0254), ("1 gal", units.VOLUME, 3.785411784e-3), ("1 gpm", units.FLOW, 6.30902e-5),
     ("1100 gph", units.FLOW, 1.15665e-3), ("2 min", units.TIME, 120.0), ("60 %", units.SHARE, 0.6)],
)
def test_definitions(text: str, dimension: units.Dimension, value: float) -> None:
    assert units.parse_quantity(text, dimension, field="x") == pytest.approx(value, rel=1e-5)


def test_a_bare_number_is_refused_where_a_unit_is_needed() -> None:
    with pytest.raises(ConfigError, match=r"siphon\.drop='90' has no unit: write it like"):
        units.parse_quantity("90", units.LENGTH, field="siphon.drop")
