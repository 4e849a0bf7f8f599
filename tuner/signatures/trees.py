"""Trees: short chains of questions about the named features, for what only a few of them together can tell.

A curve weighs one number at a time; a tap differs from a fan by no number alone, but by sudden starts that are
high while the neighbours of each band keep still. A tree asks up to a handful of such questions, one after the other,
and adds to the log-odds of a kind what the answers say. A tree is written as nested lists: feature, threshold, what
follows at or below the threshold, what follows above it; a number ends it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Vector = NDArray[np.float64]
Indices = NDArray[np.int32]  # half the width of the usual: they are read thousands of times a look
Tree = Any
"""A number, or [feature name, threshold, tree at or below it, tree above it]."""
_ROWS_AT_ONCE = 256  # of many looks at once: keeps the tables between threshold and answer within the cache


@dataclass(frozen=True, slots=True)
class Trees:
    """The trees of all labels, laid out flat.

    ``labels`` and ``features`` name the axes. Each node has a ``feature`` and a ``threshold`` (n_nodes,); ``follows``
    (2 n_nodes,) holds for node k, at 2k and 2k + 1, the node at or below the threshold and the one above it. An end
    leads to itself and adds ``value`` (n_nodes,). ``roots`` (n_trees,) are grouped by label, ``first``
    (n_labels + 1,) tells where each label's begin; ``depth`` is the most questions in a row.
    """

    labels: tuple[str, ...]
    features: tuple[str, ...]
    feature: Indices
    threshold: Vector
    follows: Indices
    value: Vector
    roots: Indices
    first: Indices
    depth: int

    def log_odds(self, values: Vector) -> Vector:
        """Return what the trees add, shape (..., n_labels), to features in their order, shape (..., n_features)."""
        rows = np.reshape(values, (-1, values.shape[-1]))
        out = np.zeros((len(rows), len(self.labels)))
        for start in range(0, len(rows), _ROWS_AT_ONCE):
            part = slice(start, start + _ROWS_AT_ONCE)
            out[part] = self._added(rows[part])
        return out.reshape(*values.shape[:-1], len(self.labels))

    def _added(self, rows: Vector) -> Vector:
        flat, begin = rows.ravel(), (np.arange(len(rows), dtype=np.int32) * rows.shape[1])[:, None]
        at = np.broadcast_to(self.roots, (len(rows), self.roots.size))
        for _ in range(self.depth):
            above = flat.take(self.feature.take(at) + begin) > self.threshold.take(at)
            at = self.follows.take(2 * at + above)
        sums = np.cumsum(np.concatenate([np.zeros((len(rows), 1)), self.value.take(at)], axis=1), axis=1)
        return np.asarray(sums[:, self.first[1:]] - sums[:, self.first[:-1]])

    def used(self, label: str) -> frozenset[str]:
        """Return the features that the trees of a label ask about."""
        return frozenset(name for tree in self.nested()[label] for name in _asked(tree))

    def nested(self) -> dict[str, list[Tree]]:
        """Return the trees of each label as nested lists."""
        return {
            label: [self._nested(int(node)) for node in self.roots[self.first[i] : self.first[i + 1]]]
            for i, label in enumerate(self.labels)
        }

    def _nested(self, node: int) -> Tree:
        below, above = (int(n) for n in self.follows[2 * node : 2 * node + 2])
        if below == node:
            return float(self.value[node])
        return [
            self.features[self.feature[node]], float(self.threshold[node]), self._nested(below), self._nested(above)
        ]


def _asked(tree: Tree) -> Sequence[str]:
    return [tree[0], *_asked(tree[2]), *_asked(tree[3])] if isinstance(tree, list) else []


def trees_from(nested: dict[str, list[Tree]], labels: tuple[str, ...], features: tuple[str, ...]) -> Trees:
    """Return the trees of nested lists; a label without an entry has none.

    Raises
    ------
    ValueError
        When a tree is malformed or asks about a feature that is not among ``features``.
    """
    rows: list[tuple[int, float, int, int, float]] = []
    deepest = 0

    def lay(tree: Tree, depth: int) -> int:
        nonlocal deepest
        deepest = max(deepest, depth)
        node = len(rows)
        if not isinstance(tree, list):
            rows.append((0, np.inf, node, node, float(tree)))
            return node
        name, threshold, below, above = tree
        rows.append((0, 0.0, 0, 0, 0.0))
        at_or_below, over = lay(below, depth + 1), lay(above, depth + 1)
        rows[node] = (features.index(name), float(threshold), at_or_below, over, 0.0)
        return node

    roots = [[lay(tree, 0) for tree in nested.get(label, ())] for label in labels]
    feature, threshold, below, above, value = zip(*rows, strict=True) if rows else ((),) * 5
    return Trees(
        labels, features, np.array(feature, dtype=np.int32), np.array(threshold, dtype=float),
        np.array([below, above], dtype=np.int32).T.ravel(), np.array(value, dtype=float),
        np.array([root for some in roots for root in some], dtype=np.int32),
        np.cumsum([0, *(len(some) for some in roots)], dtype=np.int32), deepest,
    )
