from __future__ import annotations

from math import log

import pytest

from tuner.coach.handwork import hands_of
from tuner.coach.questions import LOOKS, expected_gain, log_odds_of, worth_asking
from tuner.coach.rule import PlainRule
from tuner.rig import Pump, Rig, Siphon, Valve
from tuner.terms import CAUSE_NAMES, Cause, CauseName

GATE = hands_of(Rig())


@pytest.mark.parametrize(
    ("cause", "control", "direction"),
    [
        # what mends what, smallest move first: common practice, no source
        ("siphon over-open", "siphon valve", -1),
        ("siphon over-closed", "siphon valve", 1),
        ("vent too closed", "vent tap", 1),
        ("vent too wide", "vent tap", -1),
    ],
)
def test_the_cause_says_which_control_and_which_way(cause: CauseName, control: str, direction: int) -> None:
    proposal = PlainRule(GATE).propose(cause)
    assert proposal is not None
    assert proposal[0].control == control
    assert proposal[1] * direction > 0


def test_a_reversal_halves_the_step() -> None:
    rule = PlainRule(GATE)
    first = rule.propose("siphon over-open")
    assert first is not None
    rule.did("siphon valve", first[1])
    back = rule.propose("siphon over-closed")
    assert back is not None
    assert back[1] == pytest.approx(-first[1] / 2)
    rule.did("siphon valve", back[1])
    third = rule.propose("siphon over-open")
    assert third is not None
    assert third[1] == pytest.approx(first[1] / 4)


def test_turning_to_and_fro_by_the_finest_step_ends_in_a_clear_way_off() -> None:
    rule = PlainRule(GATE)
    finest = GATE[0].finest
    ways = []
    for cause in ("siphon over-open", "siphon over-closed") * 4:
        proposal = rule.propose(cause)  # type: ignore[arg-type]
        assert proposal is not None
        rule.did("siphon valve", proposal[1])
        ways.append(proposal[1])
    off = [i for i, amount in enumerate(ways) if amount == pytest.approx(GATE[0].first) and i > 2]
    assert off  # a closing was due there, by the finest step
    assert abs(ways[off[0] - 1]) == abs(ways[off[0] - 2]) == pytest.approx(finest)


def test_the_emergency_slows_the_pump_first_then_opens_the_siphon() -> None:
    rule = PlainRule(hands_of(Rig(pumps=(Pump(speed_step=0.05),))))
    first = rule.propose("emergency carrying flow")
    assert first is not None
    assert (first[0].control, first[1] < 0) == ("return pump", True)
    rule.did("return pump", first[1])
    second = rule.propose("emergency carrying flow")
    assert second is not None
    assert (second[0].control, second[1] > 0) == ("siphon valve", True)


def test_a_ball_valve_hands_over_to_the_pump_when_it_is_too_coarse() -> None:
    rule = PlainRule(hands_of(Rig(siphon=Siphon(valve=Valve(kind="ball")), pumps=(Pump(speed_step=0.02),))))
    rule.did("siphon valve", -2.0)
    proposal = rule.propose("siphon over-closed")
    assert proposal is not None
    assert (proposal[0].control, proposal[1] < 0) == ("return pump", True)


def test_a_cause_that_no_control_mends_has_no_proposal() -> None:
    assert PlainRule(GATE).propose("pump hum") is None


def causes(*pairs: tuple[CauseName, float]) -> tuple[Cause, ...]:
    return tuple(Cause(name, p, ("because",)) for name, p in pairs)


def test_a_look_is_asked_only_where_it_parts_two_likely_causes() -> None:
    close = causes(("outlet above water", 0.5), ("weir drop", 0.45))
    question = worth_asking(close, frozenset())
    assert question is not None
    assert question.id == "splash-where"
    assert worth_asking(close, frozenset({"splash-where"})) is None
    assert worth_asking(causes(("outlet above water", 0.9), ("weir drop", 0.1)), frozenset()) is None


def test_every_answer_moves_known_causes_and_no_answer_moves_none() -> None:
    for look in LOOKS:
        assert set(look.answers) == set(look.question.choices)
        assert all(set(odds) <= set(CAUSE_NAMES) for odds in look.answers.values())
        assert log_odds_of(look.question.id, None) == {}
    assert log_odds_of("splash-where", "nonsense") is None
    assert log_odds_of("nonsense", None) is None


def test_the_expected_gain_of_a_look_by_hand() -> None:
    # Two even causes and a look that all but parts them: little less than ln 2 = 0.693 nats.
    splash = next(look for look in LOOKS if look.question.id == "splash-where")
    even = causes(("outlet above water", 0.5), ("weir drop", 0.5))
    assert 0.65 < expected_gain(splash, even) < log(2.0)
    # One cause alone leaves nothing to tell, and a look that asks about neither tells nothing.
    assert expected_gain(splash, causes(("weir drop", 1.0))) == pytest.approx(0.0, abs=1e-12)
    dry = next(look for look in LOOKS if look.question.id == "emergency-dry")
    assert expected_gain(dry, even) == pytest.approx(0.0, abs=1e-12)


def test_the_look_that_tells_most_is_asked_first_and_one_that_tells_little_never() -> None:
    torn = causes(("siphon over-open", 0.45), ("siphon over-closed", 0.35), ("outlet above water", 0.2))
    question = worth_asking(torn, frozenset())
    assert question is not None
    assert question.id == "siphon-bubbles"
    assert worth_asking(causes(("vent too wide", 0.5), ("unknown", 0.5)), frozenset()) is None
