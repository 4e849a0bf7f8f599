from __future__ import annotations

import numpy as np

from tuner.terms import Block, Question, Step
from tuner.verbs.handsfree import ASSUMED, MOST_ASSUMED, MOVE_PATIENCE_S, WAITS, HandsFreeKeeper
from tuner.verbs.keeper import Did, Looked, ScreenKeeper

RATE = 16_000
STEP = Step("siphon valve", 0.125, "turn", 60.0, "it gurgles")


def hear(keeper: HandsFreeKeeper, seconds: float, phase: str, level: float, seed: int) -> float | None:
    """Feed noise in tenths; return after how many seconds there was an answer while asked."""
    rng = np.random.default_rng(seed)
    for tenth in range(round(10 * seconds)):
        samples = (level * rng.standard_normal(RATE // 10)).astype(np.float32)
        keeper.hear(Block(samples, RATE, 0), phase)  # type: ignore[arg-type]
        if phase == "move" and keeper.answer() is not None:
            return tenth / 10
    return None


def asked(step: Step = STEP) -> tuple[HandsFreeKeeper, ScreenKeeper]:
    inner = ScreenKeeper()
    keeper = HandsFreeKeeper(inner, RATE)
    hear(keeper, 20.0, "listening", 0.01, 1)
    keeper.ask(step)
    return keeper, inner


def test_a_change_of_the_sound_is_the_answer() -> None:
    keeper, _ = asked()
    assert hear(keeper, 8.0, "move", 0.01, 2) is None
    found = hear(keeper, 20.0, "move", 0.005, 3)
    assert found is not None
    assert found < 15.0


def test_keys_answer_before_that() -> None:
    keeper, inner = asked()
    inner.press("plus", "1/4")
    assert keeper.answer() == Did(0.25)
    assert keeper.complaint == ""


def test_what_cannot_be_heard_is_assumed_but_not_for_ever() -> None:
    keeper, _ = asked()
    for number in range(MOST_ASSUMED):
        found = hear(keeper, MOVE_PATIENCE_S + 1.0, "move", 0.01, 10 + number)
        assert found is not None
        assert found > MOVE_PATIENCE_S - 1.0
        assert keeper.complaint == ASSUMED
        hear(keeper, 20.0, "listening", 0.01, 20 + number)
        keeper.ask(STEP)
    assert hear(keeper, MOVE_PATIENCE_S + 5.0, "move", 0.01, 30) is None
    assert keeper.complaint == WAITS
    assert hear(keeper, 20.0, "move", 0.005, 31) is not None


def test_questions_are_left_open() -> None:
    keeper, _ = asked()
    keeper.ask(Question("bubbles", "Do bubbles come?", ("none", "in surges")))
    assert keeper.answer() == Looked(None)


def test_pause_and_quit_come_from_the_keys() -> None:
    keeper, inner = asked()
    inner.press("p", "")
    inner.press("q", "")
    assert keeper.is_paused
    assert keeper.has_quit
