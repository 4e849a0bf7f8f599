"""The sounds made as source, path and receiver: what tells the kinds apart, in the spectrum and above all in time."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from tuner.terms import SoundKind
from tuner.training.makes.plumbed import room, sound

RATE = 16_000
STEP = RATE // 20
Floats = NDArray[np.float64]


def heard(kind: SoundKind, seed: int, drive: Floats | None = None) -> Floats:
    return sound(kind, np.random.default_rng(seed), RATE, np.ones(60) if drive is None else drive, 50.0)


def centre_hz(x: Floats) -> float:
    power = np.abs(np.fft.rfft(x))[1:] ** 2
    return float(np.exp(np.average(np.log(np.fft.rfftfreq(len(x), 1 / RATE)[1:]), weights=power)))


def levels(x: Floats, span: int = STEP) -> Floats:
    return np.sqrt(np.mean(x[: len(x) // span * span].reshape(-1, span) ** 2, axis=1))


@cache
def centres(kind: SoundKind) -> Floats:
    return np.array([centre_hz(heard(kind, seed, np.ones(20))) for seed in range(8)])


def test_films_and_holes_are_bright_and_falls_and_plugs_are_dull() -> None:
    dull = max(np.median(centres("roar")), np.median(centres("gurgle")))
    assert np.median(centres("trickle")) > 2.5 * dull
    assert np.median(centres("hiss")) > 3.0 * dull
    assert np.median(centres("splash")) > 1.5 * dull


@pytest.mark.parametrize("kind", ["gurgle", "slurp", "splash", "flush", "roar", "rattle"])
def test_draws_of_a_kind_lie_far_apart(kind: SoundKind) -> None:
    drawn = np.sort(centres(kind))
    assert drawn[-2] > 1.6 * drawn[1]


@cache
def gurgle_levels() -> tuple[Floats, ...]:
    return tuple(levels(heard("gurgle", seed, np.ones(120))) for seed in range(10))


def test_a_gurgle_never_rests_for_two_seconds() -> None:
    for loud in gurgle_levels():
        sounding = np.flatnonzero(loud > 0.08 * np.quantile(loud, 0.95))
        assert np.diff(sounding, prepend=-1, append=120).max() < 40


def test_some_gurgles_rest_between_chugs_and_others_never_do() -> None:
    quiet = [float(np.mean(loud < 0.2 * np.quantile(loud, 0.95))) for loud in gurgle_levels()]
    assert min(quiet) < 0.05
    assert max(quiet) > 0.25


def test_a_slurp_sounds_in_its_bouts_and_rests_between_them() -> None:
    drive = np.zeros(120)
    drive[10:40] = drive[80:100] = 1.0
    for seed in range(6):
        loud = levels(heard("slurp", seed, drive))
        assert np.all(loud[[*range(10), *range(51, 80), *range(111, 120)]] == 0.0)
        assert np.sum(loud[10:44] ** 2) > 0.0
        assert np.sum(loud[80:104] ** 2) > 0.02 * np.sum(loud**2)


@pytest.mark.parametrize("kind", ["slurp", "flush"])
def test_the_shortest_and_faintest_bout_is_heard(kind: SoundKind) -> None:
    drive = np.where(np.arange(30) == 10, 0.01, 0.0)
    assert all(heard(kind, seed, drive).any() for seed in range(10))


def test_a_slurp_rasps_more_than_a_hiss_and_a_rush() -> None:
    def unrest(kind: SoundKind) -> float:
        spans = [levels(heard(kind, seed)[RATE // 2 : -RATE // 2], 80) ** 2 for seed in range(5)]
        return float(np.median([span.std() / span.mean() for span in spans]))

    assert unrest("slurp") > 2.0 * unrest("hiss")
    assert unrest("slurp") > 1.3 * unrest("roar")


def test_a_flush_swells_and_gasps_for_a_while_after_its_end() -> None:
    drive = np.concatenate((np.zeros(4), np.ones(80), np.zeros(50)))
    early, late, after = [], [], []
    for seed in range(5):
        power = levels(heard("flush", seed, drive)) ** 2
        assert not np.any(power[4 + 80 + 29 :])
        early.append(power[4:12].mean())
        late.append(np.sort(power[12:84])[-20:].mean())
        after.append(power[84:100].max() / power.max())
    assert np.median(np.array(late) / np.array(early)) > 4.0
    assert sum(share > 0.01 for share in after) >= 3


def test_a_hum_stands_in_lines_and_a_hiss_does_not() -> None:
    def in_lines(kind: SoundKind, seed: int) -> float:
        power = np.abs(np.fft.rfft(heard(kind, seed) * np.hanning(60 * STEP))) ** 2
        return float(np.sort(power)[-120:].sum() / power.sum())

    assert np.median([in_lines("hum", seed) for seed in range(5)]) > 0.8
    assert np.median([in_lines("hiss", seed) for seed in range(5)]) < 0.3


def test_a_rattle_is_made_of_knocks() -> None:
    def peaks(kind: SoundKind) -> float:
        crest = []
        for seed in range(8):
            rough = np.diff(heard(kind, seed))
            crest.append(float(np.mean(rough**4) / np.mean(rough**2) ** 2))
        return float(np.median(crest))

    assert peaks("rattle") > 1.5 * peaks("hiss")
    assert peaks("rattle") > 6.0


@pytest.mark.parametrize("kind", ["gurgle", "trickle", "splash", "hiss", "roar", "hum", "rattle"])
def test_grows_with_the_drive(kind: SoundKind) -> None:
    drive = np.concatenate((np.ones(40), np.full(40, 3.0)))
    rises = []
    for seed in range(5):
        loud = levels(heard(kind, seed, drive)) ** 2
        rises.append(float(np.sqrt(loud[40:].mean() / loud[:40].mean())))
    assert 1.5 < np.median(rises) < 4.0


def test_rooms_are_dull_steady_and_unlike() -> None:
    rooms = [room(np.random.default_rng(seed), RATE, 2 * RATE + 7) for seed in range(8)]
    assert all(len(x) == 2 * RATE + 7 and levels(x).min() > 0.0 for x in rooms)
    drawn = [centre_hz(x) for x in rooms]
    assert max(drawn) > 1.5 * min(drawn)
    assert np.median(drawn) < 800.0
