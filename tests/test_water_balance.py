"""The steady state of the box."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tuner.rig import Rig
from tuner.rigfile import typical_rig
from tuner.water import laws
from tuner.water.balance import balance, balance_at_supply
from tuner.water.plumbing import one_of, plumbing_of, sample_plumbing

P = plumbing_of(Rig())
SAMPLE = sample_plumbing(typical_rig(), np.random.default_rng(11), 400)
CONSERVED = 1e-3  # of the supply


@settings(deadline=None, max_examples=60)
@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.floats(0.3, 1.0))
def test_flow_is_conserved(opening: float, vent: float, speed: float) -> None:
    b = balance(SAMPLE, [speed], opening, vent)
    total = b.siphon_m3_s + b.channel_m3_s + b.emergency_m3_s
    assert total == pytest.approx(np.broadcast_to(b.supply_m3_s, total.shape), abs=1e-12)
    for flow in (b.siphon_m3_s, b.channel_m3_s, b.emergency_m3_s):
        assert (flow >= -1e-12).all()


@settings(deadline=None, max_examples=60)
@given(st.floats(0.01, 1.0), st.floats(0.05, 1.0))
def test_each_flow_obeys_its_law_at_the_level_found(opening: float, vent: float) -> None:
    b = balance(SAMPLE, [1.0], opening, vent)
    steady = ~np.asarray(b.gulping)
    siphon = laws.siphon_flow_m3_s(SAMPLE, b.level_m, opening)
    assert np.abs(siphon - b.siphon_m3_s)[steady] / b.supply_m3_s[steady] == pytest.approx(0.0, abs=CONSERVED)


def test_regimes_from_shut_to_open() -> None:
    states = [balance(P, [1.0], opening, 1.0) for opening in (0.2, 0.33, 0.37, 0.42, 0.55)]
    words = [(b.siphon_regime, b.channel_regime) for b in states]
    assert words == [
        ("full", "flushing"), ("full", "gurgling"), ("full", "film"), ("full", "dry"), ("gulping", "dry"),
    ]


def test_margins_change_sign_at_the_edges() -> None:
    assert balance(P, [1.0], 0.37, 0.8).to_slurp_m3_s > 0
    assert balance(P, [1.0], 0.55, 0.8).to_slurp_m3_s < 0
    assert balance(P, [1.0], 0.37, 0.8).to_gurgle_m3_s > 0
    assert balance(P, [1.0], 0.33, 0.8).to_gurgle_m3_s < 0


def test_tap_too_wide_and_too_closed() -> None:
    assert balance(P, [1.0], 0.405, 1.0).channel_regime == "breaking up"
    assert balance(P, [1.0], 0.36, 0.70).channel_regime == "hissing"
    assert balance(P, [1.0], 0.36, 0.30).channel_regime == "flushing"


def test_quiet_means_a_film_and_a_dry_emergency() -> None:
    # common practice, no source: the emergency pipe is dry in normal running
    b = balance(P, [1.0], 0.38, 0.75)
    assert b.quiet
    assert b.emergency_m3_s == 0.0
    assert not balance(P, [1.0], 0.0, 0.75).quiet


def test_a_shut_siphon_sends_water_to_the_emergency_pipe() -> None:
    b = balance(P, [1.0], 0.0, 0.75)
    assert b.siphon_m3_s == pytest.approx(0.0, abs=1e-7)
    assert b.emergency_m3_s > 0
    assert b.level_m > P.emergency_rim_height_m
    assert laws.emergency_flow_m3_s(P, b.level_m) == pytest.approx(float(b.emergency_m3_s), rel=1e-6)


def test_no_supply_is_no_flow() -> None:
    b = balance_at_supply(P, 0.0, 0.4, 0.75)
    assert (b.siphon_m3_s, b.channel_m3_s, b.emergency_m3_s) == (0.0, 0.0, 0.0)


def test_a_sample_is_its_members() -> None:
    b = balance(SAMPLE, [1.0], 0.35, 0.7)
    for i in (0, 7, 99):
        single = balance(one_of(SAMPLE, i), [1.0], 0.35, 0.7)
        assert float(single.level_m) == pytest.approx(b.level_m[i], abs=1e-5)
        assert single.channel_regime == b.channel_regime[i]
        assert single.siphon_regime == b.siphon_regime[i]


@settings(deadline=None)
@given(st.floats(0.02, 0.98), st.floats(0.02, 0.98))
def test_opening_the_valve_never_raises_the_channels_share(a: float, b: float) -> None:
    less, more = sorted((a, b))
    assert balance(P, [1.0], more, 0.8).channel_m3_s <= balance(P, [1.0], less, 0.8).channel_m3_s + 1e-8
