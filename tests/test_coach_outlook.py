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
