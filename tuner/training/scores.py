"""Scores of a model on examples held apart: precision, recall, F1 of looks, and how far they can be believed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

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
        result[label] = _named(counts, float(true.mean()))
    result["all sounds"] = _named(total, 0.0)
    return result


def calibration_error(model: SignatureModel, examples: Examples) -> float:
    """Return the expected calibration error over all labels, in ten equal steps of probability."""
    probability = predict(model, examples.features, examples.scene)
    truth = truth_of(examples)
    known = truth >= 0
    return calibration_error_of(reliability(probability[known], truth[known] == 1))


@dataclass(frozen=True, slots=True)
class Step:
    """One step of probability: what was said and what was true in it, in the mean, over so many looks."""

    said: float
    true: float
    looks: int


def reliability(said: Floats, true: NDArray[np.bool_], steps: int = 10) -> tuple[Step, ...]:
    """Return the steps of equal width from 0 to 1 that hold any looks; ``said`` and ``true`` have shape (n,)."""
    step = np.minimum((said * steps).astype(int), steps - 1)
    here = [step == k for k in range(steps)]
    return tuple(Step(float(said[h].mean()), float(true[h].mean()), int(h.sum())) for h in here if h.any())


def calibration_error_of(table: Sequence[Step]) -> float:
    """Return the mean distance of what is said from what is true; each step counts by its number of looks."""
    return sum(s.looks * abs(s.said - s.true) for s in table) / sum(s.looks for s in table)


def precision_recall_f1(counts: Floats) -> tuple[float, float, float]:
    """Return precision, recall and F1 of hits, false and missed.

    >>> precision_recall_f1(np.array([3.0, 1.0, 3.0]))
    (0.75, 0.5, 0.6)
    """
    hit, false, missed = (float(c) for c in counts)
    precision, recall = hit / max(hit + false, 1.0), hit / max(hit + missed, 1.0)
    return precision, recall, 2 * precision * recall / max(precision + recall, 1e-9)


def _named(counts: Floats, share: float) -> dict[str, float]:
    return dict(zip(("precision", "recall", "f1"), precision_recall_f1(counts), strict=True)) | {"share": share}
