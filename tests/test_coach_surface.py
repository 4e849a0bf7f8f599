from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tuner.coach import surface
from tuner.coach.guesses import draw_guesses
from tuner.coach.outlook import Outlook, Settings, outlook
from tuner.coach.surface import AT_NOISE, IN_SILENCE, LOOKS, Seen, chances, gain_of_side, gain_of_state, odds_of
from tuner.rig import Rig, Siphon
from tuner.water import laws
from tuner.water.plumbing import plumbing_of

P = plumbing_of(Rig())


def opening_of(channel_share: float) -> float:
    """The opening that leaves the open channel a share of the flow from which it gurgles."""
    supply = laws.supply_flow_m3_s(P, (1.0,))
    siphon = supply - channel_share * laws.gurgle_flow_m3_s(P)
    return float(laws.opening_for_siphon_flow(P, siphon, P.crest_height_m))


def at(*channel_shares: float, tap: float = 0.5) -> Outlook:
    """The middling installation at one or more openings."""
    n = len(channel_shares)
    return outlook(P, Settings(np.array([opening_of(s) for s in channel_shares]), np.full(n, tap), (1.0,)))


def likeliest(question_id: str, o: Outlook) -> str:
    return LOOKS[question_id].choices[int(np.argmax(chances(question_id, o, P)[:, 0]))]


@given(st.integers(0, 2**32 - 1), st.sampled_from(sorted(LOOKS)), st.floats(0.02, 0.13))
def test_some_answer_is_always_given(seed: int, question_id: str, inlet_m: float) -> None:
    rig = Rig(siphon=Siphon(inlet_height_m=inlet_m))
    guesses = draw_guesses(rig, np.random.default_rng(seed), 40, (1.0,))
    told = chances(question_id, outlook(guesses.plumbing, guesses.settings), guesses.plumbing)
    assert told.shape == (len(LOOKS[question_id].choices), 40)
    assert np.all(told > 0.0)
    assert told.sum(axis=0) == pytest.approx(1.0)


def test_the_grade_is_that_of_the_height_over_the_crest() -> None:
    for share, tap in ((0.25, 0.5), (0.25, 1.0), (0.6, 1.0)):
        o = at(share, tap=tap)
        quarters = float(4 * (o.level_m[0] - P.crest_height_m) / P.channel_diameter_m)
        assert 0.0 < quarters < 2.0
        assert likeliest(IN_SILENCE.id, o) == IN_SILENCE.choices[3 + int(quarters)]
        assert likeliest(AT_NOISE.id, o) == "steady, at the elbow"


def test_a_channel_that_is_dry_lets_the_water_sink_to_the_siphons_inlet() -> None:
    # the siphon takes a little more than comes, less the lower the water stands: both states are silent
    o = at(-0.03, -0.3)
    assert o.quiet.min() > 0.9
    told = chances(IN_SILENCE.id, o, P)
    assert [IN_SILENCE.choices[i] for i in np.argmax(told, axis=0)] == ["below the elbow", "near the siphon's inlet"]


def test_a_gulping_siphon_swings_low_and_a_flush_up_to_the_elbow() -> None:
    assert likeliest(AT_NOISE.id, at(-1.0)) == "swings below the open channel's elbow"
    flushing = at(0.8, tap=0.1)
    assert flushing.flushing[0] > 0.9
    assert likeliest(AT_NOISE.id, flushing) == "swings up to the elbow"
    assert likeliest(IN_SILENCE.id, flushing) == "it rises or falls"


def test_swinging_low_speaks_for_gulps_and_against_a_flush() -> None:
    both = at(-1.0, 0.8, tap=0.1)
    odds = odds_of(chances(AT_NOISE.id, both, P)[0], both, np.array([0.5, 0.5]))
    assert odds["siphon over-open"] > 0.5
    assert odds["vent too closed"] < -2.0
    assert odds["emergency carrying flow"] == pytest.approx(0.0, abs=0.01)  # no guess tells of it


def test_a_look_tells_nothing_where_all_guesses_agree_and_much_where_two_do_not() -> None:
    even = np.array([0.5, 0.5])
    assert gain_of_state(at(0.8, 0.8, tap=0.1), P, even) < 0.05
    # an even choice of two told for certain is ln 2 = 0.69 nats (Shannon 1948); a look errs at times
    assert 0.3 < gain_of_state(at(-1.0, 0.8, tap=0.1), P, even) < np.log(2.0)


def test_in_silence_a_look_tells_the_nearer_edge() -> None:
    even = np.array([0.5, 0.5])
    edges, alike = at(-0.35, 0.6, tap=1.0), at(0.5, 0.5, tap=1.0)
    assert gain_of_side(edges, P, even) > gain_of_side(alike, P, even) + 0.1


def test_what_was_seen_tells_a_dry_channel_from_a_full_one() -> None:
    assert Seen(AT_NOISE.id, 0, AT_NOISE.choices[0]).low
    assert Seen(IN_SILENCE.id, 0, IN_SILENCE.choices[1]).low
    assert not Seen(IN_SILENCE.id, 0, IN_SILENCE.choices[0]).low  # it falls, who knows from where
    over = Seen(AT_NOISE.id, 0, AT_NOISE.choices[4])
    assert over.over
    assert over.reaches_elbow
    assert not over.low
    assert all(Seen(q.id, 0, c).low + Seen(q.id, 0, c).over <= 1 for q in LOOKS.values() for c in q.choices)


def test_every_grade_belongs_to_a_choice() -> None:
    for question_id, choice in surface._GRADES.items():
        assert set(choice) == set(range(len(LOOKS[question_id].choices)))
