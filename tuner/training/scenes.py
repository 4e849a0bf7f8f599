"""Scenes: drawn mixtures of rehearsal voices, household sound and room, with what can be heard in them.

A scene renders each source on its own, so that for every half second it is known how far each kind stands
over everything else in its best octave. A kind counts as audible from ``AUDIBLE_DB`` there, as absent below
``ABSENT_DB``; what lies between teaches nothing and is left out of fit and score. Some scenes hold a recording of
real water, of which is known only that it is one of a few kinds.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.cabinet import BEHIND_DOORS, doors_filter
from tuner.rehearsal.cases import draw_case, draw_noisy
from tuner.rehearsal.drives import SPOTS, drives_of
from tuner.rehearsal.rehearsal import Rehearsal
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
from tuner.sound.texture import THIRD_CENTRES_HZ, Texturer
from tuner.sound.weighting import a_weighting_db
from tuner.terms import CAUSE_NAMES, CYCLIC_KINDS, SOUND_KINDS, Samples, SoundKind
from tuner.training.household import made_up
from tuner.training.otherwise import otherwise, room_tone
from tuner.training.recordings import Clip
from tuner.training.wear import another_speed, worn

FIRST_ELSEWHERE_SEED = 10_000  # scenes to fit on from here on hold no sound or room of the rig's own
FIRST_REST_SEED = 20_000  # and from here on none but a room at rest, with household sound at most
FIRST_REPORT_SEED = 100_000  # draws from here on are never fitted, only scored
PLANT_SHARE = 0.45  # of the scenes follow a simulated installation, the others free drive curves
AUDIBLE_DB = 1.0
ABSENT_DB = -7.0
Truth = NDArray[np.int8]
"""1 audible, 0 absent, -1 unknown: (n, n_labels)."""
Source = tuple[str, NDArray[np.float64]]
"""A label and the pressure (Pa) that its sound alone makes at the microphone."""
LABELS: tuple[str, ...] = (*SOUND_KINDS, "outside")
_WATER_SHARE = 0.2  # of the scenes hold real water, where there are recordings of it
_SPEED_SHARE = 0.35  # of the free voices are played faster or slower: bubbles and vessels beyond the voices' own
_CLOSE_SHARE = 0.2  # of the scenes are heard from nearby, with hardly any room: most recordings in the world are
_OCTAVE_SLICES = ((0, 2), (2, 5), (5, 8), (8, 11), (11, 14), (14, 17), (17, 19))
_HUM_THIRDS = slice(0, 13)  # up to 1.6 kHz
_HUM_BONUS_DB = 2.0  # a hum is heard under a broad noise of a little more than its own A-weighted power
_WEIGHTS = np.array([1.3, 1.0, 1.0, 1.1, 0.9, 1.1, 1.2, 0.9, 0.9])  # how often each kind is drawn
_MIXTURES: tuple[tuple[SoundKind, ...], ...] = (
    ("hiss", "trickle"), ("hiss", "trickle"), ("gurgle", "slurp"), ("gurgle", "slurp", "roar"), ("gurgle", "roar"),
    ("gurgle", "hum"), ("hum", "rattle"), ("trickle", "hum"),
)


@dataclass(frozen=True, slots=True)
class Scene:
    """A rendered scene: what the microphone gives, and how far each label stands over the rest.

    ``samples`` float32 (n,), ``over_db`` (n_ticks, len(LABELS)): for the second that ends at tick t (0.5 s
    apart, the first at 1 s) the best octave's level of the label over everything else, -99 where silent and NaN where
    it is not known; ``any_of`` (n_ticks, len(LABELS)) marks the labels of which at least one is audible then.
    """

    samples: Samples
    sample_rate: int
    over_db: NDArray[np.float64]
    any_of: NDArray[np.bool_]


def known_of(over_db: NDArray[np.float64]) -> Truth:
    """Return what levels over the rest say: between absent and audible, and where there is no level, nothing.

    >>> known_of(np.array([-99.0, -3.0, 1.0, np.nan])).tolist()
    [0, -1, 1, -1]
    """
    truth = np.full(over_db.shape, -1, dtype=np.int8)
    truth[over_db >= AUDIBLE_DB] = 1
    truth[over_db < ABSENT_DB] = 0
    return truth


def is_elsewhere(seed: NDArray[np.integer] | int) -> NDArray[np.bool_]:
    """Tell of the seeds of scenes whether all sounds and rooms are made otherwise than by the rehearsal rig."""
    return (np.asarray(seed) >= FIRST_ELSEWHERE_SEED) & (np.asarray(seed) < FIRST_REPORT_SEED)


def draw_scene(
    rng: np.random.Generator, *, sample_rate: int, seconds: float, household: Sequence[Clip] | None = (),
    water: Sequence[Clip] = (), plant_seeds: tuple[int, int] = (1, FIRST_REPORT_SEED),
    evening: tuple[Samples, float] | None = None, otherwise_share: float = 0.0, at_rest: bool = False,
) -> Scene:
    """Draw a scene.

    ``household`` and ``water`` are recordings at ``sample_rate``, mixed into some scenes; installations are drawn
    with seeds from ``plant_seeds``. Without recordings of a household some is made up, with None there is
    none. ``evening`` is household sound with its level (dB re 20 µPa) that lies over the
    scene in any case. Of the sounds and rooms ``otherwise_share`` are not the rehearsal rig's (see ``otherwise``).
    A room ``at_rest`` holds none of our sounds.
    """
    steps = int(seconds / CONTROL_S)
    n = round(steps * CONTROL_S * sample_rate)
    mains_hz = float(rng.choice([50.0, 60.0]))
    background_db = float(rng.uniform(20.0, 36.0))
    may_be: tuple[SoundKind, ...] = ()
    if at_rest:
        sources: list[Source] = []
    elif water and rng.random() < _WATER_SHARE:
        clip = water[int(rng.integers(len(water)))]
        may_be = clip.may_be
        played = _recorded(rng, clip, n)
        played = another_speed(rng, played, n) if rng.random() < 0.5 else played
        sources = [("water", at_level(played, background_db + rng.uniform(3.0, 30.0)))]
    elif rng.random() < PLANT_SHARE:
        sources = _plant_sources(rng, sample_rate, steps, mains_hz, plant_seeds, otherwise_share)
    else:
        sources = _free_sources(rng, sample_rate, steps, mains_hz, otherwise_share)
    if rng.random() < _CLOSE_SHARE:
        near = 10 ** (rng.uniform(8.0, 25.0) / 20)
        sources = [(name, s * near) for name, s in sources]
    if otherwise_share and rng.random() < otherwise_share:
        room = room_tone(rng, sample_rate, n, background_db)
    else:
        room = Background(rng, sample_rate, background_db, mains_hz).render(n)
    if household is not None and rng.random() < ((0.2 if may_be else 0.5) if household else 0.3):
        real = household and rng.random() < 0.85
        outside = (
            _recorded(rng, household[int(rng.integers(len(household)))], n) if real else made_up(rng, sample_rate, n)
        )
        loudness = background_db + rng.uniform(-3.0, 26.0)
        sources.append(("outside", at_level(outside, loudness)))
    if evening is not None:
        sources.append(("outside", at_level(np.resize(evening[0], n).astype(np.float64), evening[1])))
    microphone = draw_microphone(rng, sample_rate)
    total = room + sum((s for _, s in sources), np.zeros(n))
    samples = worn(rng, microphone.record(total), sample_rate, otherwise_share)
    # the microphone's own noise and cut are part of the rest: they mask as the room does
    alone = microphone.record(room).astype(np.float64) * 20e-6 * 10 ** (microphone.full_scale_offset_db / 20)
    over, any_of = _over(sources, alone, sample_rate, may_be)
    if rng.random() < 0.7:  # an unknown gain behind the microphone
        peak = float(np.abs(samples).max()) + 1e-9
        samples = (samples * min(10 ** (rng.uniform(-35.0, 15.0) / 20), 0.98 / peak)).astype(np.float32)
    return Scene(samples, sample_rate, over, any_of)


def _free_sources(
    rng: np.random.Generator, sample_rate: int, steps: int, mains_hz: float, otherwise_share: float
) -> list[Source]:
    """Return sounds with drive curves and levels of their own."""
    sources: list[Source] = []
    for kind in _kinds(rng):
        pressure = _source(kind, rng, sample_rate, mains_hz, otherwise_share)(draw_drive(kind, rng, steps))
        if kind not in ("hum", "rattle") and rng.random() < _SPEED_SHARE:
            pressure = another_speed(rng, pressure, len(pressure))
        gain = 10 ** (rng.uniform(-9.0, 8.0) / 20)
        sources.append((kind, draw_room(rng, sample_rate).place(pressure) * gain))
    return sources


def _plant_sources(
    rng: np.random.Generator, sample_rate: int, steps: int, mains_hz: float, seeds: tuple[int, int],
    otherwise_share: float,
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
    placed = sounds_of(rehearsal, rng, sample_rate, steps, mains_hz, doors_db, otherwise_share)
    return [(kind, pressure * gain) for kind, pressure in placed]


def sounds_of(
    rehearsal: Rehearsal, rng: np.random.Generator, sample_rate: int, steps: int, mains_hz: float, doors_db: float,
    otherwise_share: float,
) -> list[Source]:
    """Return what each sounding spot of an installation makes at the microphone over the next control steps.

    ``doors_db`` is what the cabinet's doors take off; ``otherwise_share`` as in ``draw_scene``.
    """
    sources: list[Source] = []
    for spot, drive in drives_of(rehearsal.installation, rehearsal.plant.advance(steps)).items():
        if drive.any():
            pressure = _source(SPOTS[spot], rng, sample_rate, mains_hz, otherwise_share)(drive)
            if spot in BEHIND_DOORS:
                pressure = doors_filter(doors_db, sample_rate=sample_rate).push(pressure)
            sources.append((SPOTS[spot], draw_room(rng, sample_rate).place(pressure)))
    return sources


def _kinds(rng: np.random.Generator) -> tuple[SoundKind, ...]:
    """Draw what sounds: mostly one kind, at times a mixture that a fault brings about, at times any mixture."""
    draw = rng.random()
    if draw < 0.15:
        return _MIXTURES[int(rng.integers(len(_MIXTURES)))]
    count = int(rng.choice([0, 1, 2, 3], p=[0.2, 0.6, 0.16, 0.04]))
    chosen = rng.choice(len(SOUND_KINDS), size=count, replace=False, p=_WEIGHTS / _WEIGHTS.sum())
    return tuple(SOUND_KINDS[i] for i in chosen)


def _source(
    kind: SoundKind, rng: np.random.Generator, sample_rate: int, mains_hz: float, otherwise_share: float
) -> Callable[[NDArray[np.float64]], NDArray[np.float64]]:
    """Return what turns a drive into the pressure of a kind at 1 m: a voice of the rehearsal rig, or made otherwise."""
    if otherwise_share and rng.random() < otherwise_share:
        return lambda drive: otherwise(kind, rng, sample_rate, drive, mains_hz)
    voice = _voice(kind, rng, sample_rate, mains_hz)
    return lambda drive: voice.render(drive).astype(np.float64)


def _voice(kind: SoundKind, rng: np.random.Generator, sample_rate: int, mains_hz: float) -> Voice:
    shaft_hz = mains_hz * rng.uniform(0.97, 1.0) if rng.random() < 0.6 else rng.uniform(18.0, 75.0)
    if kind == "hum":
        return make_hum(sample_rate=sample_rate, rng=rng, mains_hz=mains_hz, shaft_hz=float(shaft_hz))
    if kind == "rattle":
        return make_rattle(sample_rate=sample_rate, rng=rng, mains_hz=mains_hz, shaft_hz=float(shaft_hz))
    return make_voice(kind, sample_rate=sample_rate, rng=rng)


def draw_drive(kind: SoundKind, rng: np.random.Generator, steps: int) -> NDArray[np.float64]:
    """Return a drive curve, shape (steps,), such as the kind has on a rig: steady with a wander, or bouts in cycles."""
    t = np.arange(steps) * CONTROL_S
    strength = float(np.clip(np.exp(rng.normal(-0.1, 0.7)), 0.1, 3.0))
    wander = np.exp(0.15 * np.cumsum(rng.standard_normal(steps)) * np.sqrt(CONTROL_S / 3.0))
    drive = np.clip(strength * wander / np.median(wander), 0.05, 3.0)
    if kind in CYCLIC_KINDS:
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


def _recorded(rng: np.random.Generator, clip: Clip, n: int) -> NDArray[np.float64]:
    samples = clip.samples.astype(np.float64)
    start = int(rng.integers(len(samples)))
    return np.resize(np.roll(samples, -start), n)


def at_level(samples: NDArray[np.float64], level_db: float) -> NDArray[np.float64]:
    """Scale to a mean level (dB re 20 µPa, unweighted from 100 Hz up is near enough to A for a confuser)."""
    rms = float(np.sqrt(np.mean(samples**2))) + 1e-12
    scaled: NDArray[np.float64] = samples * (20e-6 * 10 ** (level_db / 20) / rms)
    return scaled


def _third_power(pressure: NDArray[np.float64], sample_rate: int) -> NDArray[np.float64]:
    """Mean squares of the third-octaves over the second that ends at each tick, shape (n_ticks, 22)."""
    framer, texturer = Framer(sample_rate), Texturer(sample_rate)
    slabs = [*framer.push(pressure.astype(np.float32)), *framer.flush()]
    thirds = np.stack([t.thirds for s in slabs for t in texturer.push(s)]).astype(np.float64)
    sums = np.cumsum(np.concatenate([np.zeros((1, thirds.shape[1])), thirds]), axis=0)
    ends = np.arange(10, len(thirds) + 1, 5)
    return np.asarray((sums[ends] - sums[ends - 10]) / 10)


def _best_octave_db(power: NDArray[np.float64], others: NDArray[np.float64]) -> NDArray[np.float64]:
    octaves, rest = (np.stack([p[:, a:b].sum(axis=1) for a, b in _OCTAVE_SLICES], axis=1) for p in (power, others))
    ratio = 10 * np.log10((octaves + 1e-20) / (rest + 1e-20))
    loud = octaves > 1e-3 * octaves.max(axis=1, keepdims=True)  # an octave that carries a real part of the sound
    return np.asarray(np.where(loud, ratio, -99.0).max(axis=1))


def _hum_db(power: NDArray[np.float64], others: NDArray[np.float64]) -> NDArray[np.float64]:
    """A-weighted share below 1.6 kHz: a hum that carries no part of what the ear gets there is no noise."""
    curve = 10 ** (a_weighting_db(np.array(THIRD_CENTRES_HZ[_HUM_THIRDS])) / 10)
    ours, rest = power[:, _HUM_THIRDS] @ curve, others[:, _HUM_THIRDS] @ curve
    return np.asarray(np.where(ours > 0, 10 * np.log10((ours + 1e-20) / (rest + 1e-20)) + _HUM_BONUS_DB, -99.0))


def _over(
    sources: Sequence[Source], rest: NDArray[np.float64], sample_rate: int, may_be: tuple[SoundKind, ...]
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    base = _third_power(rest, sample_rate)
    parts: dict[str, NDArray[np.float64]] = {}
    for name, s in sources:
        parts[name] = parts.get(name, np.zeros_like(base)) + _third_power(s, sample_rate)
    over = np.full((len(base), len(LABELS)), -99.0)
    any_of = np.zeros(over.shape, dtype=bool)
    for name, power in parts.items():
        others = base + sum((q for other, q in parts.items() if other != name), np.zeros_like(base))
        found = (_hum_db if name == "hum" else _best_octave_db)(power, others)
        if name == "water":
            level = power.sum(axis=1)
            sounding = (found >= AUDIBLE_DB) & (level > 0.05 * np.quantile(level, 0.9))
            columns = [LABELS.index(kind) for kind in may_be]
            over[:, columns] = np.nan
            any_of[np.ix_(sounding, columns)] = True
        else:
            over[:, LABELS.index(name)] = found
    return over, any_of
