"""The signature model: curves and trees over named numbers, read from ``models/``.

    first opinion(kind) = bias + sum over features f of curve_kind,f(value of f) + what the trees of the kind add
    log-odds(kind) = bias + sum over opinions o of curve_kind,o(value of o) + what its trees about opinions add

The first layer looks at the sound, the second at what the first says of every kind, now, over the last seconds and in
the second that follows: what has gone on for ten seconds is surer than one look, what goes on was no knock, and what a
voice explains needs no gurgle. So a look is judged ``AHEAD`` looks later. A curve is piecewise linear between the knots
of its number and flat outside them: ``Curves.reasons`` lists what each number added. The trees (``trees.py``) tell what
only several numbers together can. The file is plain JSON that a person can read and change; ``tuner.training`` writes
it.
"""

from __future__ import annotations

import json
from collections import deque
from collections.abc import Collection
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tuner.errors import ConfigError
from tuner.places import shared_dir
from tuner.signatures.trees import Trees, trees_from

SCHEMA = 4
FILE_NAME = "signatures.json"
AHEAD = 2
"""How many looks after a look it is judged."""
SPANS: tuple[tuple[str, int, int], ...] = (
    ("now", 1, 0), ("2 s", 4, 0), ("10 s", 20, 0), ("next", 1, 1), ("around", 3, AHEAD),
)
"""What the second layer takes means of: the name, the looks up to and with the one judged, those after it."""
PEAKS: tuple[tuple[str, int, int], ...] = (("peak", 20, 0), ("peak ahead", 1, AHEAD))
"""The same for what it takes the highest of."""
LONGEST = max(back for _, back, _ in (*SPANS, *PEAKS))
LARGEST_OPINION = 12.0  # log-odds beyond this say no more

Vector = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Curves:
    """One layer of curves.

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
        """Return log-odds, shape (..., n_labels), of features in the layer's order, shape (..., n_features)."""
        return self.weigh(basis(values, self.knots))

    def weigh(self, climbed: Vector) -> Vector:
        """Return log-odds of what ``basis`` gives, shape (..., n_features, n_knots - 1)."""
        flat = climbed.reshape(*climbed.shape[:-2], -1)
        return np.asarray(flat @ self.steps.reshape(len(self.labels), -1).T + self.bias)

    def reasons(self, label: str, values: Vector) -> tuple[tuple[str, float], ...]:
        """Return what each feature adds to the log-odds of ``label`` against its average knot, largest first."""
        row = self.labels.index(label)
        full = np.cumsum(self.steps[row], axis=1).mean(axis=1)
        added = np.sum(self.steps[row] * basis(values, self.knots), axis=1) - full
        order = np.argsort(-np.abs(added))
        return tuple((self.features[i], float(added[i])) for i in order if added[i] != 0.0)


@dataclass(frozen=True, slots=True)
class SignatureModel:
    """Both layers, each of curves and trees; ``second.features`` are named by ``opinion_names``.

    The trees of each ask about the features of its curves. The first layer may have opinions on more than the second
    has labels.
    """

    first: Curves
    first_trees: Trees
    second: Curves
    second_trees: Trees

    @property
    def labels(self) -> tuple[str, ...]:
        """The kinds, and outside noise."""
        return self.second.labels

    @property
    def features(self) -> tuple[str, ...]:
        """The named features that the first layer weighs, in its order."""
        return self.first.features

    @property
    def knots(self) -> Vector:
        """The knots of the features, shape (n_features, n_knots)."""
        return self.first.knots

    def opinions(self, values: Vector) -> Vector:
        """Return the first opinions, shape (..., n_opinions), of features in the model's order."""
        return first_opinions(self.first.log_odds(values), self.first_trees.log_odds(values))

    def judgement(self, numbers: Vector) -> Vector:
        """Return probabilities in (0, 1), shape (..., n_labels), from the second layer's numbers."""
        log_odds = self.second.log_odds(numbers) + self.second_trees.log_odds(numbers)
        return np.asarray(1.0 / (1.0 + np.exp(-np.clip(log_odds, -40.0, 40.0))))

    def course(self, values: Vector) -> Vector:
        """Return the probabilities, shape (n, n_labels), of looks that follow one another, shape (n, n_features)."""
        judge = Judge(self)
        return np.stack([*(p for row in values for p in judge.push(row)), *judge.flush()])


def bounded(log_odds: Vector) -> Vector:
    """Return first opinions from log-odds: beyond ``LARGEST_OPINION`` they say no more."""
    return np.clip(log_odds, -LARGEST_OPINION, LARGEST_OPINION)


def first_opinions(by_curves: Vector, by_trees: Vector) -> Vector:
    """Return first opinions from what curves say and trees add, both of shape (..., n_labels)."""
    return bounded(bounded(by_curves) + by_trees)


def opinion_names(labels: tuple[str, ...]) -> tuple[str, ...]:
    """Return the names of the second layer's numbers: each label over each of ``SPANS``, then of ``PEAKS``.

    >>> opinion_names(("gurgle",))[:3]
    ('gurgle now', 'gurgle 2 s', 'gurgle 10 s')
    """
    return tuple(f"{label} {name}" for name, _, _ in (*SPANS, *PEAKS) for label in labels)


def opinions_of(opinions: Vector, at: int) -> Vector:
    """Return the second layer's numbers of look ``at`` among first opinions, shape (n, n_labels).

    Looks before the first and after the last are left out of means and peaks.
    """

    def part(back: int, ahead: int) -> Vector:
        return opinions[max(at - back + 1, 0) : at + ahead + 1]

    means = [part(back, ahead).mean(axis=0) for _, back, ahead in SPANS]
    return np.concatenate([*means, *(part(back, ahead).max(axis=0) for _, back, ahead in PEAKS)])


class Judge:
    """The model as a stream: features in, probabilities out, ``AHEAD`` looks later.

    It remembers its first opinions of ten seconds, and of the looks that wait to be judged.
    """

    def __init__(self, model: SignatureModel) -> None:
        self.model = model
        self._recent: deque[Vector] = deque(maxlen=LONGEST + AHEAD)
        self._waiting = 0

    def reset(self) -> None:
        """Forget what was said."""
        self._recent.clear()
        self._waiting = 0

    def push(self, values: Vector) -> tuple[Vector, ...]:
        """Take features in the model's order, shape (n_features,); return probabilities in (0, 1), (n_labels,).

        They are those of the look ``AHEAD`` looks ago, none while there is none.
        """
        self._recent.append(self.model.opinions(values))
        self._waiting += 1
        if self._waiting <= AHEAD:
            return ()
        self._waiting -= 1
        opinions = np.stack(self._recent)
        return (self._judged(opinions, len(opinions) - 1 - AHEAD),)

    def so_far(self) -> tuple[Vector, ...]:
        """Return the probabilities of the looks that wait, oldest first, as if the stream ended here."""
        if not self._waiting:
            return ()
        opinions = np.stack(self._recent)
        return tuple(self._judged(opinions, at) for at in range(len(opinions) - self._waiting, len(opinions)))

    def flush(self) -> tuple[Vector, ...]:
        """End the stream: return the probabilities of the looks that wait, and be as new."""
        judged = self.so_far()
        self.reset()
        return judged

    def glance(self, values: Vector) -> Vector:
        """Return the probabilities of a look with these features, if it came now and were the last."""
        opinions = np.stack([*self._recent, self.model.opinions(values)])
        return self._judged(opinions, len(opinions) - 1)

    def _judged(self, opinions: Vector, at: int) -> Vector:
        return self.model.judgement(opinions_of(opinions, at))


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
    return _shipped() if path is None else _read(path)


@cache
def _shipped() -> SignatureModel:
    """Return the shipped model; every listener shares the one that was read first."""
    return _read(shared_dir("models") / FILE_NAME)


def _read(path: Path) -> SignatureModel:
    try:
        table = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise ConfigError(f"signature model {path} cannot be read ({error}): install hushweir again") from None
    if table.get("schema") != SCHEMA:
        raise ConfigError(f"signature model {path}: schema={table.get('schema')!r} must be {SCHEMA}")
    try:
        return model_from_table(table)
    except (KeyError, ValueError, TypeError) as error:
        raise ConfigError(f"signature model {path} is damaged ({error!r}): install hushweir again") from None


def card(path: Path) -> dict[str, Any]:
    """Return what a model file says about itself: data, scores, limits, date."""
    about: dict[str, Any] = json.loads(path.read_text(encoding="utf-8")).get("about", {})
    return about


def stated_recall(labels: Collection[str], path: Path | None = None) -> float | None:
    """Return the least recall (0-1) that a model file's card states for any of ``labels``; None where it states none.

    The card's scores are those on scenes held apart from the fitting; where it holds several tables, all count.
    """
    about = card(path or shared_dir("models") / FILE_NAME)
    tables = [table for name, table in about.items() if name.startswith("scores") and isinstance(table, dict)]
    found = [float(t[label]["recall"]) for t in tables for label in labels if "recall" in t.get(label, {})]
    return min(found, default=None)


def model_from_table(table: dict[str, Any]) -> SignatureModel:
    """Build a model from the table of a model file."""
    first, second = _curves(table["first"]), _curves(table["second"])
    names = opinion_names(first.labels)
    order = [second.features.index(n) for n in names]
    return SignatureModel(
        first, trees_from(table["first together"], first.labels, first.features),
        Curves(second.labels, names, second.knots[order], second.steps[:, order], second.bias),
        trees_from(table["second together"], second.labels, names),
    )


def _curves(table: dict[str, Any]) -> Curves:
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
    return Curves(labels, features, knots, steps, bias)


def model_table(model: SignatureModel, about: dict[str, Any], digits: int = 4) -> dict[str, Any]:
    """Return the table of a model file; ``about`` says how it was trained. Curves that are flat are left out."""
    return {
        "schema": SCHEMA, "about": about, "first": _table(model.first, digits),
        "first together": model.first_trees.nested(), "second": _table(model.second, digits),
        "second together": model.second_trees.nested(),
    }


def model_text(table: dict[str, Any]) -> str:
    """Return a table as the text of a model file: one tree in each line, so that changes can be seen."""
    parts = []
    for name, part in table.items():
        if name.endswith("together"):
            lines = [
                f'  {json.dumps(label)}: [\n' + ",\n".join(f"   {json.dumps(tree)}" for tree in trees) + "\n  ]"
                for label, trees in part.items()
            ]
            parts.append(f" {json.dumps(name)}: {{\n" + ",\n".join(lines) + "\n }")
        else:
            parts.append(f" {json.dumps(name)}: " + json.dumps(part, indent=1).replace("\n", "\n "))
    return "{\n" + ",\n".join(parts) + "\n}\n"


def _table(layer: Curves, digits: int) -> dict[str, Any]:
    kinds: dict[str, Any] = {}
    for i, label in enumerate(layer.labels):
        curves: dict[str, list[float]] = {}
        bias = float(layer.bias[i])
        for j, name in enumerate(layer.features):
            curve = np.concatenate([[0.0], np.cumsum(layer.steps[i, j])])
            if np.any(curve != 0.0):
                centred = curve - curve.mean()
                bias += float(curve.mean())
                curves[name] = [round(float(c), digits) for c in centred]
        kinds[label] = {"bias": round(bias, digits), "curves": curves}
    knots = {n: [float(f"{k:.6g}") for k in row] for n, row in zip(layer.features, layer.knots, strict=True)}
    return {"knots": knots, "kinds": kinds}
