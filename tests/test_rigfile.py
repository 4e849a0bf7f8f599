"""Rig files: units as people write them, errors in one line, and a round trip that keeps comments."""

from __future__ import annotations

import tomllib
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tuner.errors import ConfigError
from tuner.rig import Fact, Pump, Rig, measures, walk
from tuner.rigfile import UNKNOWN, key_of, load_rig, rig_from_table, rig_text, save_rig, typical_rig

LEAST = """\
[siphon]
inner_diameter = "1.049 in"
drop = "900 mm"
[siphon.valve]
kind = "gate"
[[pump]]
flow = "1100 gph"
"""
COMMENTED = """\
# the tank in the hall
name = "Kelpie"  # named after the dog

[siphon]
# measured at the cut end
inner_diameter = "1.049 in"  # not the 1 inch of the label
drop = "900 mm"
[siphon.valve]
kind = "gate"

[[pump]]
# from the box of the pump
flow = "1100 gph"

# the weir, at last
[weir]
length = "11 3/4 in"
"""


def table(text: str) -> dict[str, Any]:
    return tomllib.loads(text)


def with_line(section: str, line: str) -> dict[str, Any]:
    """The least description with a section of one more line."""
    return table(f"{LEAST}[{section}]\n{line}\n")


def test_units_are_read() -> None:
    rig = rig_from_table(table(LEAST))
    assert rig.siphon.inner_diameter_m == pytest.approx(0.0266446)
    assert rig.pumps[0].flow_m3_s == pytest.approx(1100 * 231 * 0.0254**3 / 3600)


def test_what_is_not_given_is_listed_as_assumed() -> None:
    rig = rig_from_table(table(LEAST))
    assert "siphon.drop_m" not in rig.assumed
    assert "siphon.valve.kind" not in rig.assumed
    assert {"siphon.run_m", "siphon.valve.turns", "pump.0.head_m", "water.kind", "box.length_m"} <= rig.assumed
    parts = dict(walk(rig))
    for dotted in rig.assumed:
        head, _, tail = dotted.rpartition(".")
        assert getattr(parts[head], tail) is not None


def test_what_may_be_absent_is_not_assumed() -> None:
    rig = rig_from_table(table(LEAST))
    assert rig.siphon.valve.setting is None
    assert not {"siphon.valve.setting", "channel.vent_setting", "returns.siphon_break_depth_m"} & rig.assumed


@pytest.mark.parametrize(
    ("without", "says"),
    [
        ("inner_diameter", r"siphon.inner_diameter must be given: nothing can stand in for it \(inside diameter"),
        ("drop", "siphon.drop must be given"),
        ("kind", 'siphon.valve.kind must be given: .*"gate" or "ball"'),
        ("flow", "pump.flow must be given: .*4200 L/h"),
    ],
)
def test_what_must_be_given(without: str, says: str) -> None:
    text = "\n".join(line for line in LEAST.splitlines() if not line.startswith(without))
    with pytest.raises(ConfigError, match=says):
        rig_from_table(table(text))


def test_all_that_is_missing_is_named_at_once() -> None:
    with pytest.raises(ConfigError, match=r"; also missing: siphon.drop, siphon.valve.kind, pump.flow$"):
        rig_from_table({})


def test_a_figure_that_nobody_can_know_is_assumed() -> None:
    rig = rig_from_table(table(LEAST.replace('"1.049 in"', f'"{UNKNOWN}"')))
    assert "siphon.inner_diameter_m" in rig.assumed
    assert rig.siphon.inner_diameter_m == Rig().siphon.inner_diameter_m
    again = rig_from_table(table(rig_text(rig)))
    assert again.assumed == rig.assumed


@pytest.mark.parametrize(
    ("section", "line", "says"),
    [
        ("tank", 'length = "120"', r"tank.length='120' has no unit: write it like"),
        ("tank", 'length = "120 m"', "tank.length='120 m' must be 300 mm to 6 m"),
        ("tank", 'lenght = "1 m"', "tank.lenght must be one of length, width, glass_above: this field is not known"),
        ("aquarium", 'length = "1 m"', "aquarium must be one of box, channel"),
        ("water", 'temperature = "25"', 'water.temperature=\'25\' must be a temperature .*"77 F"'),
        ("water", "kind = 3", "water.kind=3 must be a text"),
        ("channel", 'crest_height = "1.5 m"', "channel.crest_height='1.5 m' must be 20 mm to 1.4 m"),
    ],
)
def test_errors_name_field_value_rule_and_fix(section: str, line: str, says: str) -> None:
    with pytest.raises(ConfigError, match=says):
        rig_from_table(with_line(section, line))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("tank = 3\n" + LEAST, r"tank=3 must be a table: write \[tank\]"),
        ("name = 3\n" + LEAST, "name=3 must be a text"),
        (LEAST + 'on_backup = "yes"', "pump.0.on_backup='yes' must be true or false"),
        (LEAST + 'curve = [["0 m", "4000 L/h"]]', "pump.0.curve=.* must be three or more points"),
        (LEAST + 'curve = [["0 m", "4 L/min"], ["1 m", "5 L/min"], ["2 m", "0 L/h"]]', "must fall with head"),
        (LEAST + "[[fact]]\nsetting = 1.0", "fact.0.kind must be given: one of just slurps"),
        (LEAST + '[[fact]]\nkind = "just slurps"', "fact.0.setting must be given"),
        ("fact = 1\n" + LEAST, r"fact must be \[\[fact\]\] tables"),
        ("pump = 1\n" + LEAST.partition("[[pump]]")[0], r"pump must be one or more \[\[pump\]\] tables"),
    ],
)
def test_tables_that_cannot_be(text: str, says: str) -> None:
    with pytest.raises(ConfigError, match=says):
        rig_from_table(table(text))


def test_a_temperature_may_be_in_fahrenheit() -> None:
    # 77 F = 25 C by definition of the Fahrenheit scale
    assert rig_from_table(with_line("water", 'temperature = "77 F"')).water.temperature_c == pytest.approx(25.0)


def test_a_file_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match="does not exist: write one with 'hushweir rig new"):
        load_rig(tmp_path / "none.toml")
    broken = tmp_path / "broken.toml"
    broken.write_text("[siphon\n")
    with pytest.raises(ConfigError, match="is not valid TOML"):
        load_rig(broken)
    broken.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(ConfigError, match="must be a UTF-8 text file"):
        load_rig(broken)
    with pytest.raises(ConfigError, match="cannot be read"):
        load_rig(tmp_path)


def test_the_typical_rig_assumes_everything() -> None:
    rig = typical_rig()
    fields_of_all = {f"{name}.{f.name}" for name, part in walk(rig) for f in fields(part) if f.name != "valve"}
    assert rig.assumed == fields_of_all
    assert replace(rig, name="my tank", assumed=frozenset()) == Rig()
    absent = {"siphon.valve.setting", "channel.vent_setting", "returns.siphon_break_depth_m",
              "pump.0.name", "pump.0.curve", "pump.0.on_backup"}
    assert rig_from_table(table(rig_text(rig))).assumed == rig.assumed - absent


def draw_value(data: st.DataObject, low: float, high: float) -> float:
    return data.draw(st.floats(low, high).map(lambda v: float(f"{v:.4g}")).filter(lambda v: low <= v <= high))


@settings(max_examples=25)
@given(data=st.data())
def test_a_written_rig_is_read_as_it_was(data: st.DataObject) -> None:
    parts = {}
    for name in ("tank", "returns", "sump"):
        part = dict(walk(Rig()))[name]
        changed = {
            field: draw_value(data, measure.lowest, measure.highest) for field, measure in measures(part).items()
        }
        parts[name] = replace(part, **changed)
    flow = draw_value(data, 1e-4, 1e-2)
    facts = (Fact(kind="slurp period", setting=1.375, period_s=12.0), Fact(kind="return flow", flow_m3_s=flow))
    rig = replace(Rig(), pumps=(Pump(flow_m3_s=flow), Pump(name="spare", on_backup=True)), facts=facts, **parts)
    again = rig_from_table(table(rig_text(rig)))
    assert again.assumed == frozenset()
    for (name, part), (_, back) in zip(walk(rig), walk(again), strict=True):
        for field in measures(part):
            want, got = getattr(part, field), getattr(back, field)
            assert got == want or got == pytest.approx(want, rel=1e-5), f"{name}.{field}"
    assert [f.kind for f in again.facts] == [f.kind for f in facts]


def test_comments_order_and_units_of_a_file_are_kept(tmp_path: Path) -> None:
    path = tmp_path / "rig.toml"
    path.write_text(COMMENTED)
    rig = load_rig(path)
    save_rig(rig, path)
    assert path.read_text() == COMMENTED
    box = replace(rig.box, depth_m=0.5)
    save_rig(replace(rig, box=box, assumed=rig.assumed - {"box.depth_m"}), path)
    text = path.read_text()
    assert text.startswith(COMMENTED.rstrip("\n"))
    assert load_rig(path).box.depth_m == 0.5


def test_a_figure_that_is_assumed_again_leaves_the_file() -> None:
    rig = rig_from_table(table(COMMENTED))
    text = rig_text(replace(rig, assumed=rig.assumed | {"weir.length_m", "siphon.drop_m"}), into=COMMENTED)
    assert "11 3/4 in" not in text
    assert 'drop = "?"' in text
    assert "# measured at the cut end" in text


def test_a_second_pump_and_one_less_are_written() -> None:
    rig = rig_from_table(table(COMMENTED))
    two = rig_text(replace(rig, pumps=(*rig.pumps, Pump(name="spare"))), into=COMMENTED)
    assert [p.name for p in rig_from_table(table(two)).pumps] == ["return pump", "spare"]
    one = rig_text(rig, into=two)
    assert len(rig_from_table(table(one)).pumps) == 1
    assert "# from the box of the pump" in one


def test_a_rig_that_cannot_be_written(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match="cannot be written"):
        save_rig(Rig(), tmp_path / "no" / "such" / "folder.toml")


def test_keys_carry_no_unit() -> None:
    assert [key_of(n) for n in ("drop_m", "pump_chamber_m3", "flow_m3_s", "temperature_c", "elbows", "speed")] == [
        "drop", "pump_chamber", "flow", "temperature", "elbows", "speed"
    ]


class TestAssumedFiguresFollowGivenOnes:
    def rig(self, extra: str) -> Rig:
        return rig_from_table(table(LEAST.replace("1.049 in", "50 mm").replace("900 mm", "1.6 m") + extra))

    def test_the_other_pipes_are_as_wide_and_as_long(self) -> None:
        rig = self.rig("")
        assert rig.channel.inner_diameter_m == rig.emergency.inner_diameter_m == 0.05
        assert rig.channel.drop_m == 1.6
        assert rig.siphon.run_m > 1.6
        assert rig.returns.static_head_m > 1.6
        assert rig.pumps[0].head_m > rig.returns.static_head_m

    def test_one_height_moves_the_others(self) -> None:
        rig = self.rig('[channel]\ncrest_height = "400 mm"\n')
        assert rig.siphon.inlet_height_m < 0.4 < rig.emergency.rim_height_m < rig.box.depth_m
        assert rig.channel.inlet_height_m < 0.4 < rig.weir.height_m
        assert "box.depth_m" in rig.assumed

    @given(crest=st.floats(0.1, 1.0), room=st.floats(0.01, 0.3))
    def test_assumed_heights_never_contradict_given_ones(self, crest: float, room: float) -> None:
        depth = min(crest + room, 1.5)
        text = f'[channel]\ncrest_height = "{crest:.4f} m"\n[box]\ndepth = "{depth:.4f} m"\n'
        rig = self.rig(text)
        assert crest - 1e-4 < rig.emergency.rim_height_m < depth + 1e-4

    def test_what_was_given_stays(self) -> None:
        rig = self.rig('[emergency]\ninner_diameter = "40 mm"\n[box]\nlength = "2 m"\n[sump]\nrim = "1 m"\n')
        assert rig.emergency.inner_diameter_m == 0.04
        assert rig.weir.length_m == 2.0
        assert rig.sump.level_m == pytest.approx(0.55)
