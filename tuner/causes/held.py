"""The places of a scan side by side: levels in third-octaves, what all places share, and what is heard where."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tuner.errors import ConfigError
from tuner.signatures.holding import Holding
from tuner.sound.texture import THIRD_CENTRES_HZ
from tuner.sound.weighting import a_weighting_db
from tuner.terms import PLACES, SOUND_KINDS, Place, SoundKind

Floats = NDArray[np.float64]

UNKNOWN = "unknown"
AUDIBLE_DB = 6.0  # over the common sound: from here on the course of a level tells something
_LOUD_SHARE = 0.85
_SETTLING = 2  # tenths of a second in which a hand comes to rest
_MASKED = 0.8  # a hand at the microphone rubs and shakes: surer than elsewhere that it is another sound

OWN_HZ: dict[str, tuple[float, float]] = {
    "gurgle": (200.0, 2000.0), "slurp": (200.0, 4000.0), "trickle": (1000.0, 8000.0), "splash": (400.0, 8000.0),
    "hiss": (2000.0, 12500.0), "flush": (315.0, 6300.0), "roar": (160.0, 4000.0), "hum": (100.0, 630.0),
    "rattle": (630.0, 6300.0), UNKNOWN: (250.0, 8000.0),
}
"""The third-octaves in which each kind mostly sounds; common practice and the kinds' own descriptions."""


@dataclass(frozen=True, slots=True)
class PlaceLevels:
    """The places of a scan side by side.

    ``steady``, ``loud`` and ``loudest`` (n_places, 22) are mean squares of the third-octaves: in the middle tenths of a
    second, in the louder ones of the quietest holding, in those of the loudest. ``common`` (22,) is what all places
    share; ``sure`` (n_places, 10) the probability of each label,
    ``weight`` (n_places, 10) the same weighed with the power over the common one; ``course`` the tenths of a second
    of each place.
    """

    places: tuple[Place, ...]
    steady: Floats
    loud: Floats
    loudest: Floats
    common: Floats
    usable: NDArray[np.bool_]
    sure: Floats
    weight: Floats
    unsure_weight: float
    course: tuple[tuple[Floats, ...], ...]
    seconds: dict[Place, float]
    disturbed: tuple[Place, ...]

    def own(self, kind: str) -> Floats:
        """Return the weight of each third-octave for a kind, shape (22,): its A-weighting within the kind's range."""
        low, high = OWN_HZ[kind]
        hz = np.array(THIRD_CENTRES_HZ)
        inside = (hz >= low) & (hz <= high) & self.usable
        if not inside.any():
            inside = self.usable
        return _a_curve() * inside

    def heard(self, kind: SoundKind) -> float:
        """Return how sure a kind is heard at the place where it is heard most surely."""
        return float(self.sure[:, SOUND_KINDS.index(kind)].max())

    def over_db(self, kind: str) -> Floats:
        """Return, for each place, the louder level in a kind's bands over what all places share."""
        own = self.own(kind)
        return decibels(self.loudest @ own) - decibels(np.asarray(self.common @ own))

    @property
    def common_db(self) -> float:
        """The A-weighted level that all places share."""
        return float(decibels(np.asarray(self.common @ (_a_curve() * self.usable))))

    def range_db(self, kind: str) -> float:
        """Return how far the kind's level came or went at most while the microphone was held at one place."""
        own = self.own(kind)
        audible = self.over_db(kind) > AUDIBLE_DB
        ranges = [0.0]
        for holdings, is_audible in zip(self.course, audible, strict=True):
            for thirds in holdings if is_audible else ():
                level = decibels(np.convolve(thirds @ own, np.full(3, 1.0 / 3.0), "valid"))
                ranges.append(float(np.quantile(level, 0.9) - np.quantile(level, 0.1)))
        return max(ranges)


def levels_of(holdings: Sequence[Holding]) -> PlaceLevels:
    """Put the holdings of a scan side by side; raises ConfigError when fewer than two places were held."""
    places = tuple(p for p in PLACES if any(h.place == p for h in holdings))
    if len(places) < 2:
        raise ConfigError(
            f"places={', '.join(places) or 'none'} must be at least two: what is loud at one alone tells nothing"
        )
    usable = np.all([h.usable for h in holdings], axis=0)
    steady, loud, loudest, course, disturbed = [], [], [], [], []
    for place in places:
        clean = [_clean(h) for h in holdings if h.place == place]
        if sum(len(c) for c, _ in clean) == 0 or all(masked for _, masked in clean):
            disturbed.append(place)
        kept = [c for c, masked in clean if not masked] or [c for c, _ in clean]
        # Other sound only adds: of several holdings the quieter is the nearer to the truth of a sound that stays. A
        # bout may have been there in one of them only.
        steady.append(np.min([np.median(c, axis=0) for c in kept], axis=0))
        louds = [np.quantile(c, _LOUD_SHARE, axis=0) for c in kept]
        loud.append(np.min(louds, axis=0))
        loudest.append(np.max(louds, axis=0))
        course.append(tuple(kept))
    quiet = np.array(steady)
    common = quiet.min(axis=0)
    sure, weight, unsure = _kinds(holdings, places, common, usable)
    return PlaceLevels(
        places, quiet, np.array(loud), np.array(loudest), common, usable, sure, weight, unsure, tuple(course),
        {p: sum(h.duration_s for h in holdings if h.place == p) for p in places}, tuple(disturbed),
    )


def _clean(holding: Holding) -> tuple[Floats, bool]:
    """Return the tenths of a second without other sound, and whether it covered too many: then all are returned."""
    thirds = holding.thirds[_SETTLING:]
    outside = holding.probability[:, -1]
    masked = (outside >= _MASKED) & (outside > holding.probability[:, :-1].max(axis=1))
    look = np.clip(np.ceil((np.arange(len(holding.thirds)) - 9) / 5.0).astype(int), 0, len(masked) - 1)
    clean = ~masked[look][_SETTLING:]
    return (thirds[clean], False) if clean.sum() >= 10 else (thirds, True)


def _kinds(
    holdings: Sequence[Holding], places: tuple[Place, ...], common: Floats, usable: NDArray[np.bool_]
) -> tuple[Floats, Floats, float]:
    shared = float(common @ (_a_curve() * usable))
    labels = len(SOUND_KINDS) + 1
    sure, weight, unsure = np.zeros((len(places), labels)), np.zeros((len(places), labels)), 0.0
    for holding in holdings:
        row = places.index(holding.place)
        over = np.maximum(holding.level - shared, 0.0)
        sure[row] = np.maximum(sure[row], holding.probability.mean(axis=0))
        weight[row] += over @ holding.probability
        unsure += float(over @ (1.0 - holding.probability.max(axis=1)))
    return sure, weight, unsure


def decibels(power: NDArray[np.floating]) -> Floats:
    """Return powers in decibels, none below -200 dB."""
    return np.asarray(10.0 * np.log10(np.maximum(power, 1e-20)), dtype=np.float64)


def _a_curve() -> Floats:
    return np.asarray(10.0 ** (a_weighting_db(np.array(THIRD_CENTRES_HZ)) / 10.0))
