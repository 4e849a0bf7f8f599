"""Cases elsewhere: the same draw gives the same sound, a fault sounds and a tuned system does not; sounds alone."""

from __future__ import annotations

import numpy as np

from tuner.rehearsal.cases import draw_case
from tuner.terms import SOUND_KINDS
from tuner.training.elsewhere import MEANS, case_elsewhere, sound_alone

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


def test_every_kind_means_a_cause_where_it_is_alone_and_each_draw_is_another_sound() -> None:
    assert set(MEANS) == set(SOUND_KINDS)
    one, again, other = (sound_alone("gurgle", seed, sample_rate=RATE, seconds=2.0) for seed in (3, 3, 4))
    assert one.shape == (2 * RATE,)
    assert one.dtype == np.float32
    assert np.abs(one).max() <= 1.0
    assert np.array_equal(one, again)
    assert not np.array_equal(one, other)
