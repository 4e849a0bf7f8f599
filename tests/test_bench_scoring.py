"""Scores of the ears' bench against scikit-learn and by hand."""

from __future__ import annotations

import numpy as np
import pytest
from sklearn.metrics import f1_score, roc_auc_score

from tests.bench.scoring import Tally, auc, heard_segments, true_events, true_segments
from tuner.terms import SOUND_KINDS, Sound
from tuner.training.scenes import LABELS, Scene
from tuner.training.scores import precision_recall_f1

GURGLE = SOUND_KINDS.index("gurgle")


def scene(levels: list[float]) -> Scene:
    over = np.full((len(levels), len(LABELS)), -99.0)
    over[:, GURGLE] = levels
    return Scene(np.zeros(1, dtype=np.float32), 48000, over, np.zeros(over.shape, dtype=bool))


def test_auc_is_scikit_learns() -> None:
    rng = np.random.default_rng(0)
    truth, score = rng.random(200) < 0.3, np.round(rng.normal(size=200), 1)
    assert auc(score[truth], score[~truth]) == pytest.approx(roc_auc_score(truth, score))


def test_f1_is_scikit_learns() -> None:
    rng = np.random.default_rng(1)
    truth, said = (rng.random((2, 300, len(SOUND_KINDS))) < 0.2).astype(int)
    tally = Tally()
    tally.add(truth, said)
    assert precision_recall_f1(tally.counts.sum(axis=0))[2] == pytest.approx(f1_score(truth, said, average="micro"))


def test_segments_by_hand() -> None:
    """Ticks end at 1, 1.5, 2 ... s; every other one speaks for a whole second."""
    assert true_segments(scene([5.0, 5.0, -3.0, -99.0, -99.0]))[:, GURGLE].tolist() == [1, -1, 0]
    sounds = [Sound("gurgle", 0.4, 1.6, -40.0, 0.9)]
    assert heard_segments(sounds, 3)[:, GURGLE].tolist() == [1, 1, 0]


def test_events_by_hand() -> None:
    assert true_events(scene([-99.0, 5.0, 5.0, -99.0])) == [("gurgle", 0.75, 2.25)]
