from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tuner.coach.outlook import Outlook, Settings, outlook
from tuner.rig import Rig
from tuner.water import laws
from tuner.water.balance import balance_at_supply
from tuner.water.plumbing import Plumbing, plumbing_of

RIG = Rig()
P = plumbing_of(RIG)
SUPPLY = float(laws.supply_flow_m3_s(P, (1.0,)))
GURGLE = float(laws.gurgle_flow_m3_s(P))
WIDE_VENT = 1.0


def opening_for(siphon_m3_s: float) -> float:
    return float(laws.opening_for_siphon_flow(P, siphon_m3_s, P.crest_height_m))


def at(siphon_share: float, vent: float = WIDE_VENT, p: Plumbing = P) -> Outlook:
    return outlook(p, Settings(np.array([opening_for(siphon_share * SUPPLY)]), np.array([vent]), (1.0,)))


def test_it_agrees_with_the_balance_of_the_box() -> None:
    for share in (0.85, 0.90, 0.95, 0.98):
        opening = opening_for(share * SUPPLY)
        steady = balance_at_supply(P, SUPPLY, opening, WIDE_VENT)
        ours = at(share)
        # the two passes around the crest leave a hundredth of the siphon's flow at most
        assert float(ours.channel[0]) == pytest.approx(float(steady.channel_m3_s), abs=0.01 * SUPPLY)


def test_an_open_valve_gulps_and_a_closed_one_gurgles() -> None:
    assert at(1.3).gulping[0] > 0.95
    assert at(1.3).quiet[0] < 0.05
    assert at(1.0 - 2.5 * GURGLE / SUPPLY).gurgling[0] + at(1.0 - 2.5 * GURGLE / SUPPLY).flushing[0] > 0.9


def test_a_tap_nearly_closed_flushes() -> None:
    assert at(1.0 - 0.8 * GURGLE / SUPPLY, vent=0.05).flushing[0] > 0.9


def test_a_level_over_the_rim_roars_unless_the_channel_has_become_a_siphon() -> None:
    wide = replace(P, vent_hole_m=0.03)
    assert at(0.2, p=wide).roaring[0] > 0.9
    assert at(0.2, vent=0.05).flushing[0] > 0.9
    assert at(0.2, vent=0.05).roaring[0] < 0.1


def test_the_margins_are_zero_at_the_gurgle_edge_and_grow_inwards() -> None:
    shares = [1.0 - x * GURGLE / SUPPLY for x in (0.9, 0.7, 0.5)]
    more = [float(at(s).more_flow[0]) for s in shares]
    assert more == sorted(more)


def test_slurp_period_and_rest_to_mismatch_by_hand() -> None:
    # Worked by hand: box 0.030 m2, swing 0.02 m, so 0.6 L. The siphon takes 720 L/h (0.2 L/s), 0.03 L/s more than the
    # 0.17 L/s that come, so the box falls for 20 s; while drawing air it takes half, 0.1 L/s, so the box
    # rises at 0.07 L/s for 8.6 s. Period 28.6 s, of which the fall, 20 / 28.6 = 0.7, is quiet.
    from tuner.coach.outlook import _slurp_cycle

    class Box:
        box_area_m2, regain_rise_m, broken_share = 0.030, 0.02, 0.5

    period, rest = _slurp_cycle(Box(), np.array([0.17e-3]), np.array([0.20e-3]))  # type: ignore[arg-type]
    assert float(period[0]) == pytest.approx(0.6 / 0.03 + 0.6 / 0.07, rel=1e-6)
    assert float(rest[0]) == pytest.approx(0.7, rel=1e-6)


def test_a_smaller_mismatch_gives_a_longer_period() -> None:
    near, far = at(1.08), at(1.2)
    assert near.slurp_period_s[0] > far.slurp_period_s[0]
    assert near.drain_s[0] > far.drain_s[0]


def test_a_box_sinks_until_the_siphon_takes_no_more_than_comes_by_hand() -> None:
    # a siphon of Q ~ h^(1/2) that takes 1.02 times what comes at the crest takes as much as comes with the head less by
    # the share 1 - 1 / 1.02^2 = 0.0388
    head_m = float(laws.siphon_head_m(P, P.crest_height_m))
    assert float(at(1.02).sunk_m[0]) == pytest.approx(0.0388 * head_m, rel=0.01)
    assert float(at(0.98).sunk_m[0]) == 0.0
    # not below where it draws air
    deepest = float(P.crest_height_m - laws.gulp_level_m(P, SUPPLY))
    assert float(at(1.3).sunk_m[0]) == pytest.approx(deepest)


def sinking(share: float, depth_m: float, stood_m: float = 0.0) -> Outlook:
    settings = Settings(np.array([opening_for(share * SUPPLY)]), np.array([WIDE_VENT]), (1.0,))
    return outlook(P, settings, np.array([depth_m]), np.array([stood_m]))


def test_a_box_that_stands_deep_enough_splashes_and_bears_less_flow_the_sooner_it_does() -> None:
    sunk_m = float(at(1.02).sunk_m[0])
    assert float(sinking(1.02, 0.5 * sunk_m).splashing[0]) > 0.9
    assert float(sinking(1.02, 0.5 * sunk_m).quiet[0]) < 0.1
    assert float(sinking(1.02, 2.0 * sunk_m).splashing[0]) < 0.1
    margins = [float(sinking(0.99, d).less_flow[0]) for d in (0.005, 0.02, 0.04, np.inf)]
    assert margins == sorted(margins)
    assert margins[-1] == pytest.approx(float(at(0.99).less_flow[0]))


def test_a_box_that_stood_deep_fills_in_time_by_hand() -> None:
    # from 50 mm to 10 mm below the crest, towards the level at which the siphon takes what comes, h mm above it: the
    # time constant 2 head area / flow times ln((50 + h) / (10 + h))
    share = 0.97
    head_m = float(laws.siphon_head_m(P, P.crest_height_m))
    h_m = head_m * (1 / share**2 - 1)
    constant_s = 2 * head_m * float(P.box_area_m2) / (share * SUPPLY)
    expected_s = constant_s * np.log((0.050 + h_m) / (0.010 + h_m))
    assert float(sinking(share, 0.010, 0.050).refill_s[0]) == pytest.approx(expected_s, rel=0.01)
    assert float(sinking(share, 0.010, 0.008).refill_s[0]) == 0.0
