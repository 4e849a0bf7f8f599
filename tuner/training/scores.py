"""Scores of a model on examples held apart: precision, recall, F1 of looks, and how far they can be believed."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tuner.signatures.model import SignatureModel
from tuner.training.examples import Examples
from tuner.training.fit import predict, truth_of

Floats = NDArray[np.float64]


def scores(model: SignatureModel, examples: Examples) -> dict[str, dict[str, float]]:
    """Return precision, recall, F1 and base rate for each label at probability 0.5, and micro-averaged for sounds."""
    probability = predict(model, examples.features, examples.scene)
    truth = truth_of(examples)
    result: dict[str, dict[str, float]] = {}
    total = np.zeros(3)
    for i, label in enumerate(model.labels):
        known = truth[:, i] >= 0
        true, said = truth[known, i] == 1, probability[known, i] >= 0.5
        counts = np.array([np.sum(true & said), np.sum(~true & said), np.sum(true & ~said)], dtype=float)
        if label != "outside":
            total += counts
        result[label] = {**_prf(counts), "share": float(true.mean())}
    result["all sounds"] = {**_prf(total), "share": 0.0}
    return result


def calibration_error(model: SignatureModel, examples: Examples, steps: int = 10) -> float:
    """Return the expected calibration error over all labels: the mean distance of what is said from what is true.

    Probabilities are put into equal steps; each step counts by its number of looks.
    """
    probability = predict(model, examples.features, examples.scene)
    truth = truth_of(examples)
    known = truth >= 0
    said, true = probability[known], truth[known] == 1
    step = np.minimum((said * steps).astype(int), steps - 1)
    here = [step == k for k in range(steps)]
    return float(sum(h.mean() * abs(said[h].mean() - true[h].mean()) for h in here if h.any()))


def _prf(counts: Floats) -> dict[str, float]:
    hit, false, missed = counts
    precision = hit / max(hit + false, 1.0)
    recall = hit / max(hit + missed, 1.0)
    return {"precision": precision, "recall": recall, "f1": 2 * precision * recall / max(precision + recall, 1e-9)}
