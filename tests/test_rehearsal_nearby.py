from __future__ import annotations

import numpy as np
import pytest

from tuner.rehearsal.cases import draw_any, draw_case
from tuner.rehearsal.drives import SPOTS
from tuner.rehearsal.nearby import HOME
from tuner.rehearsal.rehearsal import Rehearsal
from tuner.signatures.holding import hear_holding
from tuner.sound.levels import measure_levels
from tuner.sound.texture import THIRD_CENTRES_HZ
from tuner.terms import PLACES, CauseName, Place

RATE = 16_000
STEADY: tuple[tuple[CauseName, Place], ...] = (
    ("siphon over-closed", "open channel"), ("outlet above water", "sump"), ("weir drop", "overflow box"),
    ("return drawing air", "return"), ("pump drawing air", "pump"),
)


def level_db(samples: np.ndarray) -> float:
    return measure_levels(samples, RATE).laeq_db


def case(cause: CauseName, seed: int = 3) -> Rehearsal:
    return draw_case(cause, seed, sample_rate=RATE)


def test_every_spot_has_a_home() -> None:
    assert set(HOME) == set(SPOTS)
    assert set(HOME.values()) == set(PLACES)


@pytest.mark.parametrize(("cause", "place"), STEADY)
def test_a_held_place_rises_as_the_distance_law_says(cause: CauseName, place: Place) -> None:
    rehearsal = case(cause)
    far_db, near_db = level_db(rehearsal.listen(3.0)), level_db(rehearsal.hold(place, 3.0))
    # From 0.25-1.2 m to some centimetres: 20 lg(d1/d2) is 12 to 29 dB, less what the room adds far away.
    assert 8.0 < near_db - far_db < 32.0
    other: Place = "siphon" if place in ("sump", "pump", "return") else "return"  # far, and nothing comes out there
    assert near_db - level_db(rehearsal.hold(other, 3.0)) > 8.0


def test_a_cup_takes_the_highs() -> None:
    def highs_db(*, cup: bool) -> float:
        thirds = hear_holding("pump", case("pump drawing air").hold("pump", 3.0, cup=cup), RATE).thirds.mean(axis=0)
        return float(10.0 * np.log10(thirds[THIRD_CENTRES_HZ.index(6300)] / thirds[THIRD_CENTRES_HZ.index(1000)]))

    assert highs_db(cup=True) < highs_db(cup=False) - 4.0


def test_the_same_seed_holds_in_the_same_way_and_no_two_holdings_are_alike() -> None:
    one, other = case("weir drop"), case("weir drop")
    first = one.hold("overflow box", 2.0)
    assert first.shape == (2 * RATE,)
    assert np.array_equal(first, other.hold("overflow box", 2.0))
    assert not np.array_equal(first, one.hold("overflow box", 2.0))


def test_carrying_takes_time_and_the_water_runs_on() -> None:
    rehearsal = case("weir drop")
    before = rehearsal.plant.steps
    rehearsal.hold("sump", 3.0)
    assert 5.0 <= (rehearsal.plant.steps - before) / 20 <= 9.5  # the way takes 2 to 6 s
    assert len(rehearsal.drives["weir splash"]) == 60


def test_household_sound_is_weaker_inside_the_cabinet() -> None:
    noise = np.random.default_rng(5).standard_normal(5 * RATE).astype(np.float32)
    rehearsal = draw_case(None, 4, sample_rate=RATE, household=noise, household_db=60.0)
    assert rehearsal.cabinet.doors_db < -1.0
    assert level_db(rehearsal.hold("return", 3.0)) > level_db(rehearsal.hold("sump", 3.0)) + 1.0


def test_any_draw_has_a_cause() -> None:
    assert len({draw_any(seed, sample_rate=RATE).truth.cause for seed in range(6)}) > 1
