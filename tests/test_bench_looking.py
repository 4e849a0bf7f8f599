from __future__ import annotations

import numpy as np

from tests.bench.looking import Eyes, Sight, sight_of
from tuner.coach.questions import FIND_EDGES, LOOKS
from tuner.coach.surface import AT_NOISE, IN_SILENCE
from tuner.rehearsal.cases import draw_case

STEP_S = 0.1


def sight(level_m: np.ndarray) -> Sight:
    return Sight(level_m, STEP_S, 0.027, -0.1, emergency=False, siphon_bubbles="none")


def mostly(question: object, level_m: np.ndarray) -> str | None:
    """What most of thirty keepers answer."""
    told = [Eyes(seed).answer(question, sight(level_m)) for seed in range(30)]  # type: ignore[arg-type]
    return max(set(told), key=told.count)


def test_eyes_grade_a_steady_level_by_the_elbow() -> None:
    graded = [mostly(IN_SILENCE, np.full(2000, m)) for m in (-0.08, -0.02, 0.003, 0.010, 0.020)]
    assert graded == list(IN_SILENCE.choices[1:])
    assert mostly(AT_NOISE, np.full(2000, 0.06)) == AT_NOISE.choices[4]


def test_eyes_see_what_swings_and_look_through_waves() -> None:
    t = np.arange(2000) * STEP_S
    assert mostly(AT_NOISE, -0.05 + 0.01 * np.sin(t / 5)) == AT_NOISE.choices[0]
    assert mostly(AT_NOISE, -0.01 + 0.03 * np.sin(t / 5)) == AT_NOISE.choices[1]
    assert mostly(IN_SILENCE, -0.02 - 0.0005 * t) == IN_SILENCE.choices[0]
    waves = np.full(2000, 0.010) + 0.01 * np.sign(np.sin(t * 40))
    assert mostly(IN_SILENCE, waves) == IN_SILENCE.choices[4]


def test_keepers_err_now_and_then_and_the_same_one_in_the_same_way() -> None:
    level = np.full(2000, 0.010)
    told = {Eyes(seed).answer(IN_SILENCE, sight(level)) for seed in range(200)}
    assert len(told) > 1
    assert Eyes(3).answer(IN_SILENCE, sight(level)) == Eyes(3).answer(IN_SILENCE, sight(level))


def test_no_look_answers_what_asks_for_leave() -> None:
    assert Eyes(1).answer(FIND_EDGES, sight(np.zeros(2000))) is None


def test_every_look_finds_its_answer_at_a_rehearsal() -> None:
    seen = sight_of(draw_case("siphon over-open", 30, sample_rate=16000))
    eyes = Eyes(2)
    for question in (AT_NOISE, IN_SILENCE, *(look.question for look in LOOKS)):
        assert eyes.answer(question, seen) in question.choices
    assert seen.siphon_bubbles == "in surges"
    assert seen.splash in LOOKS[2].question.choices
