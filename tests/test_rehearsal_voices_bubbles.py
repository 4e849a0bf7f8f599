"""The note of one bubble and the cloud, against the published formulas."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tuner.errors import ConfigError
from tuner.rehearsal.voices.bubbles import (
    bubble_cloud,
    bubble_damping_van_den_doel,
    bubble_frequency_minnaert,
    bubble_note,
    drawn_sizes,
    power_law_radii,
)
from tuner.rehearsal.voices.grains import GrainBank, GrainStream
from tuner.rehearsal.voices.pipe import quarter_wave_modes

RATE = 48_000


@pytest.mark.parametrize(
    ("radius_mm", "frequency_hz"), [(0.5, 6572.0), (1.0, 3286.0), (2.0, 1643.0), (5.0, 657.0), (10.0, 329.0)]
)
def test_pitch_follows_minnaert(radius_mm: float, frequency_hz: float) -> None:
    # Minnaert 1933 at γ 1.4, 101325 Pa, 998.2 kg/m³, computed apart from this code.
    assert bubble_frequency_minnaert(radius_mm * 1e-3) == pytest.approx(frequency_hz, rel=2e-3)


@pytest.mark.parametrize(
    ("radius_mm", "damping_per_s"),
    [(0.15, 4786.0), (0.5, 904.0), (1.0, 358.0), (2.0, 145.5), (5.0, 46.4), (10.0, 20.2)],
)
def test_damping_follows_van_den_doel(radius_mm: float, damping_per_s: float) -> None:
    # van den Doel 2005 (ACM TAP 2): d = 0.13/r + 0.0072 r^-1.5, computed apart from this code.
    assert bubble_damping_van_den_doel(radius_mm * 1e-3) == pytest.approx(damping_per_s, rel=3e-3)


def test_radii_out_of_range_are_refused() -> None:
    with pytest.raises(ConfigError, match=r"radius_m=0\.0001 must be >= 0\.00015"):
        bubble_damping_van_den_doel(1e-4)
    with pytest.raises(ConfigError, match=r"radius_m=0\.0 must be > 0"):
        bubble_frequency_minnaert(0.0)


@pytest.mark.parametrize("radius_mm", [1.0, 3.0, 8.0])
def test_the_sound_of_a_bubble_has_that_pitch_and_that_decay(radius_mm: float) -> None:
    radius_m = radius_mm * 1e-3
    note = bubble_note(radius_m, sample_rate=RATE, damping_factor=1.0, rise=0.0)
    spectrum = np.abs(np.fft.rfft(note, 1 << 19))
    peak_hz = np.argmax(spectrum) * RATE / (1 << 19)
    # Minnaert: f r = 3.286 m/s at 1 atmosphere; the cut note shifts its peak by much less than 1 %.
    assert peak_hz == pytest.approx(3.286 / radius_m, rel=0.01)
    crests = np.array([np.abs(part).max() for part in np.array_split(note, 12)])[1:9]
    at_s = (np.arange(12) + 0.5)[1:9] * len(note) / 12 / RATE
    damping = -np.polyfit(at_s, np.log(crests), 1)[0]
    # van den Doel 2005, as above; crests per part follow the envelope within some percent.
    assert damping == pytest.approx(0.13 / radius_m + 0.0072 * radius_m**-1.5, rel=0.1)


def test_a_rising_note_ends_higher_than_it_began() -> None:
    note = bubble_note(3e-3, sample_rate=RATE, damping_factor=1.0, rise=0.4)
    crossings = np.flatnonzero(np.diff(np.signbit(note)))
    gaps = np.diff(crossings)
    assert gaps[-8:-2].mean() < 0.8 * gaps[2:8].mean()


def test_a_note_that_the_rate_cannot_hold_is_silent() -> None:
    assert not bubble_note(0.3e-3, sample_rate=16_000, damping_factor=1.0, rise=0.0).any()
    assert bubble_note(0.3e-3, sample_rate=RATE, damping_factor=1.0, rise=0.0).any()


@given(exponent=st.floats(0.2, 4.0), low=st.floats(0.2, 1.0), ratio=st.floats(1.5, 20.0))
def test_radii_stay_between_their_ends_and_grow_with_the_share(exponent: float, low: float, ratio: float) -> None:
    radii = power_law_radii(np.linspace(0.0, 1.0, 33), low, low * ratio, exponent)
    assert radii[0] == pytest.approx(low)
    assert radii[-1] == pytest.approx(low * ratio)
    assert np.all(np.diff(radii) > 0.0)


def test_a_power_law_has_the_median_that_follows_from_it() -> None:
    # By hand: density ~ r^-2 from 1 to 3 has the cumulative (1 - 1/r) / (1 - 1/3), a half at r = 1.5.
    assert power_law_radii(np.array([0.5]), 1.0, 3.0, 2.0)[0] == pytest.approx(1.5)


def test_a_cloud_of_small_bubbles_sounds_between_the_pitches_of_its_ends() -> None:
    sizes = drawn_sizes(
        np.random.default_rng(0),
        smallest_mm=(0.6, 0.6),
        largest_mm=(2.0, 2.0),
        exponent=(1.5, 1.5),
        growth=(0.8, 0.8),
        spread=(0.8, 0.8),
        rising=(0.0, 0.0),
        damping_factor=(1.8, 1.8),
    )
    cloud = bubble_cloud(sizes, sample_rate=RATE, rng=np.random.default_rng(1))
    starts = np.sort(np.random.default_rng(2).integers(0, RATE, 800))
    cloud.scatter(starts, np.ones(800))
    power = np.abs(np.fft.rfft(cloud.take(RATE))) ** 2
    # Minnaert: 2 mm sounds at 1643 Hz, 0.6 mm at 5477 Hz.
    assert power[1500:6000].sum() > 0.85 * power.sum()


def test_grains_ring_on_into_the_next_chunk() -> None:
    def stream() -> GrainStream:
        return GrainStream(GrainBank([np.ones(100), np.ones(40)]), np.random.default_rng(3), 0.5)

    one, other = stream(), stream()
    for each in (one, other):
        each.scatter(np.array([5, 30, 90]), np.ones(3))
    whole = one.take(300)
    parts = np.concatenate([other.take(n) for n in (10, 50, 40, 200)])
    np.testing.assert_allclose(parts, whole, atol=1e-12)
    assert not whole[200:].any()


def test_a_bank_has_unit_mean_energy() -> None:
    bank = GrainBank([np.ones(10), 3.0 * np.ones(50), np.zeros(20)])
    energy = 0.0
    for grain in range(3):
        buffer = np.zeros(200)
        bank.lay(buffer, np.array([7]), np.array([grain]), np.array([1.0]))
        energy += float(np.sum(buffer**2))
    assert energy / 3 == pytest.approx(1.0)


def test_a_pipe_closed_at_one_end_has_odd_modes() -> None:
    # c/4L with c 346 m/s: 0.2, 0.5 and 1 m give 433, 173 and 87 Hz.
    assert [round(quarter_wave_modes(length, below_hz=500.0)[0]) for length in (0.2, 0.5, 1.0)] == [432, 173, 86]
    modes = quarter_wave_modes(1.0, below_hz=500.0)
    np.testing.assert_allclose(np.array(modes) / modes[0], [1.0, 3.0, 5.0])
