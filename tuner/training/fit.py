"""Fit the signature model: one additive logistic regression for each label, on drawn scenes.

``python -m tuner.training.fit --scenes 1600 --out models/signatures.json [--recordings FOLDER]`` renders the scenes,
fits, scores on scenes held apart and writes the model with its card. The same seeds and recordings give the
same file bit for bit. Needs scikit-learn (``pip install hushweir[train]``).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from tuner.signatures.catalogue import SIGNATURES, gates
from tuner.signatures.ears import FEATURE_NAMES
from tuner.signatures.model import SignatureModel, basis
from tuner.training.examples import Examples
from tuner.training.scenes import ABSENT_DB, AUDIBLE_DB

KNOT_SHARES = (0.02, 0.2, 0.4, 0.6, 0.8, 0.98)
STRENGTH = 0.15  # inverse of the ridge's weight; set on training scenes by halves


def knots_of(features: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return knots at fixed shares of the training values, shape (n_features, n_knots), strictly rising."""
    knots = np.quantile(features, KNOT_SHARES, axis=0).T
    for i in range(1, knots.shape[1]):
        knots[:, i] = np.maximum(knots[:, i], knots[:, i - 1] + 1e-3)
    return np.asarray([[float(f"{k:.6g}") for k in row] for row in knots])


def fit(examples: Examples) -> SignatureModel:
    """Fit all labels; rows between absent and audible are left out for that label."""
    from sklearn.linear_model import LogisticRegression

    knots = knots_of(examples.features)
    climbed = basis(examples.features, knots)
    steps = np.zeros((len(SIGNATURES), len(FEATURE_NAMES), knots.shape[1] - 1))
    bias = np.zeros(len(SIGNATURES))
    for i, signature in enumerate(SIGNATURES):
        over = examples.over_db[:, i]
        rows = (over >= AUDIBLE_DB) | (over < ABSENT_DB)
        columns = np.array([FEATURE_NAMES.index(n) for n in signature.evidence])
        x = climbed[rows][:, columns].reshape(np.count_nonzero(rows), -1)
        y = over[rows] >= AUDIBLE_DB
        regression = LogisticRegression(C=STRENGTH, solver="newton-cholesky", tol=1e-6).fit(x, y)
        steps[i, columns] = regression.coef_[0].reshape(columns.size, -1)
        bias[i] = float(regression.intercept_[0])
    return SignatureModel(tuple(s.label for s in SIGNATURES), FEATURE_NAMES, knots, steps, bias)


def predict(model: SignatureModel, features: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return probabilities, shape (n, n_labels), for many rows at once, as the listener takes them."""
    climbed = basis(features, model.knots).reshape(len(features), -1)
    log_odds = climbed @ model.steps.reshape(len(model.labels), -1).T + model.bias
    return np.asarray(1.0 / (1.0 + np.exp(-np.clip(log_odds, -40, 40)))) * gates(features)


def scores(model: SignatureModel, examples: Examples, labels: Sequence[str]) -> dict[str, dict[str, float]]:
    """Return precision, recall, F1 and base rate for each label at probability 0.5, and micro-averaged for sounds."""
    probability = predict(model, examples.features)
    result: dict[str, dict[str, float]] = {}
    total = np.zeros(3)
    for i, label in enumerate(labels):
        over = examples.over_db[:, i]
        rows = (over >= AUDIBLE_DB) | (over < ABSENT_DB)
        truth, said = over[rows] >= AUDIBLE_DB, probability[rows, i] >= 0.5
        counts = np.array([np.sum(truth & said), np.sum(~truth & said), np.sum(truth & ~said)], dtype=float)
        if label != "outside":
            total += counts
        result[label] = {**_prf(counts), "share": float(truth.mean())}
    result["all sounds"] = {**_prf(total), "share": 0.0}
    return result


def _prf(counts: NDArray[np.float64]) -> dict[str, float]:
    hit, false, missed = counts
    precision = hit / max(hit + false, 1.0)
    recall = hit / max(hit + missed, 1.0)
    return {"precision": precision, "recall": recall, "f1": 2 * precision * recall / max(precision + recall, 1e-9)}
