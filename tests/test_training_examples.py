"""Examples: what a scene holds follows from its seed, and rows keep the order of the seeds."""

from __future__ import annotations

import numpy as np
import pytest

import tuner.training.examples as training
from tuner.signatures.ears import FEATURE_NAMES
from tuner.training.examples import Examples, joined, scene_examples
from tuner.training.scenes import FIRST_ELSEWHERE_SEED, FIRST_REPORT_SEED, FIRST_REST_SEED, LABELS, draw_scene


@pytest.mark.parametrize(
    ("seed", "share", "at_rest"),
    [
        (3, 0.0, False), (FIRST_ELSEWHERE_SEED - 1, 0.0, False), (FIRST_ELSEWHERE_SEED, 1.0, False),
        (FIRST_REST_SEED - 1, 1.0, False), (FIRST_REST_SEED, 1.0, True), (FIRST_REPORT_SEED, 0.0, False),
    ],
)
def test_the_seed_tells_where_sounds_come_from(
    seed: int, share: float, at_rest: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: dict[str, object] = {}

    def drawn(rng: np.random.Generator, *, sample_rate: int, **given: object) -> object:
        told.update(given)
        return draw_scene(rng, sample_rate=sample_rate, seconds=2.0, household=None, at_rest=True)

    monkeypatch.setattr(training, "draw_scene", drawn)
    features, over_db, any_of = scene_examples(seed, {})
    assert (told["otherwise_share"], told["at_rest"]) == (share, at_rest)
    assert features.shape[1] == len(FEATURE_NAMES)
    assert over_db.shape == any_of.shape == (len(features), len(LABELS))


def test_joined_keeps_the_order_and_what_a_small_file_holds() -> None:
    parts = [
        Examples(np.full((2, 3), 0.1 + i), np.zeros((2, 4)), np.zeros((2, 4), dtype=bool), np.full(2, i))
        for i in (5, 2)
    ]
    both = joined(parts)
    assert both.scene.tolist() == [5, 5, 2, 2]
    assert both.features.dtype == np.float64
    assert np.array_equal(both.features, both.features.astype(np.float32))
