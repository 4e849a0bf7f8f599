"""Facts of each kind of sound made by likeness to everyday water and machines."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from tuner.terms import SoundKind
from tuner.training.makes.everyday import MACHINES, METHODS, room, sound

RATE = 16_000


def heard(kind: SoundKind, seed: int, drive: NDArray[np.float64] | None = None) -> NDArray[np.float64]:
    return sound(kind, np.random.default_rng(seed), RATE, np.ones(60) if drive is None else drive, 50.0)


def centre(x: NDArray[np.float64]) -> float:
    power = np.abs(np.fft.rfft(x))[1:] ** 2
    return float(np.exp(np.average(np.log(np.fft.rfftfreq(len(x), 1 / RATE)[1:]), weights=power)))


def brightness(kind: SoundKind) -> float:
    return float(np.median([centre(heard(kind, seed)) for seed in range(12)]))


def test_hiss_is_brighter_than_roar() -> None:
    assert brightness("hiss") > 3.0 * brightness("roar")


def test_trickle_is_brighter_than_gurgle() -> None:
    assert brightness("trickle") > 3.0 * brightness("gurgle")


def test_hum_stands_in_lines() -> None:
    for seed in range(6):
        power = np.abs(np.fft.rfft(heard("hum", seed) * np.hanning(3 * RATE))) ** 2
        assert np.sort(power)[-240:].sum() > 0.5 * power.sum()


def test_slurp_pulses_more_than_hiss() -> None:
    def unrest(kind: SoundKind) -> float:
        spans = [(heard(kind, seed)[RATE // 2 :].reshape(-1, 80) ** 2).mean(axis=1) for seed in range(8)]
        return float(np.median([span.std() / span.mean() for span in spans]))

    assert unrest("slurp") > 2.0 * unrest("hiss")


def test_flush_may_gasp_for_a_second_after_its_drive_but_no_longer() -> None:
    drive = np.concatenate((np.ones(50), np.zeros(40)))
    tails = [heard("flush", seed, drive)[50 * 800 :] for seed in range(8)]
    assert any(np.any(tail[: RATE // 2] != 0.0) for tail in tails)
    assert not any(np.any(tail[RATE:] != 0.0) for tail in tails)


@pytest.mark.parametrize("kind", ["splash", "roar", "hiss", "hum", "rattle", "trickle"])
def test_grows_with_the_drive(kind: SoundKind) -> None:
    drive = np.concatenate((np.ones(60), np.full(60, 3.0)))
    steps = []
    for seed in range(6):
        x = heard(kind, seed, drive)
        half = len(x) // 2
        steps.append(float(np.sqrt(np.mean(x[half:] ** 2) / np.mean(x[:half] ** 2))))
    assert 1.6 < np.median(steps) < 3.2


def test_each_kind_has_at_least_three_methods() -> None:
    assert len({**METHODS, **MACHINES}) == 9
    assert all(len(ways) >= 3 for ways in {**METHODS, **MACHINES}.values())


def test_rooms_never_fall_silent_and_differ() -> None:
    rooms = [room(np.random.default_rng(seed), RATE, 2 * RATE) for seed in range(8)]
    assert all(np.all((x.reshape(-1, 800) ** 2).mean(axis=1) > 0.0) for x in rooms)
    centres = [centre(x) for x in rooms]
    assert max(centres) > 2.0 * min(centres)
