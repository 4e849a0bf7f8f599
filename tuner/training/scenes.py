"""Scenes: drawn mixtures of rehearsal voices, household sound and room, with what can be heard in them.

A scene renders each source on its own, so that for every half second it is known how far each kind stands
over everything else in its best octave. A kind counts as audible from ``AUDIBLE_DB`` there, as absent below
``ABSENT_DB``; what lies between teaches nothing and is left out of fit and score.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.cabinet import BEHIND_DOORS, doors_filter
from tuner.rehearsal.cases import draw_case, draw_noisy
from tuner.rehearsal.drives import SPOTS, drives_of
from tuner.rehearsal.voices import (
    CONTROL_S,
    Background,
    Voice,
    draw_microphone,
    draw_room,
    make_hum,
    make_rattle,
    make_voice,
)
from tuner.sound.frames import Framer
from tuner.sound.texture import Texturer
from tuner.terms import CAUSE_NAMES, SOUND_KINDS, Samples, SoundKind
from tuner.training.household import made_up

FIRST_REPORT_SEED = 100_000  # draws from here on are never fitted, only scored
PLANT_SHARE = 0.45  # of the scenes follow a simulated installation, the others free drive curves
AUDIBLE_DB = 1.0
ABSENT_DB = -7.0
Source = tuple[str, NDArray[np.float64]]
"""A label and the pressure (Pa) that its sound alone makes at the microphone."""
LABELS: tuple[str, ...] = (*SOUND_KINDS, "outside")
_OCTAVE_SLICES = ((0, 2), (2, 5), (5, 8), (8, 11), (11, 14), (14, 17), (17, 19))
_NARROW = ("hum",)  # a line is heard under a broad noise that is stronger in its octave
_NARROW_BONUS_DB = 2.0
_WEIGHTS = np.array([1.3, 1.0, 1.0, 1.1, 0.9, 1.1, 1.2, 0.9, 0.9])  # how often each kind is drawn
_MIXTURES: tuple[tuple[SoundKind, ...], ...] = (
    ("hiss", "trickle"), ("hiss", "trickle"), ("gurgle", "slurp"), ("gurgle", "slurp", "roar"), ("gurgle", "roar"),
    ("gurgle", "hum"), ("hum", "rattle"), ("trickle", "hum"),
)


@dataclass(frozen=True, slots=True)
class Scene:
    """A rendered scene: what the microphone gives, and how far each label stands over the rest.

    ``samples`` float32 (n,), ``over_db`` (n_ticks, len(LABELS)): for the second that ends at tick t (0.5 s
    apart, the first at 1 s) the best octave's level of the label over everything else, -99 where silent.
    """

    samples: Samples
    sample_rate: int
    over_db: NDArray[np.float64]


def draw_scene(
    rng: np.random.Generator, *, sample_rate: int, seconds: float, household: Sequence[Samples] = (),
    plant_seeds: tuple[int, int] = (1, FIRST_REPORT_SEED),
) -> Scene:
    """Draw a scene.

    ``household`` are recordings at ``sample_rate`` without water, mixed into some scenes; installations are drawn
    with seeds from ``plant_seeds``.
    """
    steps = int(seconds / CONTROL_S)
    n = round(steps * CONTROL_S * sample_rate)
    mains_hz = float(rng.choice([50.0, 60.0]))
    background_db = float(rng.uniform(20.0, 36.0))
    sources = (
        _plant_sources(rng, sample_rate, steps, mains_hz, plant_seeds) if rng.random() < PLANT_SHARE
        else _free_sources(rng, sample_rate, steps, mains_hz)
    )
    room = Background(rng, sample_rate, background_db, mains_hz).render(n)
    if rng.random() < (0.45 if household else 0.3):
        outside = _recorded(rng, household, n) if household and rng.random() < 0.85 else made_up(rng, sample_rate, n)
        loudness = background_db + rng.uniform(-3.0, 26.0)
        sources.append(("outside", _at_level(outside, loudness)))
    microphone = draw_microphone(rng, sample_rate)
    total = room + sum((s for _, s in sources), np.zeros(n))
    samples = microphone.record(total)
    # the microphone's own noise and cut are part of the rest: they mask as the room does
    alone = microphone.record(room).astype(np.float64) * 20e-6 * 10 ** (microphone.full_scale_offset_db / 20)
    over = _over(sources, alone, sample_rate)
    if rng.random() < 0.7:  # an unknown gain behind the microphone
        peak = float(np.abs(samples).max()) + 1e-9
        samples = (samples * min(10 ** (rng.uniform(-35.0, 15.0) / 20), 0.98 / peak)).astype(np.float32)
    return Scene(samples, sample_rate, over)


def _free_sources(rng: np.random.Generator, sample_rate: int, steps: int, mains_hz: float) -> list[Source]:
    """Return sounds with drive curves and levels of their own."""
    sources: list[Source] = []
    for kind in _kinds(rng):
        pressure = _voice(kind, rng, sample_rate, mains_hz).render(_drive(kind, rng, steps)).astype(np.float64)
        gain = 10 ** (rng.uniform(-9.0, 8.0) / 20)
        sources.append((kind, draw_room(rng, sample_rate).place(pressure) * gain))
    return sources


def _plant_sources(
    rng: np.random.Generator, sample_rate: int, steps: int, mains_hz: float, seeds: tuple[int, int]
) -> list[Source]:
    """Return the sounds of a drawn installation with one fault, with none, or out of tune, at one common level."""
    seed = int(rng.integers(*seeds))
    if rng.random() < 0.25:
        rehearsal = draw_noisy(seed, sample_rate=sample_rate)
        rehearsal.wait(float(rng.uniform(0.0, 120.0)))
    else:
        causes = (None, *CAUSE_NAMES[:11])
        rehearsal = draw_case(causes[int(rng.integers(len(causes)))], seed, sample_rate=sample_rate)
    gain = 10 ** (rng.uniform(-9.0, 8.0) / 20)
    doors_db = -rng.uniform(0.0, 12.0)
    sources: list[Source] = []
    for spot, drive in drives_of(rehearsal.installation, rehearsal.plant.advance(steps)).items():
        if drive.any():
            pressure = _voice(SPOTS[spot], rng, sample_rate, mains_hz).render(drive).astype(np.float64)
            if spot in BEHIND_DOORS:
                pressure = doors_filter(doors_db, sample_rate=sample_rate).push(pressure)
            sources.append((SPOTS[spot], draw_room(rng, sample_rate).place(pressure) * gain))
    return sources


def _kinds(rng: np.random.Generator) -> tuple[SoundKind, ...]:
    """Draw what sounds: mostly one kind, at times a mixture that a fault brings about, at times any mixture."""
    draw = rng.random()
    if draw < 0.15:
        return _MIXTURES[int(rng.integers(len(_MIXTURES)))]
    count = int(rng.choice([0, 1, 2, 3], p=[0.14, 0.66, 0.16, 0.04]))
    chosen = rng.choice(len(SOUND_KINDS), size=count, replace=False, p=_WEIGHTS / _WEIGHTS.sum())
    return tuple(SOUND_KINDS[i] for i in chosen)


def _voice(kind: SoundKind, rng: np.random.Generator, sample_rate: int, mains_hz: float) -> Voice:
    shaft_hz = mains_hz * rng.uniform(0.97, 1.0) if rng.random() < 0.6 else rng.uniform(18.0, 75.0)
    if kind == "hum":
        return make_hum(sample_rate=sample_rate, rng=rng, mains_hz=mains_hz, shaft_hz=float(shaft_hz))
    if kind == "rattle":
        return make_rattle(sample_rate=sample_rate, rng=rng, mains_hz=mains_hz, shaft_hz=float(shaft_hz))
    return make_voice(kind, sample_rate=sample_rate, rng=rng)


def _drive(kind: SoundKind, rng: np.random.Generator, steps: int) -> NDArray[np.float64]:
    """A drive curve such as the kind has on a rig: steady with a wander, or bouts in cycles."""
    t = np.arange(steps) * CONTROL_S
    strength = float(np.clip(np.exp(rng.normal(-0.1, 0.7)), 0.1, 3.0))
    wander = np.exp(0.15 * np.cumsum(rng.standard_normal(steps)) * np.sqrt(CONTROL_S / 3.0))
    drive = np.clip(strength * wander / np.median(wander), 0.05, 3.0)
    if kind in ("slurp", "flush"):
        if kind == "slurp" and rng.random() < 0.25:
            return np.asarray(drive, dtype=np.float64)
        on_s = rng.uniform(0.7, 7.0) if kind == "slurp" else rng.uniform(1.5, 7.0)
        off_s = np.exp(rng.uniform(np.log(0.6), np.log(30.0))) if kind == "slurp" else rng.uniform(2.5, 30.0)
        period = on_s + off_s
        phase = rng.uniform(0, period)
        bouts: NDArray[np.float64] = drive * (((t + phase) % period) < on_s)
        return bouts
    if rng.random() < 0.35:  # switched on or off once, so that onsets are known
        edge = rng.uniform(0.15, 0.85) * t[-1]
        drive = drive * ((t > edge) if rng.random() < 0.5 else (t < edge))
    elif kind == "gurgle" and rng.random() < 0.4:
        gate = np.repeat(rng.random(steps // 10 + 1) < rng.uniform(0.35, 0.8), 10)[:steps]
        drive = drive * gate
    return np.asarray(drive, dtype=np.float64)


def _recorded(rng: np.random.Generator, household: Sequence[Samples], n: int) -> NDArray[np.float64]:
    clip = household[int(rng.integers(len(household)))].astype(np.float64)
    repeats = -(-n // len(clip)) + 1
    start = int(rng.integers(len(clip)))
    return np.tile(clip, repeats)[start : start + n]


def _at_level(samples: NDArray[np.float64], level_db: float) -> NDArray[np.float64]:
    """Scale to a mean level (dB re 20 µPa, unweighted from 100 Hz up is near enough to A for a confuser)."""
    rms = float(np.sqrt(np.mean(samples**2))) + 1e-12
    scaled: NDArray[np.float64] = samples * (20e-6 * 10 ** (level_db / 20) / rms)
    return scaled


def _octave_power(pressure: NDArray[np.float64], sample_rate: int) -> NDArray[np.float64]:
    framer, texturer = Framer(sample_rate), Texturer(sample_rate)
    slabs = [*framer.push(pressure.astype(np.float32)), *framer.flush()]
    thirds = np.stack([t.thirds for s in slabs for t in texturer.push(s)]).astype(np.float64)
    return np.stack([thirds[:, a:b].sum(axis=1) for a, b in _OCTAVE_SLICES], axis=1)


def _over(
    sources: Sequence[Source], rest: NDArray[np.float64], sample_rate: int
) -> NDArray[np.float64]:
    base = _octave_power(rest, sample_rate)
    powers = [(name, _octave_power(s, sample_rate)) for name, s in sources]
    ticks = np.arange(10, len(base) + 1, 5)
    over = np.full((ticks.size, len(LABELS)), -99.0)

    def second(power: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.stack([power[t - 10 : t].mean(axis=0) for t in ticks])

    rest_s = second(base)
    parts: dict[str, NDArray[np.float64]] = {}
    for name, p in powers:
        parts[name] = parts.get(name, np.zeros_like(rest_s)) + second(p)
    for name, power in parts.items():
        others = rest_s + sum((q for other, q in parts.items() if other != name), np.zeros_like(rest_s))
        ratio = 10 * np.log10((power + 1e-20) / (others + 1e-20))
        loud = power > 1e-3 * power.max(axis=1, keepdims=True)  # an octave that carries a real part of the sound
        best = np.where(loud, ratio, -99.0).max(axis=1)
        over[:, LABELS.index(name)] = best + (_NARROW_BONUS_DB if name in _NARROW else 0.0)
    return over
