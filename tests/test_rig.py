"""The installation as a value: defaults, ranges, and heights that can stand."""

from __future__ import annotations

from dataclasses import FrozenInstanceError, fields, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tuner.errors import ConfigError
from tuner.rig import (
    FACT_NEEDS,
    Box,
    Channel,
    Emergency,
    Fact,
    Pump,
    Rig,
    Siphon,
    Tank,
    Valve,
    Water,
    Weir,
    measures,
    walk,
)

MEASURED = [
    (part_name, name) for part_name, part in walk(Rig()) for name in measures(part)
]


@pytest.mark.parametrize(("part_name", "name"), MEASURED)
def test_every_default_lies_in_its_range(part_name: str, name: str) -> None:
    part = dict(walk(Rig()))[part_name]
    measure, default = measures(part)[name], getattr(part, name)
    assert measure.lowest < measure.highest
    assert measure.spread >= 0
    assert len(measure.how) > 10
    if default is None:
        assert measure.may_be_absent
    else:
        assert measure.lowest <= default <= measure.highest


@pytest.mark.parametrize(("part_name", "name"), [p for p in MEASURED if p[0] == "sump"])
def test_the_name_of_a_field_ends_in_its_unit(part_name: str, name: str) -> None:
    measure = measures(dict(walk(Rig()))[part_name])[name]
    assert name.endswith({"m": "_m", "m3": "_m3"}[measure.dimension.si_unit])


def test_walk_meets_every_part_once() -> None:
    rig = Rig(pumps=(Pump(), Pump(name="second")))
    names = [name for name, _ in walk(rig)]
    assert len(names) == len(set(names))
    assert {"siphon", "siphon.valve", "pump.0", "pump.1"} <= set(names)
    assert {f.name for f in fields(Rig)} - {"name", "pumps", "facts", "assumed"} <= set(names)


@given(share=st.floats(-0.5, 1.5))
def test_a_value_is_taken_or_refused_by_its_range(share: float) -> None:
    if 0.1 <= share <= 1.0:
        assert Rig(weir=Weir(open_share=share)).weir.open_share == share
    else:
        with pytest.raises(ConfigError, match=r"weir.open_share=.* must be 10 % to 100 % \(open share"):
            Rig(weir=Weir(open_share=share))


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"tank": Tank(length_m=1200)}, r"tank.length_m=1200 must be 300 mm to 6 m \(inside length .*check the unit"),
        ({"tank": Tank(length_m=float("nan"))}, "tank.length_m=nan must be"),
        ({"tank": Tank(length_m=True)}, "tank.length_m=True must be"),
        ({"siphon": Siphon(inner_diameter_m="1 in")}, "siphon.inner_diameter_m='1 in' must be"),  # type: ignore[arg-type]
        ({"pumps": (Pump(flow_m3_s=5.0),)}, "pump.0.flow_m3_s=5.0 must be"),
        ({"pumps": ()}, r"pump must be given at least once: .*\[\[pump\]\]"),
        ({"siphon": Siphon(valve=Valve(kind="globe"))}, 'siphon.valve.kind=\'globe\' must be "gate" or "ball"'),  # type: ignore[arg-type]
        ({"water": Water(kind="brackish")}, 'water.kind=\'brackish\' must be "fresh" or "marine"'),  # type: ignore[arg-type]
        ({"water": Water(temperature_c=77)}, 'water.temperature_c=77 must be 5 to 40 .*"77 F"'),
        ({"channel": Channel(crest_height_m=0.04)}, "channel.crest_height_m=0.04 must be above siphon.inlet_height_m"),
        ({"emergency": Emergency(rim_height_m=0.15)}, "emergency.rim_height_m=0.15 must be above channel.crest_height"),
        ({"box": Box(depth_m=0.19)}, "box.depth_m=0.19 must be above emergency.rim_height_m=0.2"),
        ({"weir": Weir(height_m=0.12)}, "weir.height_m=0.12 must be above channel.crest_height_m=0.16"),
        ({"siphon": Siphon(valve=Valve(setting=6))}, "siphon.valve.setting=6 must be at most 5 turns: count from"),
        ({"channel": Channel(vent_setting=5)}, "channel.vent_setting=5 must be at most vent_tap_turns=4"),
    ],
)
def test_errors_name_field_value_rule_and_fix(change: dict[str, object], says: str) -> None:
    with pytest.raises(ConfigError, match=says):
        replace(Rig(), **change)


def test_a_ball_valve_counts_in_degrees() -> None:
    assert Rig(siphon=Siphon(valve=Valve(kind="ball", setting=55.0))).siphon.valve.full == 90.0


@pytest.mark.parametrize("kind", FACT_NEEDS)
def test_a_fact_needs_its_figures(kind: str) -> None:
    with pytest.raises(ConfigError, match=rf"fact.0.{FACT_NEEDS[kind][0]} must be given for the fact '{kind}'"):  # type: ignore[index]
        Rig(facts=(Fact(kind=kind),))  # type: ignore[arg-type]
    whole = Fact(kind=kind, setting=1.0, flow_m3_s=1e-4, period_s=5.0)  # type: ignore[arg-type]
    assert Rig(facts=(whole,)).facts == (whole,)


@pytest.mark.parametrize(
    ("fact", "says"),
    [
        (Fact(kind="leaks"), "fact.0.kind='leaks' must be one of just slurps"),  # type: ignore[arg-type]
        (Fact(kind="just slurps", setting=5.5), "fact.0.setting=5.5 must be at most the full setting 5"),
        (Fact(kind="slurp period", setting=1.0, period_s=0.1), "fact.0.period_s=0.1 must be 0.5 s to 3600 s"),
    ],
)
def test_a_fact_that_cannot_be(fact: Fact, says: str) -> None:
    with pytest.raises(ConfigError, match=says):
        Rig(facts=(fact,))


def test_nothing_can_be_changed_in_place() -> None:
    with pytest.raises(FrozenInstanceError):
        Rig().name = "other"  # type: ignore[misc]
