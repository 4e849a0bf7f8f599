"""The immediate guide on made-up seconds: better, worse, no change, and when to stop."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tuner.coach.guide import Advice, Guide
from tuner.terms import Heard, Levels, Reading, SoundKind, Step

LEVELS = Levels(50.0, 52.0, 49.0, 45.0, 55.0, (), ())
STEP = Step("siphon valve", 0.125, "turn", 60.0, "it gurgles")
GURGLING = Reading(20.0, 20.0, LEVELS, (), (Heard("gurgle", 1.0, 0.9, 15.0),), 15.0, 0.0)
GULPING = replace(GURGLING, heard=(Heard("slurp", 0.4, 0.5, 15.0, period_s=10.0),))


def follow(before: Reading, level_db: float, heard: dict[SoundKind, float], seconds: float) -> Advice:
    guide = Guide(before, STEP)
    advice = guide.hear(0.0, level_db, heard)
    for half in range(1, round(2 * seconds) + 1):
        advice = guide.hear(half / 2, level_db, heard)
    return advice


def test_at_first_it_listens() -> None:
    assert follow(GURGLING, 50.0, {"gurgle": 0.9}, 1.0).trend == "listening"


def test_the_same_sound_is_no_change() -> None:
    advice = follow(GURGLING, 50.5, {"gurgle": 0.9}, 5.0)
    assert (advice.trend, advice.stop) == ("no change", False)
    assert "1/8 turn" in advice.words
    assert advice.change_db == pytest.approx(0.5)


@pytest.mark.parametrize(("level_db", "share"), [(47.0, 0.9), (50.0, 0.3)])
def test_quieter_or_weaker_is_better(level_db: float, share: float) -> None:
    advice = follow(GURGLING, level_db, {"gurgle": share}, 5.0)
    assert (advice.trend, advice.stop) == ("better", False)
    assert "a little more" in advice.words


def test_a_steady_sound_that_is_gone_says_stop() -> None:
    advice = follow(GURGLING, 36.0, {"gurgle": 0.02}, 6.0)
    assert (advice.trend, advice.stop) == ("better", True)


def test_gulps_must_stay_away_for_longer_than_their_period() -> None:
    early = follow(GULPING, 40.0, {"slurp": 0.02}, 10.0)
    assert not early.stop
    assert "may come back" in early.words
    assert follow(GULPING, 40.0, {"slurp": 0.02}, 18.0).stop


@pytest.mark.parametrize(("level_db", "heard"), [(54.0, {"gurgle": 0.9}), (50.0, {"gurgle": 0.9, "roar": 0.9})])
def test_louder_or_a_new_noise_says_stop(level_db: float, heard: dict[SoundKind, float]) -> None:
    advice = follow(GURGLING, level_db, heard, 5.0)
    assert (advice.trend, advice.stop) == ("worse", True)
