from __future__ import annotations

import copy
import tomllib
from typing import Any

import pytest

from tuner.causes.rules import Condition, load_causes, read_rules, rules_from_table
from tuner.errors import ConfigError
from tuner.places import shared_dir
from tuner.terms import CAUSE_NAMES


@pytest.fixture
def table() -> dict[str, Any]:
    return tomllib.loads((shared_dir("models") / "causes.toml").read_text(encoding="utf-8"))


def test_every_cause_is_described_with_words_for_the_keeper() -> None:
    rules = load_causes()
    assert {rule.name for rule in rules.rules} == set(CAUSE_NAMES)
    for rule in rules.rules:
        assert rule.seen
        assert all(entry.plain for entry in rule.evidence)
        assert any(entry.because for entry in rule.evidence), rule.name
    assert rules.date
    assert rules.weights_from


def test_every_cause_can_be_spoken_for_and_against() -> None:
    for rule in load_causes().rules:
        assert any(e.weight > 0 for e in rule.evidence), rule.name
        assert any(e.weight < 0 or e.against < 0 for e in rule.evidence), rule.name


def test_a_ramp_rises_falls_and_stays_within_0_and_1() -> None:
    rising, falling = Condition("slurp.share", 0.1, 0.3), Condition("slurp.share", 0.3, 0.1)
    assert [rising.degree(x) for x in (0.0, 0.2, 1.0)] == pytest.approx([0.0, 0.5, 1.0])
    assert [falling.degree(x) for x in (0.0, 0.2, 1.0)] == pytest.approx([1.0, 0.5, 0.0])


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda t: t.update(schema=9), "schema=9 must be 1"),
        (lambda t: t["cause"].pop(), "must be described exactly once"),
        (lambda t: t["cause"][0].update(name="gremlins"), "cause.name='gremlins' must be one of"),
        (lambda t: t["cause"][0].update(prior=1.5), "prior=1.5 must be between 0 and 1"),
        (lambda t: t["cause"][0]["evidence"][0].update(looks_at="slurp.colour"), "must be a known fact"),
        (lambda t: t["cause"][0]["evidence"][0].update(ramp=[1, 1]), "must be two different numbers"),
        (lambda t: t["cause"][0]["evidence"][0].update(wait=3), "wait must be one of"),
        (lambda t: t["cause"][0]["evidence"][0].update(weight=0.0, against=0.0), "must differ from 0"),
    ],
)
def test_a_wrong_rule_file_is_refused_with_the_place(table: dict[str, Any], change: Any, says: str) -> None:
    broken = copy.deepcopy(table)
    change(broken)
    with pytest.raises(ConfigError, match=says):
        rules_from_table(broken)


def test_a_file_that_is_not_toml_is_refused(tmp_path: Any) -> None:
    path = tmp_path / "causes.toml"
    path.write_text("schema = = 1")
    with pytest.raises(ConfigError, match="is not valid TOML"):
        read_rules(path)
