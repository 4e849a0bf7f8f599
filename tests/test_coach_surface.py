from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tuner.coach import surface
from tuner.coach.guesses import draw_guesses
from tuner.coach.outlook import Outlook, Settings, outlook
from tuner.coach.surface import AT_NOISE, IN_SILENCE, LOOKS, Seen, chances, gain_of_side, gain_of_state, odds_of
from tuner.rig import Rig
from tuner.water import laws
from tuner.water.plumbing import Plumbing, plumbing_of

P = plumbing_of(Rig())


def at(channel_share: float, tap: float = 0.5) -> Outlook:
    """The middling installation with its open channel at a share of the flow from which it gurgles."""
    supply = laws.supply_flow_m3_s(P, (1.0,))
    siphon = supply - channel_share * laws.gurgle_flow_m3_s(P)
    opening = float(laws.opening_for_siphon_flow(P, siphon, P.crest_height_m))
    return outlook(P, Settings(np.array([opening]), np.array([tap]), (1.0,)))


def likeliest(question_id: str, o: Outlook) -> str:
    return LOOKS[question_id].choices[int(np.argmax(chances(question_id, o, P)[:, 0]))]


@given(st.integers(0, 2**32 - 1), st.sampled_from(sorted(LOOKS)))
def test_some_answer_is_always_given(seed: int, question_id: str) -> None:
    guesses = draw_guesses(Rig(), np.random.default_rng(seed), 40, (1.0,))
    told = chances(question_id, outlook(guesses.plumbing, guesses.settings), guesses.plumbing)
    assert told.shape == (len(LOOKS[question_id].choices), 40)
    assert np.all(told > 0.0)
    assert told.sum(axis=0) == pytest.approx(1.0)


def test_the_fuller_the_channel_the_higher_the_answer() -> None:
    grades = [IN_SILENCE.choices.index(likeliest(IN_SILENCE.id, at(share))) for share in (-0.3, 0.25, 0.6, 1.0, 4.0)]
    assert all(a <= b for a, b in pairwise(grades))
    assert grades[0] < grades[-1]


def test_the_grade_is_that_of_the_head_over_the_crest() -> None:
    # the law of the crest, tried in tests of water against its handbook values: here only its place in the elbow
    for share in (0.2, 0.5, 0.9):
        o = at(share, tap=1.0)
        quarter = float(4 * (o.level_m[0] - P.crest_height_m) / P.channel_diameter_m)
        expected = IN_SILENCE.choices[3 + int(np.searchsorted((1.0, 2.0), quarter))]
        if abs(quarter - round(quarter)) > 0.3:
            assert likeliest(IN_SILENCE.id, o) == expected


def test_a_gulping_siphon_swings_low_and_a_flush_up_to_the_elbow() -> None:
    assert likeliest(AT_NOISE.id, at(-1.0)) == AT_NOISE.choices[0]
    flushing = at(0.8, tap=0.02)
    assert flushing.flushing[0] > 0.9
    assert likeliest(AT_NOISE.id, flushing) == AT_NOISE.choices[1]


def test_a_gurgling_channel_is_steady() -> None:
    assert likeliest(AT_NOISE.id, at(1.6)) == AT_NOISE.choices[3]


def test_swinging_low_speaks_for_gulps_and_against_the_channel() -> None:
    states = [at(share) for share in (-1.0, 1.6, 0.6)]
    told = np.array([chances(AT_NOISE.id, o, P)[0, 0] for o in states])
    both = outlook(P, Settings(np.array([opening_of(-1.0), opening_of(1.6)]), np.array([0.5, 0.5]), (1.0,)))
    odds = odds_of(told[:2], both, np.array([0.5, 0.5]))
    assert odds["siphon over-open"] > 0.5
    assert odds["siphon over-closed"] < -1.0
    assert odds["emergency carrying flow"] == pytest.approx(0.0, abs=1e-6)  # no guess tells of it


def opening_of(channel_share: float) -> float:
    supply = laws.supply_flow_m3_s(P, (1.0,))
    siphon = supply - channel_share * laws.gurgle_flow_m3_s(P)
    return float(laws.opening_for_siphon_flow(P, siphon, P.crest_height_m))


def test_a_look_tells_nothing_where_all_guesses_agree_and_much_where_two_do_not() -> None:
    alike = outlook(P, Settings(np.full(2, opening_of(1.6)), np.full(2, 0.5), (1.0,)))
    apart = outlook(P, Settings(np.array([opening_of(-1.0), opening_of(1.6)]), np.full(2, 0.5), (1.0,)))
    even = np.array([0.5, 0.5])
    assert gain_of_state(alike, P, even) < 0.05
    # one even choice of two told for certain is ln 2 = 0.69 nats (Shannon 1948); a look errs at times
    assert 0.3 < gain_of_state(apart, P, even) < np.log(2.0)


def test_in_silence_a_look_tells_the_nearer_edge() -> None:
    edges = outlook(P, Settings(np.array([opening_of(-0.3), opening_of(0.93)]), np.full(2, 0.5), (1.0,)))
    middle = outlook(P, Settings(np.full(2, opening_of(0.5)), np.full(2, 0.5), (1.0,)))
    even = np.array([0.5, 0.5])
    assert gain_of_side(edges, P, even) > gain_of_side(middle, P, even) + 0.1


def test_what_was_seen_tells_a_dry_channel_from_a_full_one() -> None:
    assert Seen(AT_NOISE.id, 0, AT_NOISE.choices[0]).low
    assert Seen(IN_SILENCE.id, 0, IN_SILENCE.choices[1]).low
    assert not Seen(IN_SILENCE.id, 0, IN_SILENCE.choices[0]).low  # it falls, who knows from where
    over = Seen(AT_NOISE.id, 0, AT_NOISE.choices[4])
    assert over.over and over.reaches_elbow and not over.low
    assert all(Seen(q.id, 0, c).low + Seen(q.id, 0, c).over <= 1 for q in LOOKS.values() for c in q.choices)


def test_every_grade_belongs_to_a_choice() -> None:
    for question_id, choice in surface._GRADES.items():
        assert set(choice) == set(range(len(LOOKS[question_id].choices)))


def test_the_middling_plumbing_has_room_below_the_crest() -> None:
    assert isinstance(P, Plumbing)
    assert P.siphon_inlet_height_m < P.crest_height_m
