"""The dynamics of the unruly make and its voices: each does what it is named for."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from tuner.training.makes.unruly_parts import Course, unit

RATE = 16_000
Floats = NDArray[np.float64]


def course(seed: int = 1, drive: Floats | None = None) -> Course:
    return Course(np.random.default_rng(seed), RATE, np.ones(200) if drive is None else drive, 50.0)


def peak_hz(x: Floats) -> float:
    return float(np.argmax(np.abs(np.fft.rfft(x))) * RATE / x.size)


def test_the_grid_covers_the_drive_and_knows_its_bouts() -> None:
    c = course(drive=np.concatenate([np.zeros(10), np.ones(20), np.zeros(10), np.full(10, 2.0)]))
    assert [(c.t[a], c.t[b]) for a, b in c.bouts] == [pytest.approx((0.5, 1.5)), pytest.approx((2.0, 2.5))]
    assert c.up(c.level).shape == (c.n,)
    assert not c.level[: int(0.5 * c.per_s)].any()
    assert c.level[int(2.4 * c.per_s)] == pytest.approx(2.0**0.7, rel=0.01)
    assert c.fade(0.2)[int(1.72 * c.per_s)] == 0.0


@pytest.mark.parametrize("order", [1, 2])
def test_a_walk_has_unit_deviation_and_its_own_pace(order: int) -> None:
    slow, fast = (np.concatenate([course(k).walk(hz, order) for k in range(20)]) for hz in (2.0, 20.0))
    assert np.std(slow) == pytest.approx(1.0, abs=0.15)
    assert np.std(fast) == pytest.approx(1.0, abs=0.15)
    assert np.std(np.diff(fast)) > 2.5 * np.std(np.diff(slow))


def test_a_vessel_spills_as_often_as_it_fills_and_more_evenly_with_even_thresholds() -> None:
    for seed in range(6):
        c = course(seed)
        even, _ = c.spills(np.full(c.points, 8.0), 0.02)
        uneven, _ = c.spills(np.full(c.points, 8.0), 0.7)
        assert 60 < even.size < 100
        assert np.std(np.diff(even)) < 0.5 * np.std(np.diff(uneven))


def test_no_rest_is_longer_than_allowed_and_none_is_filled_outside_the_drive() -> None:
    c = course(drive=np.concatenate([np.ones(100), np.zeros(60), np.ones(60)]))
    times = c.unrested(np.array([0.2, 0.4, 4.0]), 1.0)
    inside = times[times < 5.0]
    assert np.diff(inside).max() <= 1.0
    assert not ((times > 5.0) & (times < 8.0)).any()


def test_self_excitement_keeps_the_rate_and_makes_clusters() -> None:
    counts = {branching: [] for branching in (0.0, 0.85)}
    for branching, found in counts.items():
        for seed in range(8):
            c = course(seed)
            times = c.excited(np.full(c.points, 60.0), branching, 0.02)
            found.append(np.histogram(times, bins=50, range=(0.0, 10.0))[0])
    alone, together = (np.concatenate(found) for found in counts.values())
    assert alone.mean() == pytest.approx(12.0, rel=0.1)
    assert together.mean() == pytest.approx(12.0, rel=0.2)
    assert np.var(together) > 4.0 * np.var(alone)


def test_the_air_core_rests_gulps_or_stays_open_by_its_current() -> None:
    c = course()
    rest, gulps, stays = (c.core(np.full(c.points, current), 3.0, 0.0) for current in (0.0, 0.7, 2.0))

    def turns(core: Floats) -> int:
        return int(np.sum(np.diff((core[250:] > 0.5).astype(int)) == 1))

    assert turns(rest) == 0
    assert rest[250:].max() < 0.3
    assert 15 < turns(gulps) < 45
    assert turns(stays) == 0
    assert stays[250:].min() > 0.5


def test_a_switch_is_on_at_the_start_of_a_bout_for_its_share() -> None:
    shares = []
    for seed in range(10):
        c = course(seed)
        on = c.switch(0.6, 0.2, 4.0)
        assert on[0] == 1.0
        assert set(np.unique(on)) <= {0.0, 1.0}
        shares.append(on.mean())
    assert np.mean(shares) == pytest.approx(0.75, abs=0.08)


def test_notes_sound_at_their_pitch_and_drop_the_one_before() -> None:
    c = course(drive=np.ones(20))
    first = c.notes(np.array([0.1]), np.array([1000.0]), np.ones(1), 50.0, 0.0, 0.0, 1.0)
    both = c.notes(np.array([0.1, 0.15]), np.array([1000.0, 400.0]), np.ones(2), 50.0, 0.0, 0.0, 1.0)
    assert peak_hz(first) == pytest.approx(1000.0, abs=10.0)
    assert peak_hz(both[int(0.15 * RATE):]) == pytest.approx(400.0, abs=10.0)
    assert not first[: int(0.099 * RATE)].any()
    assert np.array_equal(first[: int(0.14 * RATE)], both[: int(0.14 * RATE)])


def test_a_moving_band_pass_follows_its_centre_and_passes_all_when_open() -> None:
    c = course(drive=np.ones(60))
    x = c.white()
    assert np.allclose(c.moving(x, [], 1.0), x, atol=1e-4)
    out = c.moving(x, [(np.where(c.t < 1.5, 400.0, 3000.0), 8.0, 1.0)])
    assert peak_hz(out[: RATE]) == pytest.approx(400.0, rel=0.25)
    assert peak_hz(out[2 * RATE:]) == pytest.approx(3000.0, rel=0.25)


def test_a_comb_repeats_its_past() -> None:
    c = course(drive=np.ones(4))
    tick = np.zeros(c.n)
    tick[5] = 1.0
    out = c.comb(tick, 1000.0, 0.5)
    assert out[[5, 21, 37]].tolist() == [1.0, 0.5, 0.25]
    assert np.count_nonzero(out[:40]) == 3


def test_a_rasp_pulses_at_its_rate() -> None:
    c = course()
    pulses = c.rasp(np.full(c.points, 40.0), 6.0, 0.1)
    assert peak_hz(pulses - pulses.mean()) == pytest.approx(40.0, abs=0.5)
    assert np.mean(pulses**2) == pytest.approx(1.0)
    assert pulses.min() >= 0.0


def test_unit_counts_what_sounds() -> None:
    assert np.array_equal(unit(np.array([0.0, 3.0, -3.0, 0.0])), np.array([0.0, 1.0, -1.0, 0.0]))
    assert not unit(np.zeros(3)).any()
