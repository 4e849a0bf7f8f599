from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tuner.capture.reckoning import TOLERANCE_S, WINDOW_S, Reckoning

RATE = 48_000
FRAMES = 4_800
# A loss early in one window shows in the least of the next, and a window ends with a block.
FOUND_WITHIN_S = 2 * (WINDOW_S + 0.1 + 0.015)


def arrivals(duration_s: float, drift: float = 0.0, jitter_s: float = 0.0, seed: int = 0) -> np.ndarray:
    """Arrival times of 100 ms blocks of a card whose clock runs slow by ``drift``, each late by up to a jitter."""
    n = round(duration_s / 0.1)
    late = np.random.default_rng(seed).uniform(0, jitter_s, n) if jitter_s else np.zeros(n)
    times: np.ndarray = np.maximum.accumulate(50.0 + 0.1 * (1 + drift) * np.arange(1, n + 1) + late)
    return times


def test_a_steady_stream_has_no_gap() -> None:
    reckoning = Reckoning(RATE)
    places = [reckoning.push(t, FRAMES, 0, False) for t in arrivals(60)]
    assert [p.start for p in places] == [FRAMES * i for i in range(600)]
    assert {p.dropped for p in places} == {0}


@given(
    drift=st.floats(-2e-3, 2e-3),
    jitter_s=st.floats(0.001, 0.09),
    seed=st.integers(0, 1000),
)
def test_drift_and_late_deliveries_are_no_loss(drift: float, jitter_s: float, seed: int) -> None:
    reckoning = Reckoning(RATE)
    dropped = [reckoning.push(t, FRAMES, 0, False).dropped for t in arrivals(120, drift, jitter_s, seed)]
    assert sum(dropped) == 0


def test_hours_of_drift_are_no_loss() -> None:
    reckoning = Reckoning(RATE)
    assert sum(reckoning.push(t, FRAMES, 0, False).dropped for t in arrivals(3 * 3600, 1e-4)) == 0


@given(loss_s=st.floats(TOLERANCE_S + 0.02, 5.0), at=st.integers(30, 90), jitter_s=st.floats(0.001, 0.015))
def test_an_unannounced_loss_is_found_by_the_clock(loss_s: float, at: int, jitter_s: float) -> None:
    times = arrivals(15, jitter_s=jitter_s)
    times[at:] += loss_s
    reckoning = Reckoning(RATE)
    places = [reckoning.push(t, FRAMES, 0, False) for t in times]
    found = [i for i, p in enumerate(places) if p.dropped]
    assert len(found) == 1
    assert times[found[0]] - times[at] <= FOUND_WITHIN_S
    assert places[found[0]].dropped / RATE == pytest.approx(loss_s, abs=jitter_s + 1 / RATE)


def test_a_loss_is_found_though_the_first_block_came_late() -> None:
    times = arrivals(15)
    times[0] += 0.09
    times[60:] += 0.1
    reckoning = Reckoning(RATE)
    dropped = [reckoning.push(t, FRAMES, 0, False).dropped for t in times]
    assert sum(dropped) / RATE == pytest.approx(0.1, abs=0.001)


def test_a_server_that_delivers_one_of_its_periods_late_loses_nothing() -> None:
    times = arrivals(120, jitter_s=0.02)
    times[300:550] += 0.06
    times[800:] += 0.06
    reckoning = Reckoning(RATE)
    assert sum(reckoning.push(t, FRAMES, 0, False).dropped for t in times) == 0


def test_a_slow_leak_is_found() -> None:
    times = arrivals(60) + 0.02 * np.arange(600) / 10  # twenty milliseconds lost in every second
    reckoning = Reckoning(RATE)
    dropped = sum(reckoning.push(t, FRAMES, 0, False).dropped for t in times)
    # Of 1.2 s a quarter passes for drift, and the last losses are not yet found at the end.
    assert 0.9 - TOLERANCE_S - 0.05 <= dropped / RATE <= 1.2


@pytest.mark.parametrize("stall_s", [0.3, 0.9, 1.5, 4.0])
def test_a_stall_that_catches_up_is_no_loss(stall_s: float) -> None:
    times = arrivals(20)
    held = (times > 60.0) & (times <= 60.0 + stall_s)
    times[held] = 60.0 + stall_s
    reckoning = Reckoning(RATE)
    assert sum(reckoning.push(t, FRAMES, 0, False).dropped for t in times) == 0


def test_a_known_loss_moves_the_start_by_just_that() -> None:
    reckoning = Reckoning(RATE)
    times = arrivals(10)
    for t in times[:20]:
        reckoning.push(t, FRAMES, 0, False)
    place = reckoning.push(times[23], FRAMES, 3 * FRAMES, False)
    assert (place.start, place.dropped) == (23 * FRAMES, 3 * FRAMES)
    assert sum(reckoning.push(t, FRAMES, 0, False).dropped for t in times[24:]) == 0


def test_an_overflow_is_measured_by_the_clock_at_once() -> None:
    reckoning = Reckoning(RATE)
    times = arrivals(10)
    times[50:] += 0.25
    places = [reckoning.push(t, FRAMES, 0, i == 50) for i, t in enumerate(times)]
    assert places[50].dropped == pytest.approx(0.25 * RATE, abs=2)
    assert sum(p.dropped for p in places) == places[50].dropped


def test_an_overflow_that_the_clock_does_not_show_still_breaks_the_stream() -> None:
    reckoning = Reckoning(RATE)
    places = [reckoning.push(t, FRAMES, 0, i == 50) for i, t in enumerate(arrivals(10))]
    assert [i for i, p in enumerate(places) if p.dropped] == [50]
    assert places[50].dropped == 1


@given(away_s=st.floats(0.5, 5000.0))
def test_an_interruption_is_as_long_as_the_clock_says(away_s: float) -> None:
    reckoning = Reckoning(RATE)
    times = arrivals(6)
    times[30:] += away_s
    for t in times[:30]:
        reckoning.push(t, FRAMES, 0, False)
    reckoning.interrupt()
    place = reckoning.push(times[30], FRAMES, 0, False)
    assert place.dropped == pytest.approx(away_s * RATE, abs=2)
    assert place.start == 30 * FRAMES + place.dropped
    assert sum(reckoning.push(t, FRAMES, 0, False).dropped for t in times[31:]) == 0


@given(
    steps=st.lists(
        st.tuples(st.floats(0, 3), st.integers(1, 9_600), st.integers(0, 9_600), st.booleans()), min_size=1, max_size=60
    )
)
def test_starts_and_lengths_always_add_up(steps: list[tuple[float, int, int, bool]]) -> None:
    reckoning = Reckoning(RATE)
    now_s, position = 0.0, 0
    for wait_s, frames, lost, overflowed in steps:
        now_s += wait_s
        place = reckoning.push(now_s, frames, lost, overflowed)
        assert place.dropped >= lost
        assert place.start == position + place.dropped
        position = place.start + frames
        assert reckoning.position == position
