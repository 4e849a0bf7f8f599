"""Trees of questions: nested lists that can be read, and the same answer for one look and for many."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tuner.signatures.trees import Tree, trees_from

LABELS, FEATURES = ("gurgle", "hiss", "hum"), ("tilt", "pitch", "slope")
numbers = st.floats(-3.0, 3.0).map(lambda x: round(x, 3))
trees = st.recursive(
    numbers, lambda inner: st.tuples(st.sampled_from(FEATURES), numbers, inner, inner).map(list), max_leaves=8
)


def answer(tree: Tree, look: np.ndarray) -> float:
    """Follow one tree question by question, as a reader would."""
    if not isinstance(tree, list):
        return float(tree)
    name, threshold, below, above = tree
    return answer(below if look[FEATURES.index(name)] <= threshold else above, look)


@settings(max_examples=60)
@given(st.lists(trees, max_size=4), st.lists(trees, max_size=3), st.integers(0, 1000))
def test_each_label_adds_what_its_own_trees_answer(some: list[Tree], others: list[Tree], seed: int) -> None:
    laid = trees_from({"gurgle": some, "hum": others}, LABELS, FEATURES)
    looks = np.random.default_rng(seed).normal(size=(5, 3))
    wanted = [[sum(answer(t, x) for t in some), 0.0, sum(answer(t, x) for t in others)] for x in looks]
    assert laid.log_odds(looks) == pytest.approx(np.array(wanted), abs=1e-9)


@settings(max_examples=30)
@given(st.lists(trees, max_size=4))
def test_nested_lists_come_back_as_they_were(some: list[Tree]) -> None:
    assert trees_from({"hiss": some}, LABELS, FEATURES).nested() == {"gurgle": [], "hiss": some, "hum": []}


def test_many_looks_at_once_are_each_look_alone() -> None:
    laid = trees_from({"hiss": [["tilt", 0.0, -1.0, ["slope", 0.5, 0.1, 0.7]], 0.25]}, LABELS, FEATURES)
    looks = np.random.default_rng(4).normal(size=(700, 3))
    alone = np.stack([laid.log_odds(look) for look in looks])
    assert np.array_equal(laid.log_odds(looks), alone)
    assert np.array_equal(laid.log_odds(looks.reshape(7, 100, 3)), alone.reshape(7, 100, 3))


def test_at_the_threshold_the_answer_is_the_lower_one() -> None:
    laid = trees_from({"hum": [["pitch", 1.0, -1.0, 1.0]]}, LABELS, FEATURES)
    assert laid.log_odds(np.array([[0.0, 1.0, 0.0], [0.0, 1.001, 0.0]]))[:, 2].tolist() == [-1.0, 1.0]


def test_a_tree_names_what_it_asks_about() -> None:
    laid = trees_from({"hum": [["pitch", 1.0, -1.0, ["tilt", 0.0, 0.0, 1.0]]]}, LABELS, FEATURES)
    assert laid.used("hum") == {"pitch", "tilt"}
    assert laid.used("hiss") == frozenset()


def test_a_question_about_nothing_known_is_refused() -> None:
    with pytest.raises(ValueError, match="not in tuple"):
        trees_from({"hum": [["colour", 1.0, -1.0, 1.0]]}, LABELS, FEATURES)
