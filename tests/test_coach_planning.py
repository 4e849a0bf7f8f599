from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tuner.coach.belief import Belief
from tuner.coach.handwork import hands_of
from tuner.coach.hearing_odds import evidence_of
from tuner.coach.outlook import Outlook, Settings, outlook
from tuner.coach.planning import BEARING_WORTH, MOST_ROARING, ROAR_COST, Prospect, heard_as, plan, worth_of
from tuner.coach.standing import WAIT_LEAST_S, WAIT_MOST_S, bearing, left_to_mend
from tuner.rig import Channel, Pump, Rig
from tuner.terms import Control, Heard, Levels, Reading, SoundKind

LEVELS = Levels(-40.0, -38.0, -41.0, -43.0, -35.0, (1000.0,), (-45.0,))
RIG = Rig(channel=Channel(vent_hole_m=0.012), pumps=(Pump(speed=0.8, speed_step=0.05),))
BOTH = {(hand.control, way) for hand in hands_of(RIG) for way in (-1, 1)}


def after(*heard: dict[SoundKind, float] | float, levels_db: tuple[float, ...] = ()) -> Belief:
    """Return the belief after sounds (by share) and siphon moves (turns), in that order; sounds at ``levels_db``."""
    levels = iter(levels_db)
    b = Belief(RIG, np.random.default_rng(1), over_room=True)
    for item in heard:
        if isinstance(item, float):
            b.moved("siphon valve", item)
            continue
        excess_db = next(levels, 22.0)
        sounds = tuple(Heard(k, s, s, excess_db, None, 2) for k, s in item.items())
        reading = Reading(25.0, 25.0, LEVELS, (), sounds, excess_db if sounds else 0.0, 0.0)
        b.heard(evidence_of(reading, 0.0, 1e6, 1e6, over_room=True))
    return b


def best(b: Belief, ways: set[tuple[Control, int]]) -> Prospect:
    return plan(b.few(), RIG, hands_of(RIG), ways).moves[0]


def test_only_allowed_ways_within_the_limits_and_away_from_the_emergency_pipe_are_offered() -> None:
    found = plan(after({"slurp": 0.3}).few(), RIG, hands_of(RIG), {("siphon valve", -1)})
    assert found.moves
    for move in found.moves:
        assert move.hand.control == "siphon valve"
        assert -move.hand.limit(-1.0) - 1e-9 <= move.amount < 0
        assert move.roaring <= MOST_ROARING
        assert WAIT_LEAST_S <= move.wait_s <= WAIT_MOST_S
    worths = [move.worth for move in found.moves]
    assert worths == sorted(worths, reverse=True)


def test_a_gurgle_opens_the_siphon_and_a_gulp_closes_it() -> None:
    valve: set[tuple[Control, int]] = {("siphon valve", -1), ("siphon valve", 1)}
    assert best(after({"gurgle": 0.9}), valve).amount > 0
    assert best(after({"slurp": 0.4}), valve).amount < 0


def test_a_gurgle_that_stays_loud_speaks_for_a_larger_move_than_one_that_fell() -> None:
    gains = []
    for levels in ((30.0, 29.0), (14.0, 8.0)):
        b = after({"gurgle": 1.0}, 0.125, {"gurgle": 1.0}, levels_db=levels)
        moves = plan(b.few(), RIG, hands_of(RIG), {("siphon valve", 1)}).moves
        worth = {move.amount: move.worth for move in moves}
        assert moves[0].amount > 0.125
        gains.append(worth[0.5] - worth[0.25])
    assert gains[0] > gains[1] + 0.2


def test_in_noise_a_move_is_worth_more_than_staying_and_in_sure_silence_less() -> None:
    noisy = plan(after({"gurgle": 1.0}).few(), RIG, hands_of(RIG), BOTH)
    assert noisy.moves[0].worth > noisy.stay
    sure = after(*({} for _ in range(3)))
    # Guesses that surely bear every change: the middle of a wide window.
    o = sure.outlook()
    middle = np.flatnonzero((np.minimum(o.less_flow, o.more_flow) > 0.06) & (o.quiet > 0.98))
    assert middle.size > 5
    few = sure.guesses.taken(np.resize(middle, 250))
    silent = plan(few, RIG, hands_of(RIG), BOTH)
    assert silent.bears_now > 0.9
    assert silent.moves[0].worth < silent.stay


def test_the_chances_of_what_is_heard_are_chances() -> None:
    heard = heard_as(after({"slurp": 0.4}).outlook())
    assert heard.shape[0] == 8
    assert float(heard.min()) > 0.0
    assert heard.sum(axis=0) == pytest.approx(np.ones(heard.shape[1]))


def wholly(o: Outlook, **given_as: float) -> Outlook:
    shape = np.shape(o.channel)
    kinds = ("gulping", "drawing", "gurgling", "trickling", "hissing", "flushing", "roaring",
             "splashing")
    calm = replace(o, **{k: np.full(shape, given_as.get(k, 0.0)) for k in kinds})
    return replace(calm, low=calm.channel - 0.5 * calm.supply, high=calm.channel + 0.5 * calm.supply)


def test_worth_in_moves_by_hand() -> None:
    o = after().outlook()
    plumbing = after().guesses.plumbing
    # silent and half the supply away from either edge: the whole worth of bearing
    assert worth_of(wholly(o), plumbing) == pytest.approx(np.full(len(o.channel), BEARING_WORTH), abs=1e-6)
    # roaring alone: nothing to bear, and the cost of the roar and of a noise
    assert float(worth_of(wholly(o, roaring=1.0), plumbing).max()) < -ROAR_COST


def test_what_is_left_to_mend_grows_with_the_mismatch_and_is_none_in_silence() -> None:
    o = wholly(after().outlook())
    dry = replace(o, channel=0.5 * o.gurgle_flow)
    assert left_to_mend(dry) == pytest.approx(np.zeros(len(o.channel)))
    little, much = (replace(o, channel=x * o.gurgle_flow) for x in (1.2, 2.0))
    assert np.all(left_to_mend(little) < left_to_mend(much))
    # by hand: ln(2) / 0.5 = 1.386 moves for twice the gurgling flow
    assert left_to_mend(much) == pytest.approx(np.full(len(o.channel), np.log(2.0) / 0.5))


@settings(max_examples=20, deadline=None)
@given(st.floats(0.02, 0.9), st.floats(0.05, 1.0))
def test_bearing_is_never_more_than_the_quiet(opening: float, vent: float) -> None:
    few = after().few()
    o = outlook(few.plumbing, Settings(np.full(few.n, opening), np.full(few.n, vent), few.speeds))
    alone, looped = bearing(o, np.zeros(few.n)), bearing(o, np.full(few.n, 0.02))
    assert np.all(alone <= o.quiet + 1e-12)
    assert np.all(looped >= 0.0)
    assert np.all(looped <= alone + 1e-12)


def test_a_pump_move_costs_more_the_larger_it_is() -> None:
    found = plan(after({"gurgle": 0.9}).few(), RIG, hands_of(RIG), {("return pump", -1)})
    assert found.moves
    # the least change that mends it as well: no move on the pump is worth more than one that is smaller and as quiet
    for small in found.moves:
        for large in found.moves:
            if abs(large.amount) > abs(small.amount) and large.quiet <= small.quiet and large.bears <= small.bears:
                assert large.worth < small.worth
