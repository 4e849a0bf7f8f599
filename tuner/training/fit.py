"""Fit the signature model: two layers of additive logistic regressions, and boosted trees beside the first.

The first layer is fitted label by label, and for water as a whole. Where a scene holds real water, of which is known
only that it is one of some kinds, the fit is done in rounds: each round takes the likeliest of them, by the round
before, for the truth. The curves of both layers are held low by a strong ridge; trees are then grown on what they leave
unexplained (gradient boosting, Friedman, Annals of Statistics 29, 2001). The second layer is fitted on first opinions
of scenes that the first layer did not see (a cross-fit by scenes), so that it learns how far they can be trusted, and
its probabilities come out calibrated.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Mapping
from concurrent.futures import ThreadPoolExecutor
from typing import Any, TypeVar

import numpy as np
import scipy.linalg
from numpy.typing import NDArray

from tuner.errors import ConfigError
from tuner.signatures import water
from tuner.signatures.catalogue import OPINIONS, SIGNATURES, gates
from tuner.signatures.ears import FEATURE_NAMES, columns_of
from tuner.signatures.model import PEAKS, SPANS, Curves, SignatureModel, basis, bounded, first_opinions, opinion_names
from tuner.signatures.trees import Tree, Trees, trees_from
from tuner.training.examples import Examples
from tuner.training.scenes import Truth, is_elsewhere, known_of

KNOT_SHARES = (0.02, 0.2, 0.4, 0.6, 0.8, 0.98)
STRENGTH = 0.03  # inverse of the ridge's weight; set, as what follows, on training scenes and recordings left out
SECOND_STRENGTH = 0.01
TREES, SECOND_TREES = 200, 80
ROUNDS = 2
FOLDS = 3
TAKES = 8  # neighbours that stay in one fold: recordings of one sound stand side by side
MOST_STEPS = 30
PLAIN_WEIGHT = 5.0  # of a look at a recording as it is, against one at a scene: there are far fewer of them
ELSEWHERE_WEIGHT = 0.5  # of a look at a scene made otherwise than by the rig's voices
EVERY = 2  # looks overlap by half: every other one says nearly as much to the first layer
_LABELS = tuple(s.label for s in SIGNATURES)
_OPINIONS = tuple(s.label for s in OPINIONS)
_WATER = [_LABELS.index(kind) for kind in water.KINDS]
_BOOSTING: dict[str, Any] = {
    "objective": "binary", "learning_rate": 0.07, "num_leaves": 24, "max_depth": 7, "min_data_in_leaf": 30,
    "lambda_l2": 5.0, "feature_fraction": 0.3, "seed": 1, "deterministic": True, "force_row_wise": True,
    "num_threads": 1, "verbosity": -1,
}
_SECOND_BOOSTING = _BOOSTING | {
    "learning_rate": 0.05, "num_leaves": 8, "max_depth": 4, "min_data_in_leaf": 100, "lambda_l2": 10.0,
    "feature_fraction": 0.4,
}

Floats = NDArray[np.float64]
Fitted = TypeVar("Fitted")


def truth_of(examples: Examples) -> Truth:
    """Return what is known of each row, see ``known_of``."""
    return known_of(examples.over_db)


def opinions_on(truth: Truth, any_of: NDArray[np.bool_]) -> tuple[Truth, NDArray[np.bool_]]:
    """Return what is known, and the sets, with a column for water as a whole, shape (n, n_opinions) each.

    Water is heard where any of its kinds is, or one of a set; it is not where none of them is.
    """
    kinds = truth[:, _WATER]
    heard = (kinds == 1).any(axis=1) | any_of.any(axis=1)
    known = np.where(heard, 1, np.where((kinds == 0).all(axis=1), 0, -1)).astype(np.int8)
    return np.column_stack([truth, known]), np.column_stack([any_of, np.zeros(len(any_of), dtype=bool)])


def weight_of(scene: NDArray[np.integer]) -> Floats:
    """Return how much the rows of scenes count, by how the scenes are numbered."""
    weights: Floats = np.select([scene < 0, is_elsewhere(scene)], [PLAIN_WEIGHT, ELSEWHERE_WEIGHT], 1.0)
    return weights


def knots_of(values: Floats) -> Floats:
    """Return knots at fixed shares of the training values, shape (n_features, n_knots), strictly rising."""
    knots = np.quantile(values, KNOT_SHARES, axis=0).T
    for i in range(1, knots.shape[1]):
        knots[:, i] = np.maximum(knots[:, i], knots[:, i - 1] + 1e-3)
    return np.asarray([[float(f"{k:.6g}") for k in row] for row in knots])


def fit(examples: Examples, trees: int = TREES, second_trees: int = SECOND_TREES) -> SignatureModel:
    """Fit both layers, with so many trees of each label.

    Raises
    ------
    ConfigError
        When LightGBM, which grows the trees, is not installed.
    """
    knots = knots_of(examples.features)
    climbed = basis(examples.features, knots)
    truth, any_of = opinions_on(truth_of(examples), examples.any_of)
    weight = weight_of(examples.scene)

    def first_of(rows: NDArray[np.intp]) -> tuple[Curves, Trees]:
        curves = _curves(climbed[rows], truth[rows], any_of[rows], weight[rows], knots)
        begun = bounded(curves.weigh(climbed[rows]))
        decided = decide(truth[rows], any_of[rows], begun)
        evidence = {s.label: s.evidence for s in OPINIONS}
        return curves, _trees(examples.features[rows], FEATURE_NAMES, evidence, decided, weight[rows], begun, trees)

    scenes, which = np.unique(examples.scene, return_inverse=True)
    fold = (np.arange(scenes.size) // TAKES % FOLDS)[which]
    opinions = np.zeros(truth.shape)
    for k in range(FOLDS):
        apart = np.flatnonzero(fold == k)
        curves, grown = first_of(np.flatnonzero(fold != k)[::EVERY])
        opinions[apart] = first_opinions(curves.weigh(climbed[apart]), grown.log_odds(examples.features[apart]))
    first, grown = first_of(np.arange(len(climbed))[::EVERY])
    second, second_grown = _second(opinions, examples.scene, decide(truth, any_of, opinions), weight, second_trees)
    return SignatureModel(first, grown, second, second_grown)


def _second(
    opinions: Floats, scene: NDArray[np.integer], decided: Truth, weight: Floats, trees: int
) -> tuple[Curves, Trees]:
    numbers = spans_of(opinions, scene)
    knots = knots_of(numbers)
    steps = basis(numbers, knots)
    flat = steps.reshape(len(steps), -1)
    found = _each(lambda i: _regress(flat, decided[:, i], weight, SECOND_STRENGTH), range(len(_LABELS)))
    names = opinion_names(_OPINIONS)
    curves = Curves(
        _LABELS, names, knots, np.stack([coefficients.reshape(steps.shape[1:]) for coefficients, _ in found]),
        np.array([bias for _, bias in found]),
    )
    every = dict.fromkeys(_LABELS, names)
    begun = bounded(curves.weigh(steps))
    return curves, _trees(numbers, names, every, decided, weight, begun, trees, _SECOND_BOOSTING)


def decide(truth: Truth, any_of: NDArray[np.bool_], opinions: Floats) -> Truth:
    """Return the truth with the likeliest of each row's possible kinds taken as audible; the others stay unknown."""
    decided = truth.copy()
    rows = np.flatnonzero(any_of.any(axis=1))
    best = np.where(any_of[rows], opinions[rows], -np.inf).argmax(axis=1)
    decided[rows, best] = 1
    return decided


def spans_of(opinions: Floats, scene: NDArray[np.integer]) -> Floats:
    """Return the second layer's numbers of rows in order, scene by scene, as the stream gives them."""
    edges = np.flatnonzero(np.diff(scene, prepend=scene[0] - 1))
    parts = []
    for part in np.split(opinions, edges[1:]):
        n = len(part)
        sums = np.cumsum(np.concatenate([np.zeros((1, part.shape[1])), part]), axis=0)
        at = np.arange(n)
        numbers = []
        for _, back, ahead in SPANS:
            begin, end = np.maximum(at - back + 1, 0), np.minimum(at + ahead + 1, n)
            numbers.append((sums[end] - sums[begin]) / (end - begin)[:, None])
        for _, back, ahead in PEAKS:
            padded = np.pad(part, ((back - 1, ahead), (0, 0)), constant_values=-np.inf)
            numbers.append(np.lib.stride_tricks.sliding_window_view(padded, back + ahead, axis=0).max(axis=-1))
        parts.append(np.concatenate(numbers, axis=1))
    return np.concatenate(parts)


def _curves(
    climbed: Floats, truth: Truth, any_of: NDArray[np.bool_], weight: Floats, knots: Floats
) -> Curves:
    layer = Curves(
        _OPINIONS, FEATURE_NAMES, knots, np.zeros((len(_OPINIONS), *climbed.shape[1:])), np.zeros(len(_OPINIONS))
    )
    columns = [columns_of(opinion.evidence) for opinion in OPINIONS]
    decided = truth
    for turn in range(ROUNDS):
        changed = [i for i in range(len(_OPINIONS)) if turn == 0 or any_of[:, i].any()]

        def regress(i: int, decided: Truth = decided) -> tuple[Floats, float]:
            return _regress(climbed[:, columns[i]].reshape(len(climbed), -1), decided[:, i], weight, STRENGTH)

        for i, (coefficients, bias) in zip(changed, _each(regress, changed), strict=True):
            layer.bias[i] = bias
            layer.steps[i, columns[i]] = coefficients.reshape(columns[i].size, -1)
        if not any_of.any():
            break
        decided = decide(truth, any_of, bounded(layer.weigh(climbed)))
    return layer


def _trees(
    values: Floats, names: tuple[str, ...], evidence: Mapping[str, tuple[str, ...]], decided: Truth, weight: Floats,
    begun: Floats, count: int, how: Mapping[str, Any] = _BOOSTING,
) -> Trees:
    """Grow trees on what the log-odds ``begun`` leave: each label's ask about its evidence alone."""
    labels = tuple(evidence)
    if not count:
        return trees_from({}, labels, names)
    try:
        import lightgbm
    except (ImportError, OSError) as error:  # it loads a library of the system's, libgomp
        raise ConfigError(f"lightgbm must be there to fit a model ({error}): pip install 'hushweir[train]'") from None

    def grow(i: int) -> list[Tree]:
        asked, known = evidence[labels[i]], decided[:, i] >= 0
        columns = [names.index(name) for name in asked]
        table = lightgbm.Dataset(
            values[known][:, columns], label=(decided[known, i] == 1).astype(float), weight=weight[known],
            init_score=begun[known, i],
        )
        grown = lightgbm.train(dict(how), table, count).dump_model()["tree_info"]
        return [_nested(tree["tree_structure"], asked) for tree in grown]

    return trees_from(dict(zip(labels, _each(grow, range(len(labels))), strict=True)), labels, names)


def _each(fitted: Callable[[int], Fitted], labels: Iterable[int]) -> list[Fitted]:
    """Fit labels side by side: each is its own fit, and both libraries let go of the interpreter meanwhile."""
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        return list(pool.map(fitted, labels))


def _nested(node: dict[str, Any], names: tuple[str, ...]) -> Tree:
    """Return a grown tree as nested lists, with the digits that a model file keeps."""
    if "leaf_value" in node:
        return round(float(node["leaf_value"]), 4)
    threshold = float(f"{node['threshold']:.5g}")
    below, above = (_nested(node[side], names) for side in ("left_child", "right_child"))
    return [names[node["split_feature"]], threshold, below, above]


def _regress(
    x: Floats, truth: NDArray[np.int8], weight: Floats, strength: float
) -> tuple[Floats, float]:
    """Return coefficients and intercept of a ridge-penalised logistic regression on the known rows, by Newton's method.

    The intercept is free.
    """
    known = truth >= 0
    design = np.concatenate([x[known], np.ones((int(known.sum()), 1))], axis=1)
    wanted, share = (truth[known] == 1).astype(float), weight[known]
    ridge = np.full(design.shape[1], 1.0 / strength)
    ridge[-1] = 1e-6  # a trace, so that a label that is always or never there has a finite intercept

    def cost_of(at: Floats) -> float:
        log_odds = design @ at
        return float(share @ (np.logaddexp(0.0, log_odds) - wanted * log_odds) + 0.5 * ridge @ at**2)

    at = np.zeros(design.shape[1])
    cost = cost_of(at)
    for _ in range(MOST_STEPS):
        said = 1.0 / (1.0 + np.exp(-np.clip(design @ at, -40.0, 40.0)))
        slope = design.T @ (share * (said - wanted)) + ridge * at
        bend = (design * (share * said * (1.0 - said) + 1e-9)[:, None]).T @ design
        bend[np.diag_indices_from(bend)] += ridge
        step = scipy.linalg.solve(bend, slope, assume_a="pos")
        length = 1.0
        while (lower := cost_of(at - length * step)) > cost and length > 1e-4:
            length /= 2.0
        if lower >= cost:
            break
        done = cost - lower < 1e-7 * cost
        at, cost = at - length * step, lower
        if done:
            break
    return at[:-1], float(at[-1])


def predict(model: SignatureModel, features: Floats, scene: NDArray[np.integer]) -> Floats:
    """Return probabilities, shape (n, n_labels), for the rows of many scenes at once, as the listener takes them."""
    opinions = model.opinions(features[:, columns_of(model.features)])
    return model.judgement(spans_of(opinions, scene)) * gates(features)
