"""Fit the signature model: two layers of additive logistic regressions, on drawn scenes.

The first layer is fitted label by label. Where a scene holds real water, of which is known only that it is one of some
kinds, the fit is done in rounds: each round takes the likeliest of them, by the round before, for the truth. The second
layer is fitted on first opinions of scenes that the first layer did not see (a cross-fit by scenes), so that it learns
how far they can be trusted, and its probabilities come out calibrated.

A fit may go on from an earlier model: then its curves are drawn towards those of the earlier one instead of towards
nothing, so that what many scenes taught is kept while fewer new ones add to it.
"""

from __future__ import annotations

import numpy as np
import scipy.linalg
from numpy.typing import NDArray

from tuner.signatures.catalogue import SIGNATURES, gates
from tuner.signatures.ears import FEATURE_NAMES, columns_of
from tuner.signatures.model import SPANS, Curves, SignatureModel, basis, bounded, opinion_names
from tuner.training.examples import Examples
from tuner.training.scenes import Truth, known_of

KNOT_SHARES = (0.02, 0.2, 0.4, 0.6, 0.8, 0.98)
STRENGTH = 0.15  # inverse of the ridge's weight; set on training scenes by halves
GOING_ON_STRENGTH = 0.003  # the same towards an earlier model; set on scenes and recordings that were not fitted
SECOND_STRENGTH = 0.05
ROUNDS = 2
FOLDS = 2
MOST_STEPS = 30
PLAIN_WEIGHT = 1.0  # of a look at a recording as it is, against one at a scene
EVERY = 2  # looks overlap by half: every other one says nearly as much to the first layer
_LABELS = tuple(s.label for s in SIGNATURES)

Floats = NDArray[np.float64]


def truth_of(examples: Examples) -> Truth:
    """Return what is known of each row, see ``known_of``."""
    return known_of(examples.over_db)


def knots_of(values: Floats) -> Floats:
    """Return knots at fixed shares of the training values, shape (n_features, n_knots), strictly rising."""
    knots = np.quantile(values, KNOT_SHARES, axis=0).T
    for i in range(1, knots.shape[1]):
        knots[:, i] = np.maximum(knots[:, i], knots[:, i - 1] + 1e-3)
    return np.asarray([[float(f"{k:.6g}") for k in row] for row in knots])


def fit(examples: Examples, earlier: SignatureModel | None = None) -> SignatureModel:
    """Fit both layers; with ``earlier``, which must weigh the same features, go on from it."""
    knots = knots_of(examples.features) if earlier is None else earlier.first.knots
    climbed = basis(examples.features, knots)
    truth = truth_of(examples)
    weight = np.where(examples.scene < 0, PLAIN_WEIGHT, 1.0)
    centre = Curves(
        _LABELS, FEATURE_NAMES, knots, np.zeros((len(_LABELS), *climbed.shape[1:])), np.zeros(len(_LABELS))
    ) if earlier is None else earlier.first
    scenes, which = np.unique(examples.scene, return_inverse=True)
    fold = (np.arange(scenes.size) % FOLDS)[which]
    opinions = np.zeros(truth.shape)
    for k in range(FOLDS):
        rest = np.flatnonzero(fold != k)[::EVERY]
        layer = _first_layer(climbed[rest], truth[rest], examples.any_of[rest], weight[rest], centre)
        opinions[fold == k] = bounded(layer.weigh(climbed[fold == k]))
    every = slice(None, None, EVERY)
    first = _first_layer(climbed[every], truth[every], examples.any_of[every], weight[every], centre)
    numbers = spans_of(opinions, examples.scene)
    second_knots = knots_of(numbers) if earlier is None else earlier.second.knots
    steps = basis(numbers, second_knots)
    flat = steps.reshape(len(steps), -1)
    decided = decide(truth, examples.any_of, opinions)
    begun = [(np.zeros(flat.shape[1]), 0.0) if earlier is None else
             (earlier.second.steps[i].ravel(), float(earlier.second.bias[i])) for i in range(len(_LABELS))]
    found = [_regress(flat, decided[:, i], weight, SECOND_STRENGTH, begun[i]) for i in range(len(_LABELS))]
    second = Curves(
        _LABELS, opinion_names(_LABELS), second_knots,
        np.stack([coefficients.reshape(steps.shape[1:]) for coefficients, _ in found]),
        np.array([bias for _, bias in found]),
    )
    return SignatureModel(first, second)


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
        sums = np.cumsum(np.concatenate([np.zeros((1, part.shape[1])), part]), axis=0)
        at = np.arange(1, len(part) + 1)
        means = [(sums[at] - sums[np.maximum(at - n, 0)]) / np.minimum(at, n)[:, None] for _, n in SPANS]
        longest = SPANS[-1][1]
        padded = np.concatenate([np.full((longest - 1, part.shape[1]), -np.inf), part])
        peak = np.lib.stride_tricks.sliding_window_view(padded, longest, axis=0).max(axis=-1)
        parts.append(np.concatenate([*means, peak], axis=1))
    return np.concatenate(parts)


def _first_layer(
    climbed: Floats, truth: Truth, any_of: NDArray[np.bool_], weight: Floats, centre: Curves
) -> Curves:
    layer = Curves(_LABELS, FEATURE_NAMES, centre.knots, centre.steps.copy(), centre.bias.copy())
    anew = not centre.steps.any()
    decided = truth if anew else decide(truth, any_of, bounded(centre.weigh(climbed)))
    strength = STRENGTH if anew else GOING_ON_STRENGTH
    for turn in range(ROUNDS):
        changed = range(len(_LABELS)) if turn == 0 else np.flatnonzero(any_of.any(axis=0))
        for i in changed:
            columns = columns_of(SIGNATURES[i].evidence)
            x = climbed[:, columns].reshape(len(climbed), -1)
            begun = centre.steps[i, columns].ravel(), float(centre.bias[i])
            coefficients, layer.bias[i] = _regress(x, decided[:, i], weight, strength, begun)
            layer.steps[i, columns] = coefficients.reshape(columns.size, -1)
        if not any_of.any():
            break
        decided = decide(truth, any_of, bounded(layer.weigh(climbed)))
    return layer


def _regress(
    x: Floats, truth: NDArray[np.int8], weight: Floats, strength: float, begun: tuple[Floats, float]
) -> tuple[Floats, float]:
    """Return coefficients and intercept of a logistic regression on the known rows, by Newton's method.

    The ridge draws the coefficients towards those of ``begun``; the intercept is free.
    """
    known = truth >= 0
    design = np.concatenate([x[known], np.ones((int(known.sum()), 1))], axis=1)
    wanted, share = (truth[known] == 1).astype(float), weight[known]
    ridge = np.full(design.shape[1], 1.0 / strength)
    ridge[-1] = 1e-6  # a trace, so that a label that is always or never there has a finite intercept
    centre = np.append(*begun)

    def cost_of(at: Floats) -> float:
        log_odds = design @ at
        return float(share @ (np.logaddexp(0.0, log_odds) - wanted * log_odds) + 0.5 * ridge @ (at - centre) ** 2)

    at, cost = centre, cost_of(centre)
    for _ in range(MOST_STEPS):
        said = 1.0 / (1.0 + np.exp(-np.clip(design @ at, -40.0, 40.0)))
        slope = design.T @ (share * (said - wanted)) + ridge * (at - centre)
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
