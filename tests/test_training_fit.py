"""Fitting: the second layer sees what the stream sees, sets are decided by evidence, and a fit repeats itself."""

from __future__ import annotations

import numpy as np
import pytest

import tuner.training.fit as training
from tuner.signatures.ears import FEATURE_NAMES
from tuner.signatures.model import opinions_of
from tuner.terms import SOUND_KINDS
from tuner.training.examples import Examples
from tuner.training.fit import (
    ELSEWHERE_WEIGHT,
    PLAIN_WEIGHT,
    decide,
    fit,
    knots_of,
    opinions_on,
    predict,
    spans_of,
    truth_of,
    weight_of,
)
from tuner.training.scenes import FIRST_ELSEWHERE_SEED, FIRST_REPORT_SEED, LABELS
from tuner.training.scores import calibration_error, scores

FEW = 30


@pytest.fixture(autouse=True)
def _few_trees(monkeypatch: pytest.MonkeyPatch) -> None:
    """Trees that each do more: what is planted is plain."""
    monkeypatch.setitem(training._BOOSTING, "learning_rate", 0.3)
    monkeypatch.setitem(training._BOOSTING, "feature_fraction", 1.0)


def planted(seed: int, scenes: int = 60, looks: int = 16) -> Examples:
    """Each label is audible where a feature of its own is high, scene by scene; of the last only a set is known."""
    rng = np.random.default_rng(seed)
    on = rng.random((scenes, len(LABELS))) < 0.3
    scene = np.repeat(np.arange(scenes), looks)
    features = rng.normal(size=(scenes * looks, len(FEATURE_NAMES)))
    features[:, 12 : 12 + len(LABELS)] += 4.0 * on[scene]
    # a gate of the hum must be open for it to count
    features[:, FEATURE_NAMES.index("line share")] = 0.0
    over = np.where(on[scene], 10.0, -99.0)
    any_of = np.zeros(over.shape, dtype=bool)
    last = scene >= scenes - 6
    pair = [SOUND_KINDS.index("gurgle"), SOUND_KINDS.index("trickle")]
    known = on[scene][:, pair].any(axis=1) & last
    over[np.ix_(last, pair)] = np.nan
    any_of[np.ix_(known, pair)] = True
    return Examples(features, over, any_of, scene)


def test_spans_are_what_the_stream_has_about_each_look() -> None:
    rng = np.random.default_rng(0)
    opinions, scene = rng.normal(size=(60, 3)), np.repeat([7, 3], [25, 35])
    got = spans_of(opinions, scene)
    for at, first, end in ((0, 0, 25), (23, 0, 25), (25, 25, 60), (50, 25, 60), (59, 25, 60)):
        assert got[at] == pytest.approx(opinions_of(opinions[first:end], at - first))


def test_of_a_set_the_likeliest_is_taken_and_the_others_stay_open() -> None:
    truth = np.array([[-1, -1, 0]], dtype=np.int8)
    decided = decide(truth, np.array([[True, True, False]]), np.array([[-2.0, -1.0, 5.0]]))
    assert decided.tolist() == [[-1, 1, 0]]


def test_what_lies_between_audible_and_absent_is_unknown() -> None:
    over = np.array([[-99.0, -3.0, 1.0, np.nan]])
    known = truth_of(Examples(np.zeros((1, 1)), over, np.zeros((1, 4), dtype=bool), np.zeros(1)))
    assert known.tolist() == [[0, -1, 1, -1]]


def test_water_is_heard_where_one_of_its_kinds_is_and_is_not_where_none_of_them_is() -> None:
    truth = np.zeros((5, len(LABELS)), dtype=np.int8)
    any_of = np.zeros(truth.shape, dtype=bool)
    truth[0, LABELS.index("trickle")] = 1
    truth[1, LABELS.index("hum")] = truth[1, LABELS.index("outside")] = 1
    truth[2, [LABELS.index("splash"), LABELS.index("roar")]] = -1
    truth[3], any_of[3] = truth[2], truth[2] == -1
    truth[4, LABELS.index("gurgle")], truth[4, LABELS.index("roar")] = 1, -1
    known, sets = opinions_on(truth, any_of)
    assert known[:, -1].tolist() == [1, 0, -1, 1, 1]
    assert np.array_equal(known[:, :-1], truth)
    assert np.array_equal(sets[:, :-1], any_of)
    assert not sets[:, -1].any()


def test_rows_count_by_where_their_scene_comes_from() -> None:
    scene = np.array([-3, FIRST_ELSEWHERE_SEED - 1, FIRST_ELSEWHERE_SEED, FIRST_REPORT_SEED])
    assert weight_of(scene).tolist() == [PLAIN_WEIGHT, 1.0, ELSEWHERE_WEIGHT, 1.0]


def test_knots_rise_even_where_a_feature_never_changes() -> None:
    assert np.all(np.diff(knots_of(np.zeros((50, 2))), axis=1) > 0)


def test_a_fit_finds_what_was_planted_and_repeats_itself() -> None:
    model = fit(planted(1), FEW)
    apart = planted(2)
    assert scores(model, apart)["all sounds"]["f1"] > 0.9
    assert calibration_error(model, apart) < 0.05
    again = fit(planted(1), FEW)
    assert np.array_equal(model.first.steps, again.first.steps)
    assert model.first_trees.nested() == again.first_trees.nested()
    assert model.second_trees.nested() == again.second_trees.nested()
    assert np.array_equal(model.second.steps, again.second.steps)


def test_trees_find_what_no_number_tells_alone() -> None:
    """Outside noise where one of two numbers is high, but not where both are: a sum of curves cannot say that."""
    def with_a_pair(given: Examples, seed: int) -> tuple[Examples, np.ndarray, np.ndarray]:
        features, over = given.features.copy(), given.over_db.copy()
        pair = [FEATURE_NAMES.index("tilt"), FEATURE_NAMES.index("centroid")]
        features[:, pair] = np.random.default_rng(seed).normal(size=(len(features), 2))
        high = features[:, pair] > 0.8
        over[:, -1] = np.where(high.sum(axis=1) == 1, 10.0, -99.0)
        features[:, 12 + LABELS.index("outside")] = 0.0
        return Examples(features, over, given.any_of, given.scene), high.sum(axis=1) == 1, high.all(axis=1)

    model = fit(with_a_pair(planted(1, scenes=150), 7)[0], FEW)
    other, truth, both = with_a_pair(planted(2, scenes=150), 8)
    outside = LABELS.index("outside")
    by_curves = model.first.log_odds(other.features)[:, outside] > 0
    by_all = model.opinions(other.features)[:, outside] > 0
    assert np.mean(by_curves[both] == truth[both]) < 0.3
    assert np.mean(by_all[both] == truth[both]) > 0.9
    assert np.mean(by_all == truth) > 0.95


def test_without_trees_curves_stand_alone() -> None:
    examples = planted(1, scenes=24)
    model = fit(examples, 0)
    assert model.first_trees.roots.size == 0
    assert np.array_equal(model.opinions(examples.features), np.clip(model.first.log_odds(examples.features), -12, 12))


def test_prediction_in_bulk_is_the_stream() -> None:
    examples = planted(3, scenes=20)
    model = fit(planted(1, scenes=24), FEW)
    rows = examples.scene == 4
    bulk = predict(model, examples.features, examples.scene)[rows]
    order = [FEATURE_NAMES.index(n) for n in model.features]
    streamed = model.course(examples.features[rows][:, order])
    gate_open = [i for i, label in enumerate(LABELS) if label != "hum"]
    assert bulk[:, gate_open] == pytest.approx(streamed[:, gate_open])
