"""Cases elsewhere: the same draw gives the same sound, a fault sounds and a tuned system does not."""

from __future__ import annotations

import numpy as np

from tuner.rehearsal.cases import draw_case
from tuner.training.elsewhere import case_elsewhere

RATE = 16_000


def test_the_same_draw_gives_the_same_sound_of_the_drawn_installation() -> None:
    (one, rig), (other, _) = (case_elsewhere("vent too wide", 7, sample_rate=RATE, seconds=4.0) for _ in range(2))
    assert one.shape == (4 * RATE,)
    assert one.dtype == np.float32
    assert np.array_equal(one, other)
    assert np.abs(one).max() <= 1.0
    assert rig == draw_case("vent too wide", 7, sample_rate=RATE).rig


def test_a_gulping_siphon_is_far_less_steady_than_a_tuned_system() -> None:
    def unrest_db(cause: str | None, seed: int) -> float:
        sound, _ = case_elsewhere(cause, seed, sample_rate=RATE, seconds=24.0)  # type: ignore[arg-type]
        levels = 10 * np.log10(np.mean(sound[: 24 * RATE].reshape(-1, RATE // 4) ** 2, axis=1) + 1e-15)
        return float(np.quantile(levels, 0.95) - np.quantile(levels, 0.05))

    gulping, tuned = (np.median([unrest_db(c, s) for s in range(5)]) for c in ("siphon over-open", None))
    assert gulping > tuned + 3.0
