from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tuner.coach.belief import Belief
from tuner.coach.guesses import Guesses, after_move, draw_guesses, valve_share
from tuner.coach.handwork import hands_of
from tuner.coach.hearing_odds import (
    LIVELY_REST_DOUBT,
    REST_DOUBT,
    cycles,
    due_chance,
    evidence_of,
    rest_log_likelihood,
)
from tuner.coach.marks import Told
from tuner.coach.safety import MOST_TAKEN_AT_FIRST, MOST_TAKEN_AT_ONCE
from tuner.rig import Channel, Pump, Returns, Rig, Siphon, Valve
from tuner.signatures.reading import PAUSES
from tuner.terms import Heard, Levels, Reading, SoundKind
from tuner.water import laws

LEVELS = Levels(-40.0, -38.0, -41.0, -43.0, -35.0, (1000.0,), (-45.0,))
RIG = Rig(channel=Channel(vent_hole_m=0.012))


def reading(shares: dict[SoundKind, float], period_s: float | None = None, excess_db: float = 22.0) -> Reading:
    heard = tuple(Heard(k, s, s, excess_db, period_s, 2) for k, s in shares.items())
    return Reading(25.0, 25.0, LEVELS, (), heard, excess_db if heard else 0.0, 0.0)


def belief(rig: Rig = RIG, seed: int = 1) -> Belief:
    return Belief(rig, np.random.default_rng(seed), over_room=True)


def heard(b: Belief, r: Reading) -> bool:
    return b.heard(evidence_of(r, 0.0, 1e6, 1e6, over_room=True))


@pytest.mark.parametrize(
    ("kind", "cause"),
    [("slurp", "siphon over-open"), ("gurgle", "siphon over-closed"), ("trickle", "vent too wide"),
     ("flush", "vent too closed"), ("roar", "emergency carrying flow")],
)
def test_a_sound_raises_its_cause(kind: SoundKind, cause: str) -> None:
    b = belief()
    before = b.causes()[cause]  # type: ignore[index]
    heard(b, reading({kind: 0.8}))
    after = b.causes()[cause]  # type: ignore[index]
    assert after > 2 * before or after > 0.8


def test_silence_raises_quiet_and_makes_no_news_of_nothing() -> None:
    b = belief()
    before = b.expected().quiet
    heard(b, reading({}))
    assert b.expected().quiet > before


def test_listening_on_at_one_setting_is_no_new_evidence_of_a_steady_sound() -> None:
    once, often = belief(), belief()
    heard(once, reading({}))
    for _ in range(12):
        heard(often, reading({}))
    assert often.causes()["siphon over-closed"] > 0.5 * once.causes()["siphon over-closed"]
    assert often.causes()["siphon over-open"] < 0.5 * once.causes()["siphon over-open"]  # its cycle would have shown


def test_a_long_slurp_period_means_a_small_mismatch() -> None:
    slow, fast = belief(), belief()
    heard(slow, reading({"slurp": 0.1}, period_s=60.0))
    heard(fast, reading({"slurp": 0.1}, period_s=6.0))
    # mismatch is supply less siphon: negative when the siphon takes more than comes
    assert fast.expected().mismatch_m3_s < slow.expected().mismatch_m3_s < 0


def test_the_same_inputs_give_the_same_belief() -> None:
    a, b = belief(), belief()
    for x in (a, b):
        heard(x, reading({"slurp": 0.3}, period_s=12.0))
        x.moved("siphon valve", -0.25)
        heard(x, reading({}))
    assert a.expected() == b.expected()


def test_weights_stay_a_distribution() -> None:
    b = belief()
    for kind in ("slurp", "gurgle", "trickle", "roar", "slurp"):
        heard(b, reading({kind: 0.9}))  # type: ignore[dict-item]
        b.moved("siphon valve", 0.125)
        assert float(b.weights.sum()) == pytest.approx(1.0)
        assert float(b.weights.min()) >= 0.0


def test_opening_raises_the_siphon_and_closing_lowers_it() -> None:
    for amount in (0.5, -0.5):
        b = belief()
        before = float(np.median(b.outlook().siphon))
        b.moved("siphon valve", amount)
        after = float(np.median(b.outlook().siphon))
        assert (after - before) * amount > 0


def one_guess(play: float) -> Guesses:
    g = draw_guesses(RIG, np.random.default_rng(0), 4, (1.0,))
    p = replace(g.plumbing, valve_backlash=np.full(4, 0.04), valve_full=np.full(4, 5.0))
    return replace(g, plumbing=p, play=np.full(4, play))


def test_free_play_is_taken_up_before_the_valve_follows() -> None:
    # By hand: 0.04 turns of free play, none left when opening, so an opening move acts in full and a closing move
    # loses 0.04 turns; of five turns 0.25 and 0.21 are 0.05 and 0.042.
    g = one_guess(play=0.0)
    opened, _ = valve_share(g, 0.25)
    closed, play = valve_share(g, -0.25)
    assert float(opened[0]) == pytest.approx(0.05)
    assert float(closed[0]) == pytest.approx(-0.042)
    assert float(play[0]) == pytest.approx(0.04)


def test_a_cycle_not_heard_so_far_is_due_the_sooner() -> None:
    period = np.array([100.0])
    first, later = due_chance(period, 25.0, 0.0), due_chance(period, 25.0, 60.0)
    assert float(first[0]) == pytest.approx(0.265)  # (25 + 1.5) / 100, by hand
    assert float(later[0]) == pytest.approx(0.265 / 0.4)
    assert float(due_chance(period, 25.0, 90.0)[0]) == pytest.approx(1.0)


def test_the_band_of_the_mismatch_holds_its_truth() -> None:
    # calibration on made-up truths from the same bands: the 90 % band must hold most of them
    rig = Rig(siphon=Siphon(valve=Valve(kind="gate")), pumps=(Pump(),), channel=RIG.channel)
    truths = draw_guesses(rig, np.random.default_rng(5), 60, (1.0,))
    b = belief(rig)
    o = b.outlook()
    low, high = np.quantile(o.supply - o.siphon, [0.05, 0.95])
    supply = laws.supply_flow_m3_s(truths.plumbing, (1.0,))
    siphon = laws.siphon_flow_m3_s(truths.plumbing, truths.plumbing.crest_height_m, truths.opening)
    held = int(np.sum((supply - siphon >= low) & (supply - siphon <= high)))
    assert held >= 48  # of 60 with 54 expected: two standard deviations of 2.3 and a little


@pytest.mark.parametrize(
    ("kind", "cause", "little"),
    [("slurp", "siphon over-open", 0.1), ("flush", "vent too closed", 0.1), ("gurgle", "siphon over-closed", 0.2)],
)
def test_among_other_sound_a_little_of_a_noise_tells_less_than_in_a_still_room_and_more_of_it_tells_more(
    kind: SoundKind, cause: str, little: float
) -> None:
    def gain(share: float, *, lively: bool) -> float:
        was, now = belief(), belief()
        now.heard(evidence_of(reading({kind: share}), 0.0, 1e6, 1e6, over_room=True, lively=lively, doubtful=True))
        odds = [b.causes()[cause] / b.expected().quiet for b in (was, now)]  # type: ignore[index]
        return odds[1] / odds[0]

    assert gain(little, lively=True) < gain(little, lively=False)
    assert gain(3 * little, lively=True) > 1.5 * gain(little, lively=True)


def test_among_other_sound_a_return_counts_from_its_second_time_on() -> None:
    for events, counts in ((2, False), (3, True)):
        gulps = replace(reading({}), heard=(Heard("slurp", 0.2, 0.2, 20.0, 7.0, events),))
        assert (evidence_of(gulps, 0.0, 1e6, 1e6, over_room=False, lively=True).slurp_period_s is not None) == counts
        assert evidence_of(gulps, 0.0, 1e6, 1e6, over_room=False).slurp_period_s == 7.0


def test_the_level_of_a_doubtful_reading_tells_nothing() -> None:
    gurgles = reading({"gurgle": 0.9})
    assert evidence_of(gurgles, 0.0, 1e6, 1e6, over_room=True).level_db is not None
    assert evidence_of(gurgles, 0.0, 1e6, 1e6, over_room=True, doubtful=True).level_db is None
    assert evidence_of(gurgles, 0.0, 1e6, 1e6, over_room=True, lively=True).level_db is None, "it holds the other sound"


def test_among_other_sound_a_gulp_begins_the_wait_for_a_slow_cycle_anew() -> None:
    gulping = []
    for anew in (False, True):
        b, since_s = belief(), 0.0
        for i in range(16):
            r = reading({"slurp": 0.3} if i % 4 == 0 else {})
            b.heard(evidence_of(r, since_s, 1e6, 1e6, over_room=True, lively=True, doubtful=True))
            since_s = 0.0 if anew and cycles(r) else since_s + r.clean_s
        gulping.append(b.causes()["siphon over-open"])
    assert gulping[1] > 2 * gulping[0]


@pytest.mark.parametrize(
    ("shares", "cyclic"), [({"flush": 0.2}, True), ({"slurp": 0.03}, False), ({"hiss": 0.9}, False)]
)
def test_a_cycle_is_a_gulp_or_flush_that_stands_out(shares: dict[SoundKind, float], cyclic: bool) -> None:
    assert cycles(reading(shares)) == cyclic


def test_what_grows_by_closing_is_not_a_siphons_gulps() -> None:
    b = belief()
    heard(b, reading({"slurp": 0.6}))
    before = b.causes()
    assert before["siphon over-open"] > 0.5
    b.told_by_moves(Told(closed_in_vain=True))
    after = b.causes()
    assert after["siphon over-open"] < 0.5 * before["siphon over-open"]
    assert after["siphon over-closed"] > before["siphon over-closed"]
    assert float(b.weights.sum()) == pytest.approx(1.0)


def test_what_goes_on_as_the_siphon_is_opened_again_and_again_is_gulps_whatever_it_sounds_like() -> None:
    b = belief()
    heard(b, reading({"flush": 0.4, "gurgle": 0.3}))
    assert b.causes()["siphon over-open"] < 0.3
    b.told_by_moves(Told(opened_in_vain=True))
    assert b.causes()["siphon over-open"] > 0.5
    assert float(b.weights.sum()) == pytest.approx(1.0)


def test_gulps_and_a_splash_heard_again_after_small_moves_are_no_better_evidence_of_another_splash() -> None:
    """Whether gulps cover the splash of a sunk box stays so: what was heard once is heard again for the same reason."""
    b = belief()
    heard(b, reading({"slurp": 0.3, "splash": 1.0}))
    once = b.word(may_have_sunk=True).sunk
    for _ in range(4):
        b.moved("siphon valve", -1 / 64)
        heard(b, reading({"slurp": 0.3, "splash": 1.0}))
    assert once > 0.5
    assert b.word(may_have_sunk=True).sunk > 0.8 * once


def test_a_splash_that_follows_the_siphon_is_that_of_a_box_that_sinks() -> None:
    b = belief()
    heard(b, reading({"splash": 1.0}))
    before = b.word(may_have_sunk=True).sunk
    b.told_by_moves(Told(splash_follows=True))
    assert b.word(may_have_sunk=True).sunk > max(0.8, before)


def paused(shares: dict[SoundKind, float], pauses: float | None) -> Reading:
    return replace(reading(shares), features={} if pauses is None else {PAUSES: pauses})


def test_pauses_tell_gulps_from_a_gurgle_that_both_are_heard_as() -> None:
    mixed: dict[SoundKind, float] = {"slurp": 0.5, "gurgle": 0.5}
    over_open = []
    for pauses in (0.0, None, 0.8):
        b = belief()
        heard(b, paused(mixed, pauses))
        found = b.causes()
        over_open.append(found["siphon over-open"] / (found["siphon over-open"] + found["siphon over-closed"]))
    assert over_open[0] < 0.6 * over_open[1]
    assert over_open[2] > 0.8


def test_the_share_in_pauses_tells_how_far_the_siphon_is_over_open() -> None:
    mismatch = []
    for pauses in (0.9, 0.5):
        b = belief()
        heard(b, paused({"slurp": 1 - pauses}, pauses))
        mismatch.append(-b.expected().mismatch_m3_s)
    assert mismatch[1] > 1.3 * mismatch[0] > 0.0


def test_pauses_tell_less_among_other_sound_and_nothing_where_nothing_was_heard() -> None:
    o = belief().outlook()
    still, lively = (rest_log_likelihood(o, 0.8, doubt) for doubt in (REST_DOUBT, LIVELY_REST_DOUBT))
    assert np.ptp(still) > 2 * np.ptp(lively)
    assert evidence_of(paused({}, 0.8), 0.0, 1e6, 1e6, over_room=True).pauses is None
    assert evidence_of(paused({"slurp": 0.3}, 0.8), 0.0, 1e6, 1e6, over_room=True).pauses == 0.8


@pytest.mark.parametrize(
    ("shares", "pauses", "room_db"), [({}, None, -43.0), ({"slurp": 0.2}, 0.7, -43.0), ({"gurgle": 1.0}, 0.0, None)]
)
def test_the_room_is_heard_in_silence_and_in_pauses(
    shares: dict[SoundKind, float], pauses: float | None, room_db: float | None
) -> None:
    assert evidence_of(paused(shares, pauses), 0.0, 1e6, 1e6, over_room=False).room_db == room_db
    assert evidence_of(paused(shares, pauses), 0.0, 1e6, 1e6, over_room=True).room_db == 0.0


@pytest.mark.parametrize("share", [MOST_TAKEN_AT_ONCE, MOST_TAKEN_AT_FIRST])
@pytest.mark.parametrize("valve", [Valve(), Valve(kind="ball")])
def test_one_closing_takes_at_most_such_a_share_of_the_siphons_flow_in_nine_guesses_of_ten(
    valve: Valve, share: float
) -> None:
    rig = replace(RIG, siphon=replace(RIG.siphon, valve=valve))
    b, hand = belief(rig), hands_of(rig)[0]
    most = b.most_closed(share)
    assert hand.finest <= most <= hand.largest

    def lost(amount: float) -> float:
        few = b.few()
        after = after_move(few, rig, hand.control, np.array([-amount])).opening[0]
        flow, left = (
            laws.siphon_flow_m3_s(few.plumbing, few.plumbing.crest_height_m, at) for at in (few.opening, after)
        )
        return float(np.quantile(1 - left / flow, 0.9))

    assert lost(most) <= share
    larger = [-a for a in hand.choices() if a < -most]
    assert not larger or lost(min(larger)) > share


@pytest.mark.parametrize("share", [MOST_TAKEN_AT_ONCE, MOST_TAKEN_AT_FIRST])
def test_a_pump_is_sped_up_by_at_most_such_a_share_of_the_flow_in_nine_guesses_of_ten(share: float) -> None:
    rig = replace(RIG, pumps=(Pump(speed=0.85, speed_step=0.01, head_m=5.0),))
    b, hand = belief(rig), hands_of(rig)[-1]
    most = b.most_sped(share)
    assert hand.control == "return pump"
    assert 0.0 < most <= hand.largest

    def more(percent: float) -> float:
        few = b.few()
        now = laws.supply_flow_m3_s(few.plumbing, few.speeds)
        after = laws.supply_flow_m3_s(few.plumbing, (few.speeds[0] + percent / 100.0,))
        return float(np.quantile(after / now, 0.9)) - 1.0

    assert more(most) <= share
    larger = [a for a in hand.choices() if a > most]
    assert not larger or more(min(larger)) > share
    assert b.most_sped(share / 4) < most
    assert belief(RIG).most_sped(share) == 0.0  # no step moves that pump


def test_a_pump_is_slowed_only_as_far_as_it_still_lifts() -> None:
    # By the affinity laws (H ~ s^2) a pump whose shutoff head is twice the lift sends nothing from 71 % down.
    weak = Rig(pumps=(Pump(speed_step=0.01, head_m=2.6),), returns=Returns(static_head_m=1.3))
    strong = Rig(pumps=(Pump(speed_step=0.01, head_m=12.0),), returns=Returns(static_head_m=1.3))
    assert -30.0 < belief(weak).slowest_change <= 0.0
    assert belief(strong).slowest_change < belief(weak).slowest_change
    fixed = Rig(pumps=(Pump(speed_step=0.0),))
    assert belief(fixed).slowest_change == -100.0, "no step slows it"


def test_a_splash_beside_gulps_is_believed_to_be_a_box_that_sank() -> None:
    gulps, both = belief(), belief()
    heard(gulps, reading({"slurp": 0.3}))
    heard(both, reading({"slurp": 0.3, "splash": 0.8}))
    assert both.word(may_have_sunk=True).sunk > 2 * gulps.word(may_have_sunk=True).sunk
    assert both.word(may_have_sunk=True).sunk > 0.5
    nothing = both.word(may_have_sunk=False)
    assert nothing.sunk == 0.0
    assert nothing.causes["siphon over-open"] < both.word(may_have_sunk=True).causes["siphon over-open"]


def test_a_splash_that_stays_where_the_box_may_still_be_filling_is_no_news() -> None:
    waited, at_once = belief(), belief()
    for b, waited_s in ((waited, 1e6), (at_once, 0.0)):
        heard(b, reading({"slurp": 0.3, "splash": 0.8}))
        b.moved("siphon valve", -0.25)
        b.heard(evidence_of(reading({"splash": 0.8}), 0.0, 1e6, waited_s, over_room=True))
    assert at_once.makes_beside("splash") < waited.makes_beside("splash")


def test_a_move_leaves_the_box_where_it_stood() -> None:
    b = belief()
    stood = b.outlook().sunk_m
    b.moved("siphon valve", -0.5)
    assert b.guesses.stood_m == pytest.approx(stood)
