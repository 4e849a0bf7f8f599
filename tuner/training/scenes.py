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
from tuner.terms import SOUND_KINDS, Samples, SoundKind

AUDIBLE_DB = 1.0
ABSENT_DB = -7.0
LABELS: tuple[str, ...] = (*SOUND_KINDS, "outside")
_OCTAVE_SLICES = ((0, 2), (2, 5), (5, 8), (8, 11), (11, 14), (14, 17), (17, 19))
_NARROW = ("hum",)  # a line is heard under a broad noise that is stronger in its octave
_NARROW_BONUS_DB = 6.0
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
    rng: np.random.Generator, *, sample_rate: int, seconds: float, household: Sequence[Samples] = ()
) -> Scene:
    """Draw a scene. ``household`` are recordings at ``sample_rate`` without water, mixed into some scenes."""
    steps = int(seconds / CONTROL_S)
    n = round(steps * CONTROL_S * sample_rate)
    mains_hz = float(rng.choice([50.0, 60.0]))
    background_db = float(rng.uniform(20.0, 36.0))
    chosen = _kinds(rng)
    sources: list[tuple[str, NDArray[np.float64]]] = []
    for kind in chosen:
        pressure = _voice(kind, rng, sample_rate, mains_hz).render(_drive(kind, rng, steps)).astype(np.float64)
        placed = draw_room(rng, sample_rate).place(pressure)[:n]
        sources.append((kind, placed * 10 ** (rng.uniform(-9.0, 8.0) / 20)))
    room = Background(rng, sample_rate, background_db, mains_hz).render(n)
    if rng.random() < (0.45 if household else 0.3):
        outside = _recorded(rng, household, n) if household and rng.random() < 0.85 else _made_up(rng, sample_rate, n)
        loudness = background_db + rng.uniform(-3.0, 26.0)
        sources.append(("outside", _at_level(outside, loudness)))
    microphone = draw_microphone(rng, sample_rate)
    total = room + sum((s for _, s in sources), np.zeros(n))
    samples = microphone.record(total)
    # the microphone's own noise and cut are part of the rest: they mask as the room does
    alone = microphone.record(room) / max(microphone_gain(microphone), 1e-12)
    over = _over(sources, np.asarray(alone, dtype=np.float64), sample_rate)
    if rng.random() < 0.7:  # an unknown gain behind the microphone
        peak = float(np.abs(samples).max()) + 1e-9
        samples = (samples * min(10 ** (rng.uniform(-35.0, 15.0) / 20), 0.98 / peak)).astype(np.float32)
    return Scene(samples, sample_rate, over)


def _kinds(rng: np.random.Generator) -> tuple[SoundKind, ...]:
    """Draw what sounds: mostly one kind, at times a mixture that a fault brings about, at times any mixture."""
    draw = rng.random()
    if draw < 0.15:
        return _MIXTURES[int(rng.integers(len(_MIXTURES)))]
    count = int(rng.choice([0, 1, 2, 3], p=[0.14, 0.66, 0.16, 0.04]))
    chosen = rng.choice(len(SOUND_KINDS), size=count, replace=False, p=_WEIGHTS / _WEIGHTS.sum())
    return tuple(SOUND_KINDS[i] for i in chosen)


def microphone_gain(microphone: object) -> float:
    """Return full scale per pascal of a rehearsal microphone."""
    offset_db = float(microphone.full_scale_offset_db)  # type: ignore[attr-defined]
    return 1.0 / (20e-6 * 10 ** (offset_db / 20))


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
            return drive
        on_s = rng.uniform(0.7, 7.0) if kind == "slurp" else rng.uniform(1.5, 7.0)
        off_s = np.exp(rng.uniform(np.log(0.6), np.log(30.0))) if kind == "slurp" else rng.uniform(2.5, 30.0)
        period = on_s + off_s
        phase = rng.uniform(0, period)
        return drive * (((t + phase) % period) < on_s)
    if rng.random() < 0.35:  # switched on or off once, so that onsets are known
        edge = rng.uniform(0.15, 0.85) * t[-1]
        drive = drive * ((t > edge) if rng.random() < 0.5 else (t < edge))
    elif kind == "gurgle" and rng.random() < 0.4:
        gate = np.repeat(rng.random(steps // 10 + 1) < rng.uniform(0.35, 0.8), 10)[:steps]
        drive = drive * gate
    return drive


def _recorded(rng: np.random.Generator, household: Sequence[Samples], n: int) -> NDArray[np.float64]:
    clip = household[int(rng.integers(len(household)))].astype(np.float64)
    repeats = -(-n // len(clip)) + 1
    start = int(rng.integers(len(clip)))
    return np.tile(clip, repeats)[start : start + n]


def _made_up(rng: np.random.Generator, sample_rate: int, n: int) -> NDArray[np.float64]:
    """Household sound without a recording: chords, syllables of buzz, knocks, ticks, or a fan."""
    t = np.arange(n) / sample_rate
    kind = int(rng.integers(5))
    out = np.zeros(n)
    if kind == 0:  # chords that change
        length = rng.uniform(0.15, 0.8)
        for start in np.arange(0.0, t[-1], length):
            i = slice(int(start * sample_rate), min(n, int((start + length * 1.5) * sample_rate)))
            local = t[i] - t[i.start]
            for _ in range(3):
                f = 110 * 2 ** (rng.integers(0, 37) / 12)
                for k in range(1, 6):
                    out[i] += np.sin(2 * np.pi * f * k * local) / k**1.3 * np.exp(-local / rng.uniform(0.1, 1.0))
    elif kind == 1:  # voiced syllables
        pitch = rng.uniform(90, 250) * (1 + 0.08 * np.sin(2 * np.pi * rng.uniform(0.3, 2) * t))
        phase = 2 * np.pi * np.cumsum(pitch) / sample_rate
        formants = rng.uniform((300, 900, 2200), (800, 2000, 3200))
        for k in range(1, 30):
            weight = np.exp(-0.5 * ((k * pitch.mean() - formants) / 200) ** 2).sum() + 0.02
            out += weight * np.sin(k * phase)
        out += 0.05 * rng.standard_normal(n)
        gate = np.repeat(rng.random(int(t[-1] * 5) + 2) < 0.65, sample_rate // 5)[:n]
        out *= np.pad(np.convolve(gate, np.hanning(sample_rate // 15), "same"), (0, max(0, n - gate.size)))[:n]
    elif kind == 2:  # knocks and steps
        for start in np.cumsum(rng.exponential(rng.uniform(0.3, 2.0), 200)):
            i = int(start * sample_rate)
            if i >= n:
                break
            local = t[: min(n - i, sample_rate // 2)]
            knock = np.exp(-local / rng.uniform(0.01, 0.06)) * np.sin(2 * np.pi * rng.uniform(60, 400) * local)
            out[i : i + local.size] += knock + 0.3 * np.exp(-local / 0.004) * rng.standard_normal(local.size)
    elif kind == 3:  # a clock
        every = rng.choice([0.2, 0.25, 0.5, 1.0])
        f = rng.uniform(1500, 6000)
        for start in np.arange(rng.uniform(0, every), t[-1], every):
            i = int(start * sample_rate)
            local = t[: min(n - i, sample_rate // 20)]
            out[i : i + local.size] += np.exp(-local / 0.004) * np.sin(2 * np.pi * f * local)
    else:  # a fan
        spectrum = np.fft.rfft(rng.standard_normal(n))
        f = np.maximum(np.fft.rfftfreq(n, 1 / sample_rate), 20)
        out = np.fft.irfft(spectrum * f ** rng.uniform(-1.2, -0.3), n)
        blade = rng.uniform(20, 200)
        out *= 1 + rng.uniform(0, 0.4) * np.sin(2 * np.pi * blade * t)
    return out


def _at_level(samples: NDArray[np.float64], level_db: float) -> NDArray[np.float64]:
    """Scale to a mean level (dB re 20 µPa, unweighted from 100 Hz up is near enough to A for a confuser)."""
    rms = float(np.sqrt(np.mean(samples**2))) + 1e-12
    return samples * (20e-6 * 10 ** (level_db / 20) / rms)


def _octave_power(pressure: NDArray[np.float64], sample_rate: int) -> NDArray[np.float64]:
    framer, texturer = Framer(sample_rate), Texturer(sample_rate)
    scale = 100.0  # pascal of a quiet room, lifted well over the arithmetic floor of a texture
    slabs = [*framer.push((pressure * scale).astype(np.float32)), *framer.flush()]
    thirds = np.stack([t.thirds for s in slabs for t in texturer.push(s)]).astype(np.float64)
    return np.stack([thirds[:, a:b].sum(axis=1) for a, b in _OCTAVE_SLICES], axis=1)


def _over(
    sources: Sequence[tuple[str, NDArray[np.float64]]], rest: NDArray[np.float64], sample_rate: int
) -> NDArray[np.float64]:
    base = _octave_power(rest, sample_rate)
    powers = [(name, _octave_power(s, sample_rate)) for name, s in sources]
    ticks = np.arange(10, len(base) + 1, 5)
    over = np.full((ticks.size, len(LABELS)), -99.0)
    second = lambda p: np.stack([p[t - 10 : t].mean(axis=0) for t in ticks])  # noqa: E731
    rest_s = second(base)
    parts = [(name, second(p)) for name, p in powers]
    for name, power in parts:
        others = rest_s + sum((q for other, q in parts if other != name), np.zeros_like(rest_s))
        ratio = 10 * np.log10((power + 1e-20) / (others + 1e-20))
        loud = power > 1e-3 * power.max(axis=1, keepdims=True)  # an octave that carries a real part of the sound
        best = np.where(loud, ratio, -99.0).max(axis=1)
        over[:, LABELS.index(name)] = best + (_NARROW_BONUS_DB if name in _NARROW else 0.0)
    return over
