"""A rig file while it is written: one line changes, all others stay."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tuner.errors import ConfigError
from tuner.rigdraft import is_finished, rig_of_draft, state_of, table_of, with_answer

BY_HAND = """\
# my own words
name = "Kelpie"

[siphon]  # the loud one
inner_diameter = "26.6 mm"

# elbows = 3  # assumed

[[pump]]
flow = "4200 L/h"
[[pump]]
flow = "3000 L/h"
"""
FIELDS = (("", "name"), ("siphon", "drop"), ("siphon", "run"), ("siphon.valve", "kind"), ("pump.0", "head"),
          ("pump.1", "head"), ("box", "depth"))


def test_a_line_is_added_to_its_section_and_the_rest_stays() -> None:
    text = with_answer(BY_HAND, "siphon", "drop", '"900 mm"', "tape")
    assert [line for line in text.splitlines() if line not in BY_HAND.splitlines()] == ['drop = "900 mm"  # tape']
    assert tomllib.loads(text)["siphon"]["drop"] == "900 mm"


def test_an_assumption_becomes_an_answer_where_it_stands() -> None:
    text = with_answer(BY_HAND, "siphon", "elbows", "4", "counted")
    assert text == BY_HAND.replace("# elbows = 3  # assumed", "elbows = 4  # counted")


def test_the_second_pump_is_told_from_the_first() -> None:
    text = with_answer(BY_HAND, "pump.1", "head", '"2 m"', "")
    assert [p.get("head") for p in tomllib.loads(text)["pump"]] == [None, "2 m"]
    again = with_answer(text, "pump.0", "head", '"3 m"', "")
    assert [p.get("head") for p in tomllib.loads(again)["pump"]] == ["3 m", "2 m"]


def test_states() -> None:
    assert state_of(BY_HAND, "siphon", "inner_diameter") == "answered"
    assert state_of(BY_HAND, "siphon", "elbows") == "not known"
    assert state_of(BY_HAND, "siphon", "drop") == "open"
    assert state_of(BY_HAND, "box", "depth") == "open"
    assert state_of(with_answer("", "siphon", "drop", '"?"', "not known"), "siphon", "drop") == "not known"


@given(order=st.permutations(FIELDS), unknown=st.sets(st.sampled_from(FIELDS)))
def test_in_whatever_order_it_is_answered_the_file_holds_every_answer(
    order: list[tuple[str, str]], unknown: set[tuple[str, str]]
) -> None:
    text = "[[pump]]\nflow = \"4200 L/h\"\n[[pump]]\nflow = \"3000 L/h\"\n"
    for section, key in order:
        text = with_answer(text, section, key, '"1 m"', "words", known=(section, key) not in unknown)
    table = tomllib.loads(text)
    for section, key in FIELDS:
        assert state_of(text, section, key) == ("not known" if (section, key) in unknown else "answered")
    assert ("depth" in table.get("box", {})) == (("box", "depth") not in unknown)
    assert table["pump"][0]["flow"] == "4200 L/h"


def test_a_draft_is_a_rig_before_it_is_finished() -> None:
    text = with_answer("", "siphon", "drop", '"1.2 m"', "")
    assert not is_finished(text)
    rig = rig_of_draft(text, "x.toml")
    assert rig.siphon.drop_m == 1.2
    assert "siphon.inner_diameter_m" in rig.assumed
    assert not is_finished("[siphon")


def test_other_files_are_not_taken_for_rig_files() -> None:
    with pytest.raises(ConfigError, match=r"rig file p.toml is no rig file \('project' is not known there\)"):
        table_of("[project]\nname = 'x'\n", "p.toml")
    with pytest.raises(ConfigError, match=r"rig file p.toml is not valid TOML"):
        table_of("[project\n", "p.toml")
    with pytest.raises(ConfigError, match=r"siphon\.drop='9 m' must be"):
        rig_of_draft('[siphon]\ndrop = "9 m"\n', "p.toml")
