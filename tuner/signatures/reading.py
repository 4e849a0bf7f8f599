"""Reading: the looks of a listening window summed up, kind by kind.

Seconds in which outside noise prevails are left out; what remains is clean. A kind's excess is the level of its
own seconds over the room: over the measured floor where there is one, over the quiet tenth of the clean seconds
otherwise. A period is looked for in the level itself, at a tenth of a second, and must be borne out by events.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from tuner.signatures.catalogue import SIGNATURES
from tuner.signatures.ears import FEATURE_NAMES, LOOK_S, Look
from tuner.terms import CYCLIC_KINDS, SOUND_KINDS, Floor, Heard, Levels, Reading, Sound, SoundKind

KEPT_FEATURES: tuple[str, ...] = (
    "clicks high", "clicks mid", "spread 4k", "centroid", "tilt", "line strongest", "line twice mains", "rotor 2k",
    "gulp return", "regular return", "range 30", "shape 250", "shape 4k",
)
PAUSES = "pauses"
_QUIET_SHARE = 0.1
_PAUSE_LOOKS = 4  # of half a second: a gurgle catches its breath for less, gulps rest for longer
_PAUSE_DEPTH = 0.33  # of the range of levels, from below
_PAUSE_BETWEEN = (0.05, 0.97)  # shares of the looks between whose levels that range lies
_PAUSE_LEAST_DB, _PAUSE_LEAST_LOOKS = 4.0, 20  # a steadier, or shorter, window tells nothing
_FIFTHS = 5
_FIFTH_HEARD = 0.1  # presence from which a kind counts as heard in a fifth
_HEARD_FROM = 0.02  # mean probability from which a kind is worth a line in a reading


@dataclass(frozen=True, slots=True)
class Window:
    """The material of a reading: looks, their probabilities (n, n_labels), and which sounds were active (n, 9)."""

    looks: Sequence[Look]
    probability: NDArray[np.float64]
    active: NDArray[np.bool_]
    sounds: tuple[Sound, ...]
    levels: Levels
    duration_s: float
    dropped: int
    clipped: int


def make_reading(window: Window, *, floor: Floor | None = None, offset_db: float | None = None) -> Reading:
    """Sum up a window."""
    outside = _masked(window)
    clean = ~outside
    power_db = 10 * np.log10(np.array([k.level for k in window.looks]) + 1e-20) + (offset_db or 0.0)
    quiet_db = _quiet_db(power_db[clean], floor)
    heard = tuple(
        h for i, kind in enumerate(SOUND_KINDS) if (h := _heard(kind, i, window, clean, power_db, quiet_db)) is not None
    )
    excess = None
    if floor is not None and np.any(clean):
        excess = float(10 * np.log10(np.mean(10 ** (power_db[clean] / 10)))) - floor.levels.laeq_db
    kept: dict[str, float] = {}
    if np.any(clean):
        features = np.stack([k.features for k in window.looks])[clean]
        kept = {name: float(np.median(features[:, FEATURE_NAMES.index(name)])) for name in KEPT_FEATURES}
        if (paused := pauses(power_db[clean])) is not None:
            kept[PAUSES] = paused
    sounds = tuple(s for s in window.sounds if not _is_masked(s, outside))
    return Reading(
        duration_s=window.duration_s, clean_s=float(clean.sum()) * LOOK_S, levels=window.levels, sounds=sounds,
        heard=heard, excess_db=excess, outside_share=float(outside.mean()), dropped=window.dropped,
        clipped=window.clipped, features=kept,
    )


def pauses(level_db: NDArray[np.float64]) -> float | None:
    """Return the share of a window's looks that lie in pauses of two seconds or more; None for a steady level.

    ``level_db`` has shape (n_looks,). What comes and goes (gulps, flushes) rests between its bouts; what a pipe does
    all the time (gurgle, trickle, roar) flutters, but never rests so long. No source: a difference of their nature,
    whatever they sound like.
    """
    if level_db.size < _PAUSE_LEAST_LOOKS:
        return None
    low, high = np.quantile(level_db, _PAUSE_BETWEEN)
    if high - low < _PAUSE_LEAST_DB:
        return None
    resting = np.concatenate([[False], level_db < low + _PAUSE_DEPTH * (high - low), [False]])
    turns = np.flatnonzero(np.diff(resting))
    lengths = turns[1::2] - turns[::2]
    return float(lengths[lengths >= _PAUSE_LOOKS].sum() / level_db.size)


def _masked(window: Window) -> NDArray[np.bool_]:
    """Seconds in which outside noise prevails: it is likely, and likelier than any sound of the plumbing."""
    outside = window.probability[:, -1]
    best = window.probability[:, :-1].max(axis=1)
    return np.asarray((outside >= SIGNATURES[-1].on) & (outside > best))


def _quiet_db(power_db: NDArray[np.float64], floor: Floor | None) -> float:
    if floor is not None:
        return floor.levels.laeq_db
    return float(np.quantile(power_db, _QUIET_SHARE)) if power_db.size else 0.0


def _heard(
    kind: SoundKind, index: int, window: Window, clean: NDArray[np.bool_], power_db: NDArray[np.float64],
    quiet_db: float,
) -> Heard | None:
    if not np.any(clean):
        return None
    probability = float(window.probability[clean, index].mean())
    active = window.active[:, index] & clean
    if probability < _HEARD_FROM and not np.any(active):
        return None
    events = [s for s in window.sounds if s.kind == kind]
    loud = power_db[active] if np.any(active) else power_db[clean]
    excess = float(10 * np.log10(np.mean(10 ** (loud / 10)))) - quiet_db
    period = _period_s(kind, window, events) if kind in CYCLIC_KINDS else None
    return Heard(
        kind=kind, share=float(active.sum() / clean.sum()), probability=probability, excess_db=max(0.0, excess),
        period_s=period, events=len(events),
        lasting=_lasting(window.probability[clean, index], active[clean]),
    )


def _lasting(probability: NDArray[np.float64], active: NDArray[np.bool_]) -> float:
    """Return in what share of the fifths of the clean looks a kind was heard."""
    fifths = zip(np.array_split(probability, _FIFTHS), np.array_split(active, _FIFTHS), strict=True)
    heard = [max(float(p.mean()), float(a.mean())) >= _FIFTH_HEARD for p, a in fifths if p.size]
    return sum(heard) / len(heard)


def _period_s(kind: SoundKind, window: Window, events: Sequence[Sound]) -> float | None:
    """Return the regular return of bouts: the median of the onsets' distances when they agree, else the level's own."""
    onsets = np.array([s.start_s for s in events])
    if onsets.size >= 3:
        gaps = np.diff(onsets)
        middle = float(np.median(gaps))
        if float(np.median(np.abs(gaps - middle))) <= 0.25 * middle:
            return middle
    if onsets.size == 2:
        return float(onsets[1] - onsets[0])
    trace = np.log(np.array([k.level for k in window.looks]) + 1e-20)
    if kind == "slurp" and trace.size >= 12 and events:
        return _return_s(trace)
    return None


def _return_s(trace: NDArray[np.float64]) -> float | None:
    """Return the lag (s) of the first strong peak of a level's autocorrelation beyond 1.5 s, or None."""
    centred = trace - trace.mean()
    n = centred.size
    energy = float(centred @ centred)
    if energy < 0.05 * n * 0.01:
        return None
    acf = scipy.fft.irfft(np.abs(scipy.fft.rfft(centred, 2 * n)) ** 2)[: n // 2] / energy
    acf /= 1 - np.arange(acf.size) / n
    for lag in range(3, acf.size - 1):
        if acf[lag] > 0.5 and acf[lag] >= acf[lag - 1] and acf[lag] >= acf[lag + 1]:
            return lag * LOOK_S
    return None


def _is_masked(sound: Sound, outside: NDArray[np.bool_]) -> bool:
    first = int(sound.start_s / LOOK_S)
    last = max(first + 1, int(np.ceil(sound.end_s / LOOK_S)))
    part = outside[max(0, first - 1) : last]
    return bool(part.size and part.mean() > 0.8)
