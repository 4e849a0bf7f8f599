"""The signature model: for each kind a sum of small curves over named features, read from ``models/``.

    log-odds(kind) = bias + sum over features f of curve_kind,f(value of f)

A curve is piecewise linear between the knots of its feature and flat outside them, so every judgement can be
taken apart: ``SignatureModel.reasons`` lists what each feature added. The file is plain JSON that a person
can read and change; ``tuner.training.fit`` writes it.
"""

from __future__ import annotations

import json
from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tuner.errors import ConfigError
from tuner.places import shared_dir

SCHEMA = 1
FILE_NAME = "signatures.json"

Vector = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class SignatureModel:
    """Curves over features.

    ``labels`` (n_labels) and ``features`` (n_features) name the axes; ``knots`` (n_features, n_knots) rise along
    each row; ``steps`` (n_labels, n_features, n_knots - 1) is what a curve adds from one knot to the next;
    ``bias`` (n_labels,) the log-odds at the lowest knots.
    """

    labels: tuple[str, ...]
    features: tuple[str, ...]
    knots: Vector
    steps: NDArray[np.float64]
    bias: Vector

    def log_odds(self, values: Vector) -> Vector:
        """Return log-odds, shape (n_labels,), of features in the model's order, shape (n_features,)."""
        return self.bias + np.tensordot(self.steps, basis(values, self.knots), axes=([1, 2], [0, 1]))

    def probabilities(self, values: Vector) -> Vector:
        """Return probabilities in (0, 1), shape (n_labels,)."""
        probability: Vector = 1.0 / (1.0 + np.exp(-np.clip(self.log_odds(values), -40.0, 40.0)))
        return probability

    def reasons(self, label: str, values: Vector) -> tuple[tuple[str, float], ...]:
        """Return what each feature adds to the log-odds of ``label`` against its average knot, largest first."""
        row = self.labels.index(label)
        full = np.cumsum(self.steps[row], axis=1).mean(axis=1)
        added = np.sum(self.steps[row] * basis(values, self.knots), axis=1) - full
        order = np.argsort(-np.abs(added))
        return tuple((self.features[i], float(added[i])) for i in order if added[i] != 0.0)


def basis(values: Vector, knots: Vector) -> Vector:
    """Return how far each value has climbed each interval of its knots, 0 to 1: (..., n_features, n_knots - 1)."""
    low, high = knots[:, :-1], knots[:, 1:]
    climbed: Vector = np.clip((values[..., None] - low) / (high - low), 0.0, 1.0)
    return climbed


def load_model(path: Path | None = None) -> SignatureModel:
    """Read a model file, the shipped one by default.

    Raises
    ------
    ConfigError
        When the file is missing, damaged or of another schema.
    """
    path = path or shared_dir("models") / FILE_NAME
    try:
        table = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise ConfigError(f"signature model {path} cannot be read ({error}): install hushweir again") from None
    if table.get("schema") != SCHEMA:
        raise ConfigError(f"signature model {path}: schema={table.get('schema')!r} must be {SCHEMA}")
    return model_from_table(table)


def stated_recall(labels: Collection[str], path: Path | None = None) -> float | None:
    """Return the least recall (0-1) that a model file's card states for any of ``labels``; None where it states none.

    The card's scores are those on scenes held apart from the fitting; where it holds several tables, all count.
    """
    path = path or shared_dir("models") / FILE_NAME
    about = json.loads(path.read_text(encoding="utf-8")).get("about", {})
    tables = [table for name, table in about.items() if name.startswith("scores") and isinstance(table, dict)]
    found = [float(t[label]["recall"]) for t in tables for label in labels if "recall" in t.get(label, {})]
    return min(found, default=None)


def model_from_table(table: dict[str, Any]) -> SignatureModel:
    """Build a model from the table of a model file."""
    features = tuple(table["knots"])
    labels = tuple(table["kinds"])
    knots = np.array([table["knots"][f] for f in features])
    steps = np.zeros((len(labels), len(features), knots.shape[1] - 1))
    bias = np.zeros(len(labels))
    for i, label in enumerate(labels):
        kind = table["kinds"][label]
        bias[i] = kind["bias"]
        for name, curve in kind["curves"].items():
            steps[i, features.index(name)] = np.diff(curve)
            bias[i] += curve[0]
    return SignatureModel(labels, features, knots, steps, bias)


def model_table(model: SignatureModel, about: dict[str, Any], digits: int = 4) -> dict[str, Any]:
    """Return the table of a model file; ``about`` says how it was trained. Curves that are flat are left out."""
    kinds: dict[str, Any] = {}
    for i, label in enumerate(model.labels):
        curves: dict[str, list[float]] = {}
        bias = float(model.bias[i])
        for j, name in enumerate(model.features):
            curve = np.concatenate([[0.0], np.cumsum(model.steps[i, j])])
            if np.any(curve != 0.0):
                centred = curve - curve.mean()
                bias += float(curve.mean())
                curves[name] = [round(float(c), digits) for c in centred]
        kinds[label] = {"bias": round(bias, digits), "curves": curves}
    used = {name for kind in kinds.values() for name in kind["curves"]}
    knots = {
        n: [float(f"{k:.6g}") for k in row] for n, row in zip(model.features, model.knots, strict=True) if n in used
    }
    return {"schema": SCHEMA, "about": about, "knots": knots, "kinds": kinds}

