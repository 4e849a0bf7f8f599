"""The signature model: curves and trees that can be read, a file that round-trips, and clear refusals."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tuner.errors import ConfigError
from tuner.signatures.catalogue import SIGNATURES
from tuner.signatures.ears import FEATURE_NAMES
from tuner.signatures.model import (
    AHEAD,
    Curves,
    Judge,
    SignatureModel,
    basis,
    load_model,
    model_from_table,
    model_table,
    model_text,
    opinion_names,
    opinions_of,
    stated_recall,
)
from tuner.signatures.trees import trees_from
from tuner.terms import SOUND_KINDS

ROUNDING = 5e-3  # a file keeps four digits of each curve


def layer() -> Curves:
    return Curves(
        ("gurgle", "hiss"), ("tilt", "pitch"), np.array([[0.0, 1.0, 2.0], [0.0, 0.5, 1.0]]),
        np.array([[[2.0, -1.0], [0.0, 0.0]], [[0.0, 0.0], [1.0, 3.0]]]), np.array([-1.0, 0.5]),
    )


LABELS = ("gurgle", "hiss")
TREES = trees_from({"hiss": [["pitch", 5.0, 0.0, ["tilt", 0.5, 0.25, -2.0]]]}, LABELS, ("tilt", "pitch"))
LATER = trees_from({"hiss": [["gurgle peak ahead", 2.0, 0.0, -3.0]]}, LABELS, opinion_names(LABELS))


def small() -> SignatureModel:
    """The second layer trusts the ten-second mean of a kind's own opinion; a plain gurgle soon after is no hiss."""
    names = opinion_names(LABELS)
    steps = np.zeros((2, len(names), 1))
    for i, label in enumerate(LABELS):
        steps[i, names.index(f"{label} 10 s"), 0] = 8.0
    knots = np.tile([-4.0, 4.0], (len(names), 1))
    return SignatureModel(layer(), TREES, Curves(LABELS, names, knots, steps, np.full(2, -4.0)), LATER)


def judged(judge: Judge, looks: list[np.ndarray]) -> list[np.ndarray]:
    """What a judge says of looks, all of which it is given, to the end."""
    return [*(said for look in looks for said in judge.push(look)), *judge.flush()]


def test_a_curve_by_hand() -> None:
    """tilt = 1.5 climbs the first interval wholly and half of the second: -1 + 2 - 0.5 = 0.5."""
    assert layer().log_odds(np.array([1.5, 0.0])) == pytest.approx([0.5, 0.5])


def test_the_second_layer_by_hand() -> None:
    """Opinions of 0.5 for both: 0.5 lies 4.5/8 up its curve, so the log-odds are -4 + 4.5 = 0.5 again."""
    expected = 1 / (1 + np.exp(-0.5))
    assert judged(Judge(small()), [np.array([1.5, 0.0])])[0] == pytest.approx([expected, expected])


def test_what_follows_a_look_counts_by_hand() -> None:
    """A gurgle of 2.5 in the next look: the second layer's tree takes 3 off a hiss of 0.5, and leaves the gurgle."""
    loud = SignatureModel(replace(layer(), bias=np.array([1.0, 0.5])), TREES, small().second, LATER)
    first, _ = judged(Judge(loud), [np.array([0.5, 0.0]), np.array([1.5, 0.0])])
    assert loud.opinions(np.array([1.5, 0.0])) == pytest.approx([2.5, 0.5])
    assert np.log(first / (1 - first)) == pytest.approx([2.0, 0.5 - 3.0])


def test_a_look_is_judged_when_the_looks_after_it_are_there() -> None:
    judge, look = Judge(small()), np.array([1.0, 0.0])
    assert [len(judge.push(look)) for _ in range(AHEAD + 3)] == [0] * AHEAD + [1] * 3
    assert len(judge.so_far()) == AHEAD
    assert len(judge.flush()) == AHEAD
    assert judge.flush() == ()


def test_so_far_is_what_the_end_would_say_and_a_glance_one_look_more() -> None:
    judge = Judge(small())
    looks = list(np.random.default_rng(2).normal(1.0, 1.0, (7, 2)))
    for look in looks[:-1]:
        judge.push(look)
    glance = judge.glance(looks[-1])
    judge.push(looks[-1])
    waiting = judge.so_far()
    assert np.array_equal(glance, waiting[-1])
    assert np.array_equal(judge.flush(), waiting)


def test_trees_add_to_the_curves_by_hand() -> None:
    """pitch = 6 and tilt = 1.5: the curves say 0.5 and 0.5 + 1 + 3 = 4.5, the one tree takes 2 off the hiss."""
    assert small().opinions(np.array([1.5, 6.0])) == pytest.approx([0.5, 2.5])


def test_what_goes_on_counts_and_a_reset_forgets_it() -> None:
    judge = Judge(small())
    quiet, loud = np.array([0.0, 0.0]), np.array([1.0, 0.0])
    first, *_, later = judged(judge, [loud, *[quiet] * 10, loud])
    assert later[0] < first[0]
    judge.push(quiet)
    judge.reset()
    assert judged(judge, [loud])[0][0] == pytest.approx(first[0])


def test_opinions_are_means_and_peaks_around_a_look() -> None:
    """Look 21 of 0 to 23: means of 21, 18..21, 2..21, 21..22 and 19..23, the highest of 2..21 and of 21..23."""
    opinions = np.arange(24.0)[:, None] * np.array([1.0, -1.0])
    means = [21, -21, 19.5, -19.5, 11.5, -11.5, 21.5, -21.5, 21, -21]
    assert opinions_of(opinions, 21) == pytest.approx([*means, 21, -2, 23, -21])


def test_opinions_leave_out_what_lies_beyond_the_stream() -> None:
    opinions = np.array([[1.0], [3.0], [8.0]])
    assert opinions_of(opinions, 2) == pytest.approx([8, 4, 4, 8, 4, 8, 8])
    assert opinions_of(opinions, 0) == pytest.approx([1, 1, 1, 2, 4, 1, 8])


def test_a_course_is_the_stream() -> None:
    values = np.random.default_rng(1).normal(1.0, 1.0, (30, 2))
    assert np.array_equal(small().course(values), np.stack(judged(Judge(small()), list(values))))


@settings(max_examples=50)
@given(st.floats(-1e6, 1e6))
def test_basis_lies_between_0_and_1_and_never_falls(value: float) -> None:
    knots = np.array([[0.0, 1.0, 3.0]])
    low = basis(np.array([value]), knots)
    high = basis(np.array([value + 0.5]), knots)
    assert np.all((low >= 0) & (low <= 1) & (high >= low))


def test_a_model_survives_its_file() -> None:
    model = small()
    again = model_from_table(json.loads(model_text(model_table(model, {}))))
    values = np.random.default_rng(0).normal(size=(20, 2)) * 5.0
    assert again.first.log_odds(values) == pytest.approx(model.first.log_odds(values), abs=ROUNDING)
    assert np.array_equal(again.first_trees.log_odds(values), model.first_trees.log_odds(values))
    assert again.second_trees.nested() == model.second_trees.nested()
    assert again.course(values) == pytest.approx(model.course(values), abs=ROUNDING)


def test_a_file_has_a_line_for_each_tree() -> None:
    lines = model_text(model_table(small(), {})).splitlines()
    assert '   ["pitch", 5.0, 0.0, ["tilt", 0.5, 0.25, -2.0]]' in lines


def test_reasons_name_the_feature_that_speaks() -> None:
    assert layer().reasons("hiss", np.array([0.0, 1.0]))[0][0] == "pitch"


def test_the_shipped_model_covers_every_kind_with_its_own_evidence() -> None:
    model = load_model()
    assert model.labels == (*SOUND_KINDS, "outside")
    assert set(model.features) <= set(FEATURE_NAMES)
    for row, signature in enumerate(SIGNATURES):
        used = {model.features[j] for j in np.flatnonzero(np.any(model.first.steps[row] != 0, axis=1))}
        used |= model.first_trees.used(signature.label)
        assert used
        assert used <= set(signature.evidence)


def test_bad_files_are_refused(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match="cannot be read"):
        load_model(tmp_path / "none.json")
    (tmp_path / "old.json").write_text('{"schema": 0}')
    with pytest.raises(ConfigError, match="schema=0 must be 4"):
        load_model(tmp_path / "old.json")
    table = model_table(small(), {}) | {"first together": {"hiss": [["colour", 1.0, 0.0, 0.5]]}}
    (tmp_path / "odd.json").write_text(model_text(table))
    with pytest.raises(ConfigError, match="damaged"):
        load_model(tmp_path / "odd.json")
    (tmp_path / "half.json").write_text('{"schema": 4}')
    with pytest.raises(ConfigError, match="damaged"):
        load_model(tmp_path / "half.json")


def test_the_card_states_a_recall_for_every_sound_that_comes_in_bouts(tmp_path: Path) -> None:
    recall = stated_recall([kind for kind in SOUND_KINDS if kind != "hum"])
    assert recall is not None
    assert 0.3 < recall < 1.0
    card = {"about": {"date": "x", "scores apart": {"slurp": {"recall": 0.7}, "hiss": {"recall": 0.9}}}}
    path = tmp_path / "model.json"
    path.write_text(json.dumps(card))
    assert stated_recall(("slurp", "hiss"), path) == 0.7
    assert stated_recall(("hiss",), path) == 0.9
    assert stated_recall(("hum",), path) is None
