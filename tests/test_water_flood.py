"""The flood check as a whole."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tuner.rig import Emergency, Fact, Pump, Rig, Tank
from tuner.water.flood import CAUTIONS, flood_check
from tuner.water.verdict import VERDICTS, worst_of


def test_seven_cases_and_the_worst_of_them() -> None:
    check = flood_check(Rig(), np.random.default_rng(1))
    assert [case.name for case in check.cases] == [
        "pumps stop: back-siphon into the sump",
        "all drains blocked: the sump is pumped into the tank",
        "siphon blocked at full pump flow",
        "siphon and open channel blocked at full pump flow",
        "all pumps at full speed",
        "backup pump alone",
        "power returns",
    ]
    assert check.verdict == worst_of([case.verdict for case in check.cases])


def test_a_generous_rig_holds_everywhere() -> None:
    wide = Emergency(inner_diameter_m=0.0525)
    rig = Rig(tank=Tank(glass_above_m=0.08), emergency=wide, pumps=(Pump(on_backup=True),))
    check = flood_check(rig, np.random.default_rng(1))
    assert check.verdict == "holds"
    assert all(case.mend == () for case in check.cases)


def test_cases_that_do_not_hold_say_what_would_mend_them() -> None:
    check = flood_check(Rig(tank=Tank(glass_above_m=0.01)), np.random.default_rng(1))
    for case in check.cases:
        assert case.verdict in VERDICTS
        if case.verdict != "holds":
            assert case.mend
        if case.verdict == "cannot tell":
            assert case.measure


def test_the_cautions_name_codes_licensed_trades_and_the_emergency_pipe() -> None:
    text = " ".join(CAUTIONS)
    for words in ("licensed trades", "plumbing and electrical codes", "emergency pipe stays dry", "residual-current"):
        assert words in text.replace("local ", "")


def test_facts_are_used() -> None:
    rig = Rig(tank=Tank(glass_above_m=0.06))
    # a bucket that caught a third more than the label promises leaves less to spare
    plain = flood_check(rig, np.random.default_rng(1)).cases[2]
    fact = Fact(kind="return flow", flow_m3_s=3000 / 3.6e6)
    fitted = flood_check(replace(rig, facts=(fact,)), np.random.default_rng(1)).cases[2]
    flow = {n.name: n.band.middle for n in fitted.numbers}["flow to carry"]
    assert flow > {n.name: n.band.middle for n in plain.numbers}["flow to carry"]


def test_the_same_seed_gives_the_same_check() -> None:
    assert flood_check(Rig(), np.random.default_rng(2), 200) == flood_check(Rig(), np.random.default_rng(2), 200)
