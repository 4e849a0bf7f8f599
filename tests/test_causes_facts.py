"""Facts: bouts that return are told from those that a household adds by chance."""

from __future__ import annotations

from itertools import pairwise
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tuner.causes import diagnose_reading, facts_of
from tuner.causes.facts import ALIKE_DB, returning_bouts
from tuner.terms import Heard, Levels, Reading, Sound

LEVELS = Levels(-40.0, -38.0, -41.0, -43.0, -35.0, (1000.0,), (-45.0,))


def gulping(levels_db: list[float], *, listed: bool = True, outside_share: float = 0.1) -> Reading:
    heard = Heard("slurp", 0.1, 0.1, 9.0, None, len(levels_db), 0.4)
    sounds = tuple(Sound("slurp", 12.0 * i, 12.0 * i + 2.0, level, 0.6) for i, level in enumerate(levels_db))
    return Reading(60.0, 54.0, LEVELS, sounds if listed else (), (heard,), None, outside_share)


@pytest.mark.parametrize(("levels_db", "count"), [
    ([], 0), ([-50.0], 0), ([-50.0, -47.0], 2), ([-50.0, -32.0], 0), ([-50.0, -32.0, -51.0], 2),
    ([-50.0, -47.0, -44.0], 3),
])
def test_a_bout_returns_when_another_is_as_loud(levels_db: list[float], count: int) -> None:
    assert returning_bouts(gulping(levels_db), "slurp") == count
    assert returning_bouts(gulping(levels_db), "flush") == 0
    assert facts_of(gulping(levels_db), rig=None, last_move=None)["bouts"] == count


def test_bouts_that_are_not_listed_are_taken_for_alike() -> None:
    assert returning_bouts(gulping([-50.0, -20.0], listed=False), "slurp") == 2


@given(st.lists(st.floats(-90.0, -10.0), max_size=8), st.randoms())
def test_the_order_of_bouts_and_a_gain_change_nothing(levels_db: list[float], random: Random) -> None:
    shuffled = [level + 40.0 for level in levels_db]
    random.shuffle(shuffled)
    count = returning_bouts(gulping(levels_db), "slurp")
    assert 0 <= count <= len(levels_db)
    assert count != 1
    apart = sorted(levels_db)
    gaps = [b - a for a, b in pairwise(apart)]
    if all(abs(gap - ALIKE_DB) > 1e-6 for gap in gaps):
        assert returning_bouts(gulping(shuffled), "slurp") == count


@pytest.mark.parametrize(
    ("levels_db", "first"), [([-50.0, -49.0], "siphon over-open"), ([-50.0, -30.0], "outside noise")],
)
def test_among_other_sound_only_gulps_that_are_alike_name_the_siphon(levels_db: list[float], first: str) -> None:
    assert diagnose_reading(gulping(levels_db)).causes[0].name == first


@pytest.mark.parametrize("levels_db", [[], [-50.0], [-50.0, -30.0]])
def test_who_takes_reading_after_reading_hears_of_every_bout(levels_db: list[float]) -> None:
    diagnosis = diagnose_reading(gulping(levels_db), in_a_row=True)
    assert not diagnosis.silent
    assert diagnosis.causes[0].name == "siphon over-open"


def test_alone_any_two_gulps_name_it() -> None:
    assert diagnose_reading(gulping([-50.0, -30.0], outside_share=0.0)).causes[0].name == "siphon over-open"
