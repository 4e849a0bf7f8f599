"""Flows, excitations and bodies: convolution as by hand, modes at the pitches of their laws, events at their rates."""

from __future__ import annotations

import numpy as np
import pytest

from tuner.training.makes.modal_parts import GRID_HZ, REACH_S, Bodies, Stage, convolved, unit

RATE = 16_000
STEP = RATE // 20


def stage(drive: np.ndarray | None = None, seed: int = 1) -> Stage:
    return Stage(np.random.default_rng(seed), RATE, np.ones(100) if drive is None else drive, 50.0, STEP)


def bodies(seed: int = 1) -> Bodies:
    return Bodies(np.random.default_rng(seed), RATE)


def peak_hz(x: np.ndarray) -> float:
    return float(np.argmax(np.abs(np.fft.rfft(x, 8 * RATE)))) / 8.0


@pytest.mark.parametrize(("n", "length"), [(5000, 1), (5000, 700), (300, 900), (40_000, 4800)])
def test_convolved_is_the_sum_of_the_convolutions(n: int, length: int) -> None:
    rng = np.random.default_rng(3)
    pairs = [(rng.standard_normal(n), rng.standard_normal(size)) for size in (length, max(1, length // 3))]
    by_hand = sum(np.convolve(a, b)[:n] for a, b in pairs)
    assert convolved(pairs) == pytest.approx(by_hand, abs=1e-9)


def test_modes_are_decaying_sines() -> None:
    hz, decay_s = np.array([440.0, 1300.0]), np.array([0.03, 0.005])
    rung = bodies().modes(hz, decay_s, np.array([1.0, -0.5]))
    t = np.arange(len(rung)) / RATE
    wanted = np.exp(-t / 0.03) * np.sin(880.0 * np.pi * t) - 0.5 * np.exp(-t / 0.005) * np.sin(2600.0 * np.pi * t)
    assert rung == pytest.approx(unit(wanted), abs=1e-3)


def test_a_body_whose_modes_all_lie_too_high_passes_the_blow() -> None:
    assert np.array_equal(bodies().modes(np.array([9000.0]), np.array([0.1]), np.ones(1)), [1.0])


def test_a_closed_column_sounds_an_octave_below_an_open_one() -> None:
    opened, closed = (bodies().column(0.5, 0.01, shut, 2.0) for shut in (False, True))
    # c / 2L with end corrections of 0.6 radii
    assert peak_hz(opened) == pytest.approx(345.0 / (2 * 0.512), rel=0.04)
    assert peak_hz(closed) == pytest.approx(345.0 / (4 * 0.506), rel=0.04)


def test_a_longer_column_is_lower_and_a_wetter_one_decays_sooner() -> None:
    def after_100_ms(wet: float) -> float:
        return float(np.sum(bodies().column(0.5, 0.02, True, wet)[RATE // 10 :] ** 2))

    assert peak_hz(bodies().column(1.0, 0.02, True, 3.0)) < 0.6 * peak_hz(bodies().column(0.4, 0.02, True, 3.0))
    assert after_100_ms(12.0) < 0.1 * after_100_ms(2.0)


@pytest.mark.parametrize("radius_mm", [1.0, 2.5, 6.0])
def test_a_note_has_minnaerts_pitch_and_large_bubbles_ring_longer(radius_mm: float) -> None:
    note = bodies().note(radius_mm, 1.0, 0.0)
    assert peak_hz(note) == pytest.approx(3280.0 / radius_mm, rel=0.02)
    assert len(note) > len(bodies().note(0.7 * radius_mm, 1.0, 0.0))


def test_a_rising_note_rises() -> None:
    still, rising = (bodies().note(4.0, 1.0, rise) for rise in (0.0, 0.5))
    assert peak_hz(rising) > 1.02 * peak_hz(still)


def test_bodies_are_of_unit_energy_short_and_unlike() -> None:
    for make in ("pane", "wall", "any_column", "housing", "reflections"):
        drawn = [getattr(bodies(seed), make)() for seed in range(5)]
        assert all(np.sum(x**2) == pytest.approx(1.0) and len(x) <= REACH_S * RATE + 1 for x in drawn)
        assert len({peak_hz(x) for x in drawn}) > 3
    assert peak_hz(bodies().crate((0.4, 0.5))) < 600.0


def test_a_colour_peaks_at_its_centre_and_falls_as_told() -> None:
    def level_db(hz: float) -> float:
        x = bodies().colour(1000.0, 2.0, 1.0)
        return float(20.0 * np.log10(np.abs(np.sum(x * np.exp(-2j * np.pi * hz * np.arange(len(x)) / RATE)))))

    assert level_db(1000.0) - level_db(125.0) == pytest.approx(30.0, abs=2.0)  # 3 octaves of 12 dB less the knee's 6
    assert level_db(1000.0) - level_db(4000.0) == pytest.approx(6.0, abs=2.0)


def test_through_is_one_body_behind_the_other() -> None:
    a, b = np.exp(-np.arange(200) / 20.0), np.cos(np.arange(300)) * np.exp(-np.arange(300) / 30.0)
    assert bodies().through(a, b)[:499] == pytest.approx(unit(np.convolve(a, b)), abs=1e-6)


@pytest.mark.parametrize("chaos", [0.0, 0.9])
def test_times_come_at_their_rate_only_while_driven(chaos: float) -> None:
    drive = np.concatenate((np.zeros(40), np.ones(100), np.zeros(40)))
    times = stage(drive).times(40.0, 4.0, chaos=chaos)
    assert times.min() >= 2.0
    assert times.max() <= 7.0
    assert len(times) == pytest.approx(200, rel=0.15)


def test_no_gap_is_longer_than_allowed() -> None:
    wild = stage(np.ones(600))
    assert np.max(np.diff(wild.times(5.0, 0.5))) > 0.8
    assert np.max(np.diff(wild.times(5.0, 0.5, 2.0))) < 0.41


def test_flows_are_positive_about_1_and_as_restless_as_told() -> None:
    for seed in range(12):
        st = stage(np.ones(400), seed)
        calm, wild = st.flow((0.02, 0.03)), st.flow((0.6, 0.7))
        assert np.min(calm) >= 0.0
        assert np.min(wild) >= 0.0
        assert np.mean(calm) == pytest.approx(1.0, abs=0.1)
        assert np.std(wild) > 5.0 * np.std(calm)
    assert len(calm) == 20 * GRID_HZ


def test_shorter_blows_are_brighter() -> None:
    hard, soft = (stage().blows(np.array([1.0]), np.ones(1), touch_s) for touch_s in (0.0001, 0.004))
    bright = [np.sum(np.diff(x) ** 2) / np.sum(x**2) for x in (hard, soft)]
    assert bright[0] > 10.0 * bright[1]


def test_bubbles_waver_in_pitch_but_never_come_early() -> None:
    times = np.arange(20) * 0.2 + 0.5
    laid = stage().bubbles(times, np.ones(20), (3.0, 3.1), 1.0, 1)
    assert np.max(np.abs(laid[: RATE // 2 - 2])) < 1e-12
    pitches = [peak_hz(laid[int(at * RATE) : int((at + 0.15) * RATE)]) for at in times]
    assert np.median(pitches) == pytest.approx(1080.0, rel=0.1)
    assert len(set(pitches)) > 10


def test_layers_are_heard_at_their_levels() -> None:
    st = stage()
    high, low = (np.sin(2.0 * np.pi * hz * np.arange(st.n) / RATE) for hz in (3000.0, 1500.0))
    heard = np.abs(np.fft.rfft(st.hear((0.0, [(high, st.blow())]), (-20.0, [(0.01 * low, st.blow())]))))
    assert 20.0 * np.log10(heard[7500] / heard[15_000]) == pytest.approx(-20.0, abs=0.5)


def test_the_place_runs_through_each_bout_and_returns_in_long_ones() -> None:
    place = stage(np.concatenate((np.zeros(10), np.ones(20), np.zeros(5), np.ones(200)))).place(4.0)
    assert not place[:500].any()
    assert np.all(np.diff(place[500:1500]) > 0.0)
    assert place[1499] > 0.99
    assert np.sum(np.diff(place[1750:]) < 0.0) == 2
