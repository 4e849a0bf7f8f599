from __future__ import annotations

import subprocess
import sys
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tuner.causes import LastMove, diagnose_reading, facts_of, is_silent, weigh
from tuner.causes.diagnosis import heard_kinds
from tuner.causes.rules import load_causes
from tuner.causes.weighing import in_words
from tuner.rig import Channel, Returns, Rig, Siphon, Weir
from tuner.terms import SOUND_KINDS, CauseName, Floor, Heard, Levels, Reading, SoundKind

LEVELS = Levels(-40.0, -38.0, -41.0, -43.0, -35.0, (1000.0,), (-45.0,))
FLOOR = Floor(LEVELS, 20.0, 20.0)


def heard_as(
    shares: dict[SoundKind, float], *, period_s: dict[SoundKind, float] | None = None, excess_db: float = 12.0,
    outside: float = 0.0, clean_s: float = 20.0,
) -> Reading:
    periods = period_s or {}
    heard = tuple(
        Heard(kind, share, share, excess_db, periods.get(kind), max(1, int(10 * share)))
        for kind, share in shares.items()
    )
    return Reading(20.0, clean_s, LEVELS, (), heard, excess_db, outside)


@pytest.mark.parametrize(
    ("shares", "cause"),
    [
        ({"slurp": 0.2}, "siphon over-open"),
        ({"gurgle": 0.8}, "siphon over-closed"),
        ({"flush": 0.2, "gurgle": 0.1}, "vent too closed"),
        ({"hiss": 0.9}, "vent too closed"),
        ({"trickle": 0.9}, "vent too wide"),
        ({"roar": 0.9, "gurgle": 0.7}, "emergency carrying flow"),
        ({"hum": 0.9}, "pump hum"),
        ({"rattle": 0.8, "hum": 0.3}, "pump hum"),
        ({"gurgle": 0.9, "hum": 0.6}, "siphon over-closed"),
    ],
)
def test_the_table_of_states_names_the_cause(shares: dict[SoundKind, float], cause: CauseName) -> None:
    # the table of states and sounds of a three-pipe overflow: common practice, no source
    assert diagnose_reading(heard_as(shares)).causes[0].name == cause


@pytest.mark.parametrize(
    ("rig", "shares", "cause"),
    [
        (Rig(siphon=Siphon(outlet_depth_m=-0.03)), {"splash": 0.9}, "outlet above water"),
        (Rig(weir=Weir(height_m=0.40), channel=Channel(crest_height_m=0.16)), {"splash": 0.9}, "weir drop"),
        (Rig(siphon=Siphon(outlet_depth_m=0.12, bleed_hole_m=0.0)), {"gurgle": 1.0, "slurp": 0.1}, "siphon not purged"),
        (Rig(returns=Returns(nozzle_depth_m=0.002)), {"hiss": 0.9, "trickle": 0.9}, "return drawing air"),
        (Rig(returns=Returns(nozzle_depth_m=0.03)), {"hiss": 0.9, "trickle": 0.9}, "pump drawing air"),
    ],
)
def test_the_installation_parts_causes_that_sound_alike(
    rig: Rig, shares: dict[SoundKind, float], cause: CauseName
) -> None:
    assert diagnose_reading(heard_as(shares), rig=rig).causes[0].name == cause


@pytest.mark.parametrize(
    ("rig", "shares", "cause"),
    [
        (Rig(siphon=Siphon(outlet_depth_m=0.07)), {"gurgle": 1.0}, "siphon over-closed"),
        (Rig(siphon=Siphon(outlet_depth_m=0.07)), {"slurp": 0.3}, "siphon over-open"),
        (Rig(weir=Weir(height_m=0.27), channel=Channel(crest_height_m=0.16)), {"gurgle": 1.0}, "siphon over-closed"),
        (Rig(weir=Weir(height_m=0.27), channel=Channel(crest_height_m=0.16)), {"trickle": 0.9}, "vent too wide"),
        (Rig(returns=Returns(nozzle_depth_m=0.008)), {"trickle": 0.9}, "vent too wide"),
        (
            Rig(siphon=Siphon(outlet_depth_m=-0.02), weir=Weir(height_m=0.27), channel=Channel(crest_height_m=0.16)),
            {"splash": 0.9}, "outlet above water",
        ),
    ],
)
def test_a_measure_that_is_a_little_odd_does_not_outvote_what_is_heard(
    rig: Rig, shares: dict[SoundKind, float], cause: CauseName
) -> None:
    assert diagnose_reading(heard_as(shares), rig=rig).causes[0].name == cause


def test_an_assumed_measure_is_no_fact() -> None:
    known = facts_of(heard_as({}), rig=Rig(), last_move=None)
    assumed = facts_of(heard_as({}), rig=Rig(assumed=frozenset({"siphon.outlet_depth_m"})), last_move=None)
    assert "rig.siphon_outlet_depth_m" in known
    assert "rig.siphon_outlet_depth_m" not in assumed


def test_a_cause_that_lacks_a_fact_says_so() -> None:
    causes = diagnose_reading(heard_as({"splash": 0.9})).causes
    assert any("not known: how deep the outlets end" in reason for c in causes for reason in c.because)


def test_reasons_carry_the_numbers_heard() -> None:
    cause = diagnose_reading(heard_as({"slurp": 0.1}, period_s={"slurp": 12.0})).causes[0]
    assert "gulps return every 12 s" in " ".join(cause.because)


def test_words_round_numbers_for_people() -> None:
    facts = {"a.share": 0.456, "a.excess_db": 7.6, "rig.b_m": 0.012}
    assert in_words("{a.share}, {a.excess_db}, {rig.b_m}", facts) == "46 %, 8 dB, 12 mm"


def test_the_last_move_counts() -> None:
    reading = heard_as({"gurgle": 0.2, "slurp": 0.08})
    opened, closed = (
        {c.name: c.probability for c in weigh(reading, rig=None, last_move=LastMove("siphon valve", a), floor=None)}
        for a in (0.25, -0.25)
    )
    assert opened["siphon over-open"] > closed["siphon over-open"]
    assert opened["siphon over-closed"] < closed["siphon over-closed"]


def test_silent_needs_silence_and_undisturbed_seconds() -> None:
    assert diagnose_reading(heard_as({}, excess_db=0.5), floor=FLOOR).silent
    assert diagnose_reading(heard_as({}, excess_db=0.5)).causes == ()
    assert not is_silent(heard_as({}, excess_db=8.0), floor=FLOOR)
    assert is_silent(heard_as({}, excess_db=8.0), floor=None)
    assert not is_silent(heard_as({"slurp": 0.05}, excess_db=0.5), floor=FLOOR)
    assert not is_silent(heard_as({}, excess_db=0.5, clean_s=1.0), floor=FLOOR)


@pytest.mark.parametrize(
    ("share", "probability", "heard"), [(0.0, 0.15, False), (0.0, 0.2, True), (0.1, 0.1, True), (0.05, 0.19, False)]
)
def test_a_steady_kind_counts_where_it_is_active_or_likely_not_where_a_room_is_a_little_like_it(
    share: float, probability: float, heard: bool
) -> None:
    hiss = replace(heard_as({}), heard=(Heard("hiss", share, probability, 3.0, None, 0),))
    assert is_silent(hiss, floor=None) is not heard
    assert is_silent(hiss, floor=None, in_a_row=True) is (max(share, probability) < 0.1)


def test_masked_is_outside_noise_never_silence() -> None:
    d = diagnose_reading(heard_as({}, outside=0.9, clean_s=2.0), floor=FLOOR)
    assert not d.silent
    assert d.causes[0].name == "outside noise"


@settings(max_examples=60, deadline=None)
@given(
    st.dictionaries(st.sampled_from(SOUND_KINDS), st.floats(0.0, 1.0)), st.floats(0.0, 1.0), st.floats(-5.0, 40.0)
)
def test_probabilities_sum_to_one_and_are_ordered(
    shares: dict[SoundKind, float], outside: float, excess_db: float
) -> None:
    causes = weigh(heard_as(shares, outside=outside, excess_db=excess_db), rig=Rig(), last_move=None, floor=FLOOR)
    assert sum(c.probability for c in causes) == pytest.approx(1.0)
    assert [c.probability for c in causes] == sorted((c.probability for c in causes), reverse=True)
    assert all(c.because and all(c.because) for c in causes)
    assert not any("{" in reason for c in causes for reason in c.because)


def test_rules_and_coach_load_without_the_slow_libraries() -> None:
    code = "import sys, tuner.causes, tuner.coach; print([m for m in ('scipy.signal', 'librosa') if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_beside_other_sound_a_steady_kind_must_last_and_a_slurp_need_not() -> None:
    silence = load_causes().silence

    def counted(heard: Heard, outside_share: float) -> bool:
        reading = Reading(20.0, 18.0, LEVELS, (), (heard,), None, outside_share)
        return heard.kind in heard_kinds(reading, silence)

    brief, steady = Heard("gurgle", 0.2, 0.2, 9.0, None, 2, 0.4), Heard("gurgle", 0.9, 0.9, 9.0, None, 2, 1.0)
    assert not counted(brief, 0.1)
    assert counted(brief, 0.0)
    assert counted(steady, 0.1)
    assert counted(Heard("slurp", 0.1, 0.1, 9.0, None, 1, 0.2), 0.1)


@pytest.mark.parametrize(("share", "probability", "events", "among_others", "alone"), [
    (0.0, 0.08, 0, False, True),  # traces of gulps, none of them whole
    (0.04, 0.04, 1, True, True), (0.01, 0.02, 2, True, True), (0.01, 0.02, 1, False, False),
])
def test_beside_other_sound_a_whole_gulp_must_be_heard(
    share: float, probability: float, events: int, among_others: bool, alone: bool
) -> None:
    silence = load_causes().silence
    gulps = Heard("slurp", share, probability, 9.0, None, events, 0.2)
    for outside_share, clean_s, counts in ((0.1, 36.0, among_others), (0.1, 18.0, alone), (0.0, 36.0, alone)):
        reading = Reading(40.0, clean_s, LEVELS, (), (gulps,), None, outside_share)
        assert (heard_kinds(reading, silence) == ("slurp",)) is counts


@pytest.mark.parametrize(("events", "first"), [(0, "outside noise"), (1, "outside noise"), (3, "siphon over-open")])
def test_a_single_short_gulp_among_other_sound_is_to_be_heard_again(events: int, first: str) -> None:
    gulps = Heard("slurp", 0.04 * events, 0.09, 9.0, None, events, 0.4)
    diagnosis = diagnose_reading(Reading(20.0, 18.0, LEVELS, (), (gulps,), None, 0.1))
    assert diagnosis.causes[0].name == first
    alone = diagnose_reading(Reading(20.0, 20.0, LEVELS, (), (gulps,), None, 0.0))
    assert alone.causes[0].name != "outside noise"
