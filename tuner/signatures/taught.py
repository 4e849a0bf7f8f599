"""Templates: what the quiet, the slurp and the gurgle of one rig are like, and what that adds to the general model.

Of each taught part only numbers are kept: for every stretch of five seconds the middle and the spread of each named
feature. That is no waveform, no course of a spectrum and no order of sounds within a stretch, so that speech, which
lives by changes several times a second, cannot be rebuilt.

A look is compared with the taught parts and with *anything else* (a broad distribution, from the general model's own
knots), by normal distributions of each feature. Features hang together, so their log-likelihoods are scaled down to
those of ``DEGREES`` independent ones. What comes out is how much the look is like each part. That moves the general
model's log-odds, by ``WEIGHTS`` at most, and not at all where the look is like nothing that was taught:

    log-odds = general log-odds + weight x trust x likeness, summed over the parts

The trust of a part is earned: each of its stretches, left out of the template, must be told from the other parts.
Features are kept and found by name; names that this version does not know are passed over.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tuner.errors import ConfigError
from tuner.signatures.ears import FEATURE_NAMES, columns_of
from tuner.signatures.model import SignatureModel

Vector = NDArray[np.float64]
Taught = Literal["quiet", "slurp", "gurgle"]
PARTS: tuple[Taught, ...] = ("quiet", "slurp", "gurgle")

STRETCH_LOOKS = 10
DEGREES = 12.0  # independent features that all of them together are worth
OWN_SPREAD = 0.35  # of the general spread: how far a rig's sounds wander from day to day
FULL_LOOKS = 20  # looks of a part from which it counts in full
LEAST_NAMES = 0.5  # of the taught features, below which the templates say too little
FULL_BAND_HZ = 32_000  # sample rates from here on carry every band that the ears use
_MIDDLE_SIGMA = 1.683  # from the 20th to the 80th percentile of a normal distribution, in standard deviations
WEIGHTS: dict[Taught, dict[str, float]] = {
    "quiet": {},
    "slurp": {"slurp": 1.0},
    "gurgle": {"gurgle": 1.0},
}
"""What full likeness to a part adds to the log-odds of each label; set on drawn rigs with seeds below 100000.

The quiet adds nothing, so that a faint sound near it is never hushed: it is there to be told from. Nor does one sound
take from the other, for both may be heard at once."""


@dataclass(frozen=True, slots=True)
class Part:
    """One taught part: ``middle`` and ``spread``, shape (n_stretches, n_features), and ``looks`` of each stretch."""

    middle: Vector
    spread: Vector
    looks: tuple[int, ...]

    @property
    def total(self) -> int:
        """All looks (half seconds) of the part."""
        return sum(self.looks)


@dataclass(frozen=True, slots=True)
class Templates:
    """What was taught of one rig.

    ``features`` names the columns of every part. ``device`` is the microphone ("" for a recording) and
    ``sample_rate`` (Hz) its rate. ``made`` is the day of each part, as a date. ``weight`` (0-1) lowers everything that
    the templates say, where it is not sure that they belong here.
    """

    features: tuple[str, ...]
    parts: Mapping[Taught, Part]
    device: str
    sample_rate: int
    made: Mapping[Taught, str] = field(default_factory=dict)
    weight: float = 1.0

    @property
    def usable(self) -> bool:
        """Whether they hold enough to be used: the quiet, and a sound to tell from it."""
        return "quiet" in self.parts and len(self.parts) > 1

    @property
    def missing(self) -> tuple[Taught, ...]:
        """The parts that are still to be taught."""
        return tuple(part for part in PARTS if part not in self.parts)


def summed_up(features: Vector) -> Part:
    """Return the part of looks with features of shape (n, n_features), in stretches of about five seconds."""
    count = max(1, round(len(features) / STRETCH_LOOKS))
    stretches = np.array_split(features, count)
    return Part(
        np.stack([s.mean(axis=0) for s in stretches]), np.stack([s.std(axis=0) for s in stretches]),
        tuple(len(s) for s in stretches),
    )


@dataclass(frozen=True, slots=True)
class Recall:
    """Templates made ready for a model: columns of the ears' features, normal distributions, what likeness adds.

    ``middle`` and ``spread`` have shape (n_parts + 1, n_columns), anything else last; ``added`` (n_parts, n_labels).
    """

    parts: tuple[Taught, ...]
    columns: NDArray[np.int64]
    middle: Vector
    spread: Vector
    added: Vector
    trust: Vector

    def likeness(self, features: Vector) -> Vector:
        """Return how much looks are like each part and like anything else, 0-1, summing to 1: (..., n_parts + 1).

        ``features`` has shape (..., len(FEATURE_NAMES)).
        """
        return _shares(features[..., self.columns], self.middle, self.spread)

    def shift(self, likeness: Vector) -> Vector:
        """Return what likeness adds to the log-odds of the labels, shape (..., n_labels)."""
        added: Vector = likeness[..., :-1] @ self.added
        return added


def recall(templates: Templates, model: SignatureModel) -> Recall:
    """Make templates ready for ``model``.

    Raises
    ------
    ConfigError
        When they hold too little: no quiet or no sound, or too few features that this version knows.
    """
    if not templates.usable:
        raise ConfigError(f"templates={sorted(templates.parts)} must hold quiet and slurp or gurgle: teach the rest")
    names = [n for n in templates.features if n in model.features and n in FEATURE_NAMES]
    if len(names) < LEAST_NAMES * len(templates.features) or not names:
        raise ConfigError(
            f"templates={len(names)} of {len(templates.features)} features must be at least half known to this version:"
            " teach again"
        )
    take = [templates.features.index(n) for n in names]
    broad_middle, broad_spread = _anything(model, names)
    parts = tuple(p for p in PARTS if p in templates.parts)
    made = [_normal(templates.parts[p], take, broad_spread) for p in parts]
    trust = np.array([
        _trust(i, [templates.parts[p] for p in parts], take, made, broad_spread) for i in range(len(parts))
    ])
    table = np.array([[WEIGHTS[p].get(label, 0.0) for label in model.labels] for p in parts])
    return Recall(
        parts, columns_of(names),
        np.stack([*(m for m, _ in made), broad_middle]), np.stack([*(s for _, s in made), broad_spread]),
        table * trust[:, None] * templates.weight, trust,
    )


def marks(templates: Templates, name: Taught, most: int = 4) -> tuple[tuple[str, float], ...]:
    """Return the features that set a sound off most from the quiet, by how many spreads, largest first."""
    sound, quiet = (_plain(templates.parts[part]) for part in (name, "quiet"))
    apart = (sound[0] - quiet[0]) / np.sqrt(0.5 * (sound[1] ** 2 + quiet[1] ** 2) + 1e-6)
    order = np.argsort(-np.abs(apart))[:most]
    return tuple((templates.features[i], round(float(apart[i]), 2)) for i in order)


def _plain(part: Part) -> tuple[Vector, Vector]:
    return _normal(part, list(range(part.middle.shape[1])), np.zeros(part.middle.shape[1]))


def distinct(features: Vector, quiet: Part, names: tuple[str, ...], model: SignatureModel) -> NDArray[np.bool_]:
    """Tell of looks, shape (n, len(FEATURE_NAMES)), whether they are unlike the taught quiet, shape (n,)."""
    known = [n for n in names if n in model.features and n in FEATURE_NAMES]
    broad_middle, broad_spread = _anything(model, known)
    middle, spread = _normal(quiet, [names.index(n) for n in known], broad_spread)
    middles, spreads = np.stack([middle, broad_middle]), np.stack([spread, broad_spread])
    shares = _shares(features[..., columns_of(known)], middles, spreads)
    return np.asarray(shares[..., 0] < 0.5)


def moved(probability: Vector, shift: Vector) -> Vector:
    """Return probabilities with ``shift`` added to their log-odds.

    >>> moved(np.array([0.5]), np.array([2.0]))
    array([0.88079708])
    """
    safe = np.clip(probability, 1e-12, 1.0 - 1e-12)
    out: Vector = 1.0 / (1.0 + (1.0 - safe) / safe * np.exp(-shift))
    return out


def suited(templates: Templates, device: str | None, sample_rate: int) -> str:
    """Return why templates must not be used with a microphone, or "". ``device`` None: it is not known which."""
    here, there = sample_rate, templates.sample_rate
    if here != there and min(here, there) < FULL_BAND_HZ:
        return f"taught at {there} Hz, this is {here} Hz, whose bands differ: teach again with this microphone and rate"
    if device is not None and templates.device and device != templates.device:
        return f"taught with the microphone {templates.device!r}, this is {device!r}: teach again with this one"
    return ""


def _anything(model: SignatureModel, names: list[str]) -> tuple[Vector, Vector]:
    """Return middle and spread of each feature over all sounds, from the knots of the model."""
    knots = model.knots[[model.features.index(n) for n in names]]
    inner = np.quantile(knots, (0.2, 0.5, 0.8), axis=1)
    return inner[1], np.maximum((inner[2] - inner[0]) / _MIDDLE_SIGMA, 1e-3)


def _normal(part: Part, take: list[int], broad: Vector, without: int | None = None) -> tuple[Vector, Vector]:
    """Return middle and spread of a part's features, one stretch left out if so wished."""
    keep = [i for i in range(len(part.looks)) if i != without]
    looks = np.array([part.looks[i] for i in keep], dtype=np.float64)
    share = (looks / looks.sum())[:, None]
    middles, spreads = part.middle[keep][:, take], part.spread[keep][:, take]
    middle = (share * middles).sum(axis=0)
    variance = (share * (spreads**2 + (middles - middle) ** 2)).sum(axis=0)
    return middle, np.sqrt(variance + (OWN_SPREAD * broad) ** 2)


def _log_likelihood(square: Vector, spread: Vector) -> Vector:
    """Return the scaled log-likelihood of squared distances, shape (..., n_classes, n_columns) -> (..., n_classes)."""
    each = -0.5 * square / spread**2 - np.log(spread)
    total: Vector = DEGREES * each.mean(axis=-1)
    return total


def _shares(values: Vector, middle: Vector, spread: Vector) -> Vector:
    log_likelihood = _log_likelihood((values[..., None, :] - middle) ** 2, spread)
    odds = np.exp(log_likelihood - log_likelihood.max(axis=-1, keepdims=True))
    shares: Vector = odds / odds.sum(axis=-1, keepdims=True)
    return shares


def _trust(
    own: int, parts: list[Part], take: list[int], made: list[tuple[Vector, Vector]], broad: Vector
) -> float:
    """Return 0-1: how far the stretches of a part, each left out in turn, are told from the other parts."""
    part = parts[own]
    if len(part.looks) < 2:
        return 0.0
    right = 0
    for i, looks in enumerate(part.looks):
        without = _normal(part, take, broad, without=i)
        middles = np.stack([without[0] if j == own else m for j, (m, _) in enumerate(made)])
        spreads = np.stack([without[1] if j == own else s for j, (_, s) in enumerate(made)])
        # the mean of the squared distance over the looks of the stretch, in closed form
        square = (part.middle[i, take] - middles) ** 2 + part.spread[i, take] ** 2
        right += looks * bool(np.argmax(_log_likelihood(square, spreads)) == own)
    return max(0.0, 2.0 * right / part.total - 1.0) * min(1.0, part.total / FULL_LOOKS)
