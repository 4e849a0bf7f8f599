from __future__ import annotations

import io
import threading

import pytest

from tuner.errors import ConfigError
from tuner.terms import Question, Step
from tuner.verbs.keeper import BestAgain, Did, LineKeeper, Looked, Note, ObedientKeeper, ScreenKeeper, Undo, answer_of

GATE = Step("siphon valve", -0.125, "turn", 20.0, "it gulps air")
BALL = Step("siphon valve", 2.0, "degree", 20.0, "it gurgles")
PUMP = Step("return pump", -5.0, "percent", 20.0, "it roars")
JOB = Step("return pump", 0.0, "percent", 60.0, "clean the impeller")
LOOK = Question("bubbles", "Do bubbles come?", ("none", "in surges", "all the time"))


@pytest.mark.parametrize(("typed", "step", "did"), [
    ("", GATE, None), ("done", GATE, None), ("s", GATE, 0.0), ("0", GATE, 0.0),
    ("1/4", GATE, -0.25), ("1 1/4 turns", GATE, -1.25), ("-1/16", GATE, -0.0625), ("+1/4", GATE, 0.25),
    ("4", BALL, 4.0), ("3 degrees", BALL, 3.0), ("-2", BALL, -2.0),
    ("10", PUMP, -10.0), ("10 %", PUMP, -10.0), ("+2.5%", PUMP, 2.5), ("", JOB, None), ("s", JOB, 0.0),
])
def test_what_is_typed_becomes_what_was_done(typed: str, step: Step, did: float | None) -> None:
    answer = answer_of(typed, step)
    assert isinstance(answer, Did)
    assert answer.amount == (pytest.approx(did) if did is not None else None)


@pytest.mark.parametrize(("typed", "step", "says"), [
    ("much", GATE, "answer='much' must be"), ("2 mm", GATE, "unit 'mm'"), ("1/0", GATE, "divide by zero"),
    ("1/4", JOB, "must be Enter"),
])
def test_what_is_no_answer_is_refused(typed: str, step: Step, says: str) -> None:
    with pytest.raises(ConfigError, match=says):
        answer_of(typed, step)


@pytest.mark.parametrize(("typed", "answer"), [("2", "in surges"), ("In Surges", "in surges"), ("", None), ("?", None)])
def test_a_question_is_answered_by_number_word_or_not(typed: str, answer: str | None) -> None:
    assert answer_of(typed, LOOK) == Looked(answer)


def test_a_wrong_choice_is_refused_with_the_choices() -> None:
    with pytest.raises(ConfigError, match=r"must be one of 1 \(none\), 2 \(in surges\), 3"):
        answer_of("9", LOOK)


def test_keys_of_the_screen_make_an_answer() -> None:
    keeper = ScreenKeeper()
    keeper.ask(GATE)
    assert keeper.answer() is None
    assert keeper.press("plus", "1/4") == ""
    assert keeper.answer() == Did(-0.25)
    for key, did in (("enter", Did(None)), ("x", Did(0.0))):
        keeper.ask(GATE)
        keeper.press(key, "")
        assert keeper.answer() == did
    keeper.ask(LOOK)
    keeper.press("3", "")
    assert keeper.answer() == Looked("all the time")


def test_a_wrong_amount_is_complained_about_and_can_be_given_again() -> None:
    keeper = ScreenKeeper()
    keeper.ask(GATE)
    assert "unit 'x'" in keeper.press("plus", "1x")
    assert keeper.answer() is None
    keeper.press("enter", "")
    assert keeper.answer() == Did(None)


def test_keys_before_anything_was_asked_are_no_answer() -> None:
    keeper = ScreenKeeper()
    assert keeper.press("enter", "") == ""
    keeper.ask(GATE)
    assert keeper.answer() is None


def test_wishes_beside_an_answer() -> None:
    keeper = ScreenKeeper()
    left: list[bool] = []
    keeper.on_quit = lambda: left.append(True)
    keeper.press("u", "")
    keeper.press("g", "")
    keeper.press("n", " the cat slept ")
    keeper.press("n", "  ")
    assert [keeper.wish() for _ in range(4)] == [Undo(), BestAgain(), Note("the cat slept"), None]
    keeper.press("p", "")
    assert keeper.is_paused
    keeper.press("p", "")
    assert not keeper.is_paused
    keeper.press("q", "")
    assert keeper.has_quit
    assert left == [True]


def test_an_obeying_screen_answers_after_a_while_but_not_while_paused() -> None:
    keeper = ScreenKeeper(obeys_after=2)
    keeper.ask(GATE)
    keeper.press("p", "")
    assert [keeper.answer() for _ in range(4)] == [None] * 4
    keeper.press("p", "")
    assert keeper.answer() == Did(None)
    keeper.ask(LOOK)
    assert [keeper.answer() for _ in range(3)] == [None, None, Looked(None)]


def wait_for_answers() -> None:
    for thread in threading.enumerate():
        if thread.name == "answers":
            thread.join()


def test_lines_sent_ahead_answer_one_question_each() -> None:
    keeper = LineKeeper(io.StringIO("\n1/4\nnonsense\n2\n"))
    wait_for_answers()
    keeper.ask(GATE)
    assert keeper.answer() == Did(None)
    keeper.ask(GATE)
    assert keeper.answer() == Did(-0.25)
    keeper.ask(LOOK)
    assert keeper.answer() is None
    assert "must be one of" in keeper.complaint
    assert keeper.answer() == Looked("in surges")
    assert not keeper.has_quit
    assert keeper.answer() is None
    assert keeper.has_quit


def test_lines_can_take_back_and_note() -> None:
    keeper = LineKeeper(io.StringIO("undo\nbest\nnote the cat slept\n\n"))
    wait_for_answers()
    keeper.ask(GATE)
    assert [keeper.answer() for _ in range(4)] == [None, None, None, Did(None)]
    assert [keeper.wish() for _ in range(4)] == [Undo(), BestAgain(), Note("the cat slept"), None]


def test_the_obedient_keeper_does_all_and_sees_nothing() -> None:
    keeper = ObedientKeeper()
    assert keeper.ask(GATE) == ""
    assert keeper.answer() == Did(None)
    keeper.ask(LOOK)
    assert keeper.answer() == Looked(None)
