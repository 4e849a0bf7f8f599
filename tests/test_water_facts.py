"""Measured facts: their reading and writing, and what they do to the bands."""

from __future__ import annotations

import tomllib
from dataclasses import replace

import numpy as np
import pytest

from tuner.errors import ConfigError
from tuner.rig import FACT_NEEDS, Fact, Rig, Siphon, Valve
from tuner.rigfile import rig_from_table, rig_text
from tuner.water.band import band_of
from tuner.water.facts import LEAST_DRAWS, fit, setting_spread
from tuner.water.laws import siphon_flow_m3_s, slurp_period_s, supply_flow_m3_s
from tuner.water.plumbing import plumbing_of, sample_plumbing
from tuner.water.window import quiet_window

DRAWS = 8000
TRUE = plumbing_of(Rig(), {"valve_deviation": 0.8, "elbow_k_siphon": 1.1, "quiet_froude": 0.28})
TRUE_WINDOW = quiet_window(TRUE, [1.0], [0.0])
SAMPLE = sample_plumbing(Rig(), np.random.default_rng(4), DRAWS)
MID = quiet_window(SAMPLE, [1.0], [0.0]).setting_mid
OVER_OPEN = float(TRUE_WINDOW.slurp_setting) * 1.06

FACTS = (
    Fact(kind="just slurps", setting=float(TRUE_WINDOW.slurp_setting)),
    Fact(kind="just gurgles", setting=float(TRUE_WINDOW.setting_low)),
    Fact(
        kind="slurp period", setting=OVER_OPEN,
        period_s=float(slurp_period_s(TRUE, supply_flow_m3_s(TRUE, [1.0]), OVER_OPEN / 5)),
    ),
    Fact(kind="siphon flow", setting=1.5, flow_m3_s=float(siphon_flow_m3_s(TRUE, TRUE.crest_height_m, 0.3))),
)


@pytest.mark.parametrize("fact", FACTS, ids=lambda f: f.kind)
def test_one_fact_narrows_the_band_and_keeps_the_truth_inside(fact: Fact) -> None:
    fitted = fit(SAMPLE, [fact], [1.0])
    before, after = band_of(MID), band_of(MID, fitted.weights)
    assert before is not None
    assert after is not None
    assert not fitted.strained
    assert after.width < 0.7 * before.width
    assert after.low < float(TRUE_WINDOW.setting_mid) < after.high


def test_a_return_flow_narrows_the_supply() -> None:
    caught = float(supply_flow_m3_s(TRUE, [1.0])) * 1.10
    supply = supply_flow_m3_s(SAMPLE, [1.0])
    before = band_of(supply)
    after = band_of(supply, fit(SAMPLE, [Fact(kind="return flow", flow_m3_s=caught)], [1.0]).weights)
    assert before is not None
    assert after is not None
    assert after.width < 0.8 * before.width
    assert before.middle < after.middle < caught  # drawn towards the bucket, not beyond it


def test_a_channel_flow_tells_of_the_balance() -> None:
    flow = 150 / 3.6e6
    fitted = fit(SAMPLE, [Fact(kind="channel flow", setting=float(TRUE_WINDOW.setting_mid), flow_m3_s=flow)], [1.0])
    after = band_of(MID, fitted.weights)
    assert after is not None
    assert after.low < float(TRUE_WINDOW.setting_mid) < after.high


def test_speed_of_the_fact_counts_before_the_present_one() -> None:
    caught = float(supply_flow_m3_s(TRUE, [0.8]))
    named = fit(SAMPLE, [Fact(kind="return flow", flow_m3_s=caught, speed=0.8)], [1.0])
    unnamed = fit(SAMPLE, [Fact(kind="return flow", flow_m3_s=caught)], [1.0])
    assert not named.strained
    assert unnamed.effective < named.effective


def test_without_facts_every_draw_counts_the_same() -> None:
    fitted = fit(SAMPLE, [], [1.0])
    assert (fitted.weights == 1).all()
    assert fitted.effective == DRAWS


def test_a_fact_that_contradicts_the_description_is_called_strained() -> None:
    fitted = fit(SAMPLE, [Fact(kind="just slurps", setting=4.8)], [1.0])
    assert fitted.strained
    assert fitted.effective >= LEAST_DRAWS


def test_an_edge_is_known_no_better_than_the_hand_finds_it() -> None:
    assert (setting_spread(SAMPLE) >= 0.0625).all()
    ball = sample_plumbing(Rig(siphon=Siphon(valve=Valve(kind="ball", backlash=0.5))), np.random.default_rng(1), 10)
    assert (setting_spread(ball) >= 2.0).all()


def test_facts_survive_the_file() -> None:
    facts = (
        Fact(kind="just slurps", setting=2.25), Fact(kind="slurp period", setting=2.5, period_s=45.0),
        Fact(kind="siphon flow", setting=2.0, flow_m3_s=0.0005, speed=0.8),
    )
    rig = replace(Rig(), facts=facts)
    text = rig_text(rig)
    assert rig_from_table(tomllib.loads(text)).facts == facts
    assert "[[fact]]" in text
    commented = "# my notes\n" + text
    assert rig_text(replace(rig, facts=facts[:1]), into=commented).startswith("# my notes")
    assert "[[fact]]" not in rig_text(replace(rig, facts=()), into=commented)


def test_settings_are_read_as_people_write_them() -> None:
    base = 'siphon.inner_diameter = "1 in"\nsiphon.drop = "90 cm"\npump = [{flow = "4200 L/h"}]\n'
    gate = base + 'siphon.valve.kind = "gate"\n[[fact]]\nkind = "slurp period"\n'
    gate += 'setting = "2 1/4 turns"\nperiod = "1.5 min"\n'
    fact = rig_from_table(tomllib.loads(gate)).facts[0]
    assert (fact.setting, fact.period_s) == (2.25, 90.0)
    ball = base + 'siphon.valve.kind = "ball"\n[[fact]]\nkind = "just slurps"\nsetting = "55 degrees"\n'
    assert rig_from_table(tomllib.loads(ball)).facts[0].setting == 55.0


@pytest.mark.parametrize(
    ("table", "message"),
    [
        ({}, r"fact\.0\.kind must be given: one of just slurps"),
        ({"kind": "colour"}, r"fact\.0\.kind='colour' must be one of just slurps"),
        ({"kind": "just slurps"}, r"fact\.0\.setting must be given for the fact 'just slurps'"),
        ({"kind": "just slurps", "setting": 9}, r"fact\.0\.setting=9 must be at most the full setting 5"),
        ({"kind": "slurp period", "setting": 2, "period": "9"}, r"fact\.0\.period='9' has no unit"),
        ({"kind": "return flow", "flow": "0 L/h"}, r"fact\.0\.flow='0 L/h' must be"),
    ],
)
def test_wrong_facts_name_the_field_and_the_fix(table: dict[str, object], message: str) -> None:
    whole = {
        "siphon": {"inner_diameter": "1 in", "drop": "90 cm", "valve": {"kind": "gate"}},
        "pump": [{"flow": "4200 L/h"}],
        "fact": [table],
    }
    with pytest.raises(ConfigError, match=message):
        rig_from_table(whole)


def test_every_kind_says_what_it_needs() -> None:
    for needs in FACT_NEEDS.values():
        assert set(needs) <= {"setting", "speed", "flow_m3_s", "period_s"}
