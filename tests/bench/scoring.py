"""Scores of sounds against what was audible: one-second segments, events with collars, and calibration."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from tuner.terms import SOUND_KINDS, Moment, Sound
from tuner.training.scenes import AUDIBLE_DB, Scene, known_of
from tuner.training.scores import calibration_error_of, precision_recall_f1, reliability

Segments = np.ndarray
"""(n_seconds, 9): 1 audible or heard, 0 not, -1 neither audible nor absent (left out)."""
COLLAR_S = 0.5
LENGTH_SHARE = 0.3


def true_segments(scene: Scene) -> Segments:
    """Return what is audible in each whole second of a scene, from 1 s on."""
    return known_of(scene.over_db[::2, : len(SOUND_KINDS)])


def heard_segments(sounds: Sequence[Sound], n: int) -> Segments:
    """Return which kinds sound in at least half of each second."""
    said = np.zeros((n, len(SOUND_KINDS)), dtype=int)
    for sound in sounds:
        for second in range(max(0, int(sound.start_s)), min(n, int(np.ceil(sound.end_s)))):
            if min(sound.end_s, second + 1) - max(sound.start_s, second) >= 0.5:
                said[second, SOUND_KINDS.index(sound.kind)] = 1
    return said


def true_events(scene: Scene) -> list[tuple[str, float, float]]:
    """Return the stretches in which a kind is audible."""
    found = []
    for i, kind in enumerate(SOUND_KINDS):
        on = np.concatenate([[False], scene.over_db[:, i] >= AUDIBLE_DB, [False]])
        edges = np.flatnonzero(np.diff(on.astype(int)))
        # a tick speaks for the second before it: the sound begins within the first one and ends within the last
        found += [(kind, a / 2 + 0.25, b / 2 + 0.75) for a, b in zip(edges[::2], edges[1::2], strict=True)]
    return found


@dataclass
class Tally:
    """Hits, false and missed segments by kind, and probabilities against truth."""

    counts: np.ndarray = field(default_factory=lambda: np.zeros((len(SOUND_KINDS), 3)))
    probability: list[np.ndarray] = field(default_factory=list)
    truth: list[np.ndarray] = field(default_factory=list)

    def add(self, truth: Segments, said: Segments) -> None:
        known = truth >= 0
        for column, pair in enumerate(((1, 1), (0, 1), (1, 0))):
            self.counts[:, column] += ((truth == pair[0]) & (said == pair[1]) & known).sum(axis=0)

    def add_moments(self, moments: Sequence[Moment], over_db: np.ndarray) -> None:
        n = min(len(moments), len(over_db))
        p = np.array([[m.probability[k] for k in SOUND_KINDS] for m in moments[:n]])
        truth = known_of(over_db[:n, : len(SOUND_KINDS)])
        self.probability.append(p[truth >= 0])
        self.truth.append(truth[truth >= 0] == 1)

    def lines(self) -> list[str]:
        rows = ["  kind      precision recall  F1    seconds"]
        for kind, counts in zip((*SOUND_KINDS, "micro"), (*self.counts, self.counts.sum(axis=0)), strict=True):
            precision, recall, f1 = precision_recall_f1(counts)
            rows.append(f"  {kind:9s} {precision:8.3f} {recall:7.3f} {f1:6.3f} {counts[0] + counts[2]:7.0f}")
        return rows

    def calibration(self) -> tuple[float, list[str]]:
        """Return the expected calibration error in ten equal steps of probability, and the reliability table."""
        table = reliability(np.concatenate(self.probability), np.concatenate(self.truth))
        rows = [f"  {step.said:.2f} {step.true:9.2f} {step.looks:8d}" for step in table]
        return calibration_error_of(table), ["  said      true   looks", *rows]


def auc(positive: np.ndarray, negative: np.ndarray) -> float:
    """Return the chance that a positive scores higher than a negative (ties count half): Mann-Whitney."""
    from scipy.stats import mannwhitneyu

    return float(mannwhitneyu(positive, negative).statistic) / (len(positive) * len(negative))
