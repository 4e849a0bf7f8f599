"""From a rig to the numbers of the laws."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest

from tuner.errors import ConfigError
from tuner.rig import MEASURED_SPREAD, Channel, Emergency, Pump, Returns, Rig, Siphon, Valve, measures
from tuner.rigfile import typical_rig
from tuner.water.laws import supply_flow_m3_s
from tuner.water.parameters import PARAMETERS
from tuner.water.plumbing import LABEL_SPREAD, one_of, plumbing_of, sample_plumbing, spread_of


def test_mean_plumbing_repeats_the_rig() -> None:
    p = plumbing_of(Rig())
    assert p.siphon_diameter_m == 0.0266
    assert p.valve_full == 5.0
    assert p.siphon_loss_k == pytest.approx(0.65 + 1.0 + 3 * 0.9)
    assert p.box_area_m2 < 0.30 * 0.15
    assert np.isnan(p.siphon_break_depth_m)


def test_ball_valve_has_ninety_degrees() -> None:
    assert plumbing_of(Rig(siphon=Siphon(valve=Valve(kind="ball")))).valve_full == 90.0


def test_spread_follows_what_was_measured() -> None:
    rig = replace(Rig(), assumed=frozenset({"siphon.run_m"}))
    assert spread_of(rig, "siphon.run_m") == measures(rig.siphon)["run_m"].spread
    assert spread_of(rig, "siphon.drop_m") == MEASURED_SPREAD
    assert spread_of(rig, "pump.0.flow_m3_s") == LABEL_SPREAD
    assert spread_of(rig, "returns.nozzles") == 0.0


def test_samples_scatter_about_the_mean_as_wide_as_they_should() -> None:
    p = sample_plumbing(Rig(), np.random.default_rng(1), 4000)
    assert p.siphon_drop_m.shape == (4000,)
    # a normal cut at 2.5 standard deviations has 0.95 of its spread
    assert np.std(p.siphon_drop_m) / 0.90 == pytest.approx(0.95 * MEASURED_SPREAD, rel=0.06)
    assert np.mean(p.siphon_drop_m) == pytest.approx(0.90, rel=0.01)
    guessed = sample_plumbing(typical_rig(), np.random.default_rng(1), 4000)
    assert np.std(guessed.siphon_drop_m) > 2 * np.std(p.siphon_drop_m)


def test_the_same_seed_draws_the_same() -> None:
    a, b = (sample_plumbing(Rig(), np.random.default_rng(5), 50) for _ in range(2))
    assert np.array_equal(a.valve_deviation, b.valve_deviation)


def test_heights_keep_their_order_in_every_draw() -> None:
    tight = replace(
        typical_rig(), channel=Channel(crest_height_m=0.16), emergency=Emergency(rim_height_m=0.165),
        siphon=Siphon(inlet_height_m=0.15),
    )
    p = sample_plumbing(tight, np.random.default_rng(2), 3000)
    assert (p.emergency_rim_height_m > p.crest_height_m).all()
    assert (p.siphon_inlet_height_m < p.crest_height_m).all()
    assert (p.weir_height_m > p.crest_height_m).all()
    assert (p.weir_open_share <= 1).all()


def test_one_of_a_sample_is_a_plumbing_of_floats() -> None:
    p = sample_plumbing(Rig(pumps=(Pump(), Pump(name="second"))), np.random.default_rng(3), 10)
    one = one_of(p, 4)
    assert one.siphon_drop_m == p.siphon_drop_m[4]
    assert one.pump_shutoff_m == (p.pump_shutoff_m[0][4], p.pump_shutoff_m[1][4])
    for f in fields(one):
        assert np.ndim(getattr(one, f.name)) <= 1
    assert supply_flow_m3_s(one, [1.0, 0.5]) == pytest.approx(supply_flow_m3_s(p, [1.0, 0.5])[4])


def test_parameters_may_be_replaced_by_name_only_if_they_exist() -> None:
    assert plumbing_of(Rig(), {"quiet_froude": 0.27}).quiet_froude == 0.27
    with pytest.raises(ConfigError, match="parameter 'colour' must be one of"):
        plumbing_of(Rig(), {"colour": 1.0})
    assert all(p.reason for p in PARAMETERS.values())


def test_a_curve_stands_for_the_label() -> None:
    points = ((3.0, 0.0), (2.25, 0.0005), (0.0, 0.001))
    p = plumbing_of(Rig(pumps=(Pump(curve=points),)))
    assert p.pump_shutoff_m[0] == pytest.approx(3.0)
    assert p.pump_loss[0] == pytest.approx(3e6)


def test_two_pumps_share_the_nozzles() -> None:
    one = plumbing_of(Rig(pumps=(Pump(),), returns=Returns(nozzles=4)))
    two = plumbing_of(Rig(pumps=(Pump(), Pump(name="second")), returns=Returns(nozzles=4)))
    assert two.line_loss > one.line_loss
    assert two.return_lines_m3 == pytest.approx(2 * one.return_lines_m3)
