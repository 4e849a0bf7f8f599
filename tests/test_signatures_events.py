"""Events from probabilities: when they begin and end, and what they say of level and certainty."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tuner.signatures.events import EventTracker
from tuner.signatures.kind import Signature
from tuner.terms import Sound

RULE = Signature("slurp", (), on=0.5, off=0.35, smooth=1, shortest_s=1.0, gap_s=1.0)


def heard(probabilities: list[float], power: float = 1e-4) -> list[Sound]:
    tracker = EventTracker(RULE)
    sounds = [s for i, p in enumerate(probabilities) for s in tracker.push(p, power, i, "slurp")]
    return [*sounds, *tracker.flush("slurp")]


def test_one_event_with_its_times_level_and_confidence() -> None:
    (sound,) = heard([0.0] * 4 + [0.9] * 4 + [0.0] * 6)
    assert (sound.kind, sound.start_s, sound.end_s) == ("slurp", 2.5, 4.5)
    assert sound.level_db == pytest.approx(-40.0)
    assert sound.confidence == pytest.approx(0.9)


def test_a_short_gap_is_bridged_and_a_long_one_is_not() -> None:
    assert len(heard([0.9] * 4 + [0.0] * 2 + [0.9] * 4)) == 1
    assert len(heard([0.9] * 4 + [0.0] * 5 + [0.9] * 4)) == 2


def test_what_is_too_short_is_dropped() -> None:
    long_rule = Signature("slurp", (), smooth=1, shortest_s=3.0)
    tracker = EventTracker(long_rule)
    for i, p in enumerate([0.0, 0.9, 0.9, 0.0]):
        assert tracker.push(p, 1e-4, i, "slurp") == ()
    assert tracker.flush("slurp") == ()


@given(st.lists(st.floats(0, 1), max_size=80))
def test_events_are_ordered_apart_and_long_enough(probabilities: list[float]) -> None:
    sounds = heard(probabilities)
    assert all(s.duration_s >= RULE.shortest_s and 0 <= s.confidence <= 1 for s in sounds)
    assert all(b.start_s > a.end_s - 0.5 for a, b in pairwise(sounds))
    assert all(np.isfinite(s.level_db) for s in sounds)
