from __future__ import annotations

from tuner.coach.leading import leading_cause
from tuner.terms import Cause, CauseName


def causes(**given: float) -> tuple[Cause, ...]:
    names: dict[str, CauseName] = {
        "open": "siphon over-open", "closed": "siphon over-closed", "wide": "vent too wide", "hum": "pump hum",
        "unknown": "unknown", "outside": "outside noise",
    }
    return tuple(Cause(names[k], p, ("heard",)) for k, p in sorted(given.items(), key=lambda item: -item[1]))


def test_the_best_cause_leads() -> None:
    assert leading_cause(causes(open=0.7, wide=0.2), (), {}).name == "siphon over-open"


def test_an_instruction_that_was_given_gives_way_to_the_next() -> None:
    both = causes(hum=0.6, open=0.3)
    assert leading_cause(both, (), {}).name == "pump hum"
    assert leading_cause(both, {"pump hum"}, {}).name == "siphon over-open"


def test_nothing_is_turned_for_an_unlikely_cause_behind_another_unless_the_belief_speaks_for_it() -> None:
    both = causes(hum=0.8, open=0.1)
    assert leading_cause(both, {"pump hum"}, {}).name == "pump hum"
    assert leading_cause(both, {"pump hum"}, {"siphon over-open": 0.7}).name == "siphon over-open"
    # the belief has a say on the siphon's valve only
    assert leading_cause(causes(hum=0.8, wide=0.1), {"pump hum"}, {"vent too wide": 0.9}).name == "pump hum"


def test_behind_an_unknown_the_likeliest_cause_leads_if_there_is_one() -> None:
    assert leading_cause(causes(unknown=0.6, closed=0.3), (), {}).name == "siphon over-closed"
    assert leading_cause(causes(unknown=0.95, closed=0.02), (), {}).name == "unknown"
    assert leading_cause(causes(outside=0.95, unknown=0.05), (), {}).name == "outside noise"
