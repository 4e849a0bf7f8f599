"""Coarse ears: what they make of sounds wavers, what is quiet stays quiet, and pauses are heard as they are."""

from __future__ import annotations

import numpy as np
import pytest

from tests.bench.coarse_ears import CoarseEars
from tests.bench.perfect_ears import Active
from tuner.causes.facts import presence
from tuner.signatures.reading import PAUSES
from tuner.terms import Reading, SoundKind

STEP_S, SECONDS = 0.1, 20.0
N = round(SECONDS / STEP_S)


def heard(seed: int, kind: SoundKind, active: Active, over_db: float = 20.0) -> Reading:
    return CoarseEars(seed).reading({kind: (active, over_db)}, STEP_S, SECONDS, -40.0)


def gulps() -> Active:
    """Two seconds in ten."""
    return np.asarray(np.arange(N) % 100 < 20)


@pytest.mark.parametrize("seed", range(5))
def test_the_same_installation_is_heard_the_same_way_and_others_otherwise(seed: int) -> None:
    assert heard(seed, "slurp", gulps()) == heard(seed, "slurp", gulps())
    assert heard(seed, "slurp", gulps()) != heard(seed + 1, "slurp", gulps())


def test_gulps_are_taken_for_other_sounds_on_most_installations_and_rest_on_all() -> None:
    readings = [heard(seed, "slurp", gulps()) for seed in range(20)]
    assert sum(presence(r, "gurgle") > 0.05 for r in readings) >= 10
    assert all(presence(r, "slurp") > 0.0 for r in readings)
    assert all(r.features[PAUSES] >= 0.6 for r in readings)


def test_a_gurgle_is_heard_on_all_installations_and_never_rests() -> None:
    readings = [heard(seed, "gurgle", np.ones(N, dtype=bool)) for seed in range(20)]
    assert all(presence(r, "gurgle") > 0.1 for r in readings)
    assert all(r.features.get(PAUSES, 0.0) < 0.3 for r in readings)


def test_silence_is_heard_as_silence() -> None:
    reading = CoarseEars(1).reading({}, STEP_S, SECONDS, -60.0)
    assert reading.heard == ()
    assert reading.levels.la90_db == reading.levels.laeq_db == -60.0
