"""Which pipe is it? The place of each sound, from one holding of the microphone at each place, or several.

A sound is loudest where it arises; what is equally loud everywhere is the room. For each kind the decision rests on
its own third-octaves:

- *lead*: how far a place stands over the loudest other place in them, by the median of the tenths of a second
  (steady) and by their louder part (for bouts);
- *pattern*: how well the levels at all places fit a sound that arises there and falls off as ``FALL_DB`` says, above
  the far sound that all places share;
- *prior*: where such a sound can arise at all (``PRIOR``, common practice).

A sound that comes and goes may be loud at a place only because it came just then. As far as a level comes or goes
while the microphone is held, the pattern allows that the sound was off at any of the places, and leads count less.
Sums of log-odds (``Weights``) become probabilities by a softmax over the places. Where some places were left out,
"elsewhere" stands for them all.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tuner.causes.held import UNKNOWN, Floats, PlaceLevels, decibels, levels_of
from tuner.signatures.holding import Holding
from tuner.terms import CYCLIC_KINDS, PLACES, SOUND_KINDS, Place, SoundKind

ELSEWHERE = "elsewhere"

PRIOR: dict[SoundKind, dict[Place, float]] = {
    "gurgle": {"open channel": 0.60, "siphon": 0.25, "sump": 0.05, "emergency": 0.05, "overflow box": 0.03},
    "slurp": {"siphon": 0.70, "overflow box": 0.18, "open channel": 0.05},
    "trickle": {
        "open channel": 0.45, "return": 0.18, "pump": 0.15, "overflow box": 0.08, "sump": 0.06, "emergency": 0.06,
    },
    "splash": {"sump": 0.50, "overflow box": 0.38, "return": 0.04, "emergency": 0.04},
    "hiss": {"open channel": 0.36, "return": 0.26, "pump": 0.26, "siphon": 0.04},
    "flush": {"open channel": 0.82, "siphon": 0.08, "overflow box": 0.04},
    "roar": {"emergency": 0.60, "open channel": 0.14, "sump": 0.10, "overflow box": 0.06, "siphon": 0.06},
    "hum": {"pump": 0.86, "sump": 0.05, "return": 0.05},
    "rattle": {"pump": 0.86, "sump": 0.05, "return": 0.05},
}
"""Where each kind of sound arises; what is not listed gets ``_LEAST_PRIOR``. Common practice, no source."""
_LEAST_PRIOR = 0.01

FALL_DB: dict[Place, dict[Place, float]] = {
    "siphon": {"open channel": 9, "emergency": 9, "overflow box": 10, "sump": 12, "pump": 20, "return": 20},
    "open channel": {"siphon": 9, "emergency": 9, "overflow box": 12, "sump": 13, "pump": 20, "return": 20},
    "emergency": {"siphon": 9, "open channel": 9, "overflow box": 12, "sump": 11, "pump": 20, "return": 20},
    "overflow box": {"siphon": 12, "open channel": 12, "emergency": 12, "sump": 22, "pump": 22, "return": 18},
    "sump": {"siphon": 20, "open channel": 20, "emergency": 20, "overflow box": 22, "pump": 13, "return": 22},
    "pump": {"siphon": 22, "open channel": 22, "emergency": 22, "overflow box": 22, "sump": 12, "return": 15},
    "return": {"siphon": 19, "open channel": 19, "emergency": 19, "overflow box": 17, "sump": 22, "pump": 22},
}
"""How much quieter (dB) a sound is at other places than where it arises: 6 dB for each doubling of the distance, from
5 cm to the 15 cm of the next pipe and the metre of the sump, with what runs along a pipe. Common practice."""

@dataclass(frozen=True, slots=True)
class Weights:
    """How much each kind of evidence counts, set on 400 rehearsal draws (seeds from 1000 on).

    ``lead`` counts per 5 dB, ``pattern`` and ``prior`` are exponents on their probabilities, ``elsewhere`` is added for
    places that were not held. A sound is taken for one that comes and goes with the chance
    1 / (1 + exp(-(range - ``turn_db``) / ``turn_width_db``)) of its level's range while held.
    """

    lead: float = 1.0
    pattern: float = 0.44
    prior: float = 1.5
    elsewhere: float = 0.9
    turn_db: float = 14.5
    turn_width_db: float = 2.3


WEIGHTS = Weights()
_NEPER = float(np.log(10.0)) / 10.0
_SPREAD_DB = 4.0  # of a level around its pattern: hands, pipes and walls differ
_OFF_SHARE, _OFF_SHARE_PASSING = 0.05, 0.4
_FAINT_PREVAILING, _FAINT_BESIDE = 0.1, 0.02
_MOST_DB = 15.0  # a lead beyond it says no more
_SCALE_DB = 5.0
_LEAST_KIND = 0.04
HEARD_FROM = 0.5  # mean probability while held from which a kind is listed


@dataclass(frozen=True, slots=True)
class Option:
    """A place with its probability, and its level (dB) in the sound's bands over the loudest other place and over
    what all places share; the latter two are 0 for "elsewhere"."""

    place: str
    probability: float
    margin_db: float
    over_db: float


@dataclass(frozen=True, slots=True)
class Located:
    """Where a sound arises: its kind (or "unknown"), how sure the kind is, and the places, likeliest first.

    ``place`` is a place or "elsewhere" (at none of those held). ``strength_db`` is the A-weighted level of the kind's
    bands at its place over the room's common sound.
    """

    kind: str
    certainty: float
    options: tuple[Option, ...]
    strength_db: float

    @property
    def place(self) -> str:
        """The likeliest place."""
        return self.options[0].place

    @property
    def probability(self) -> float:
        """How sure it is."""
        return self.options[0].probability

    @property
    def margin_db(self) -> float:
        """How far the place stands over the loudest other one, in decibels."""
        return self.options[0].margin_db


@dataclass(frozen=True, slots=True)
class Scan:
    """The result of a scan: the prevailing sound whatever its kind, and each kind that is heard, loudest first.

    ``common_db`` is the A-weighted level that all places share (dB re full scale), ``seconds`` how long each place was
    held; ``disturbed`` names the places at which other sound covered most of the time.
    """

    prevailing: Located
    sounds: tuple[Located, ...]
    common_db: float
    seconds: dict[Place, float]
    disturbed: tuple[Place, ...]


def locate(holdings: Sequence[Holding]) -> Scan:
    """Name the place of each sound from the holdings of one scan, in any order; a place may be held several times.

    Raises
    ------
    ConfigError
        When fewer than two different places were held.
    """
    levels = levels_of(holdings)
    weights = kind_weights(levels)
    by_kind = {kind: place_odds(levels, kind, _FAINT_PREVAILING) for kind in weights}
    mixed: dict[str, float] = {}
    for kind, odds in by_kind.items():
        for place, p in odds.items():
            mixed[place] = mixed.get(place, 0.0) + weights[kind] * p
    place = max(mixed, key=lambda name: mixed[name])
    kind = max(weights, key=lambda name: weights[name] * by_kind[name][place])
    sounds = tuple(
        _located(levels, name, place_odds(levels, name, _FAINT_BESIDE), levels.heard(name))
        for name in SOUND_KINDS if levels.heard(name) >= HEARD_FROM
    )
    return Scan(
        prevailing=_located(levels, kind, mixed, weights[kind]),
        sounds=tuple(sorted(sounds, key=lambda s: -s.strength_db)),
        common_db=levels.common_db, seconds=levels.seconds, disturbed=levels.disturbed,
    )


def kind_weights(levels: PlaceLevels) -> dict[str, float]:
    """Return what the prevailing sound may be, with shares that sum to 1: kinds by power and sureness, or unknown."""
    powers: dict[str, float] = {
        kind: float(levels.weight[:, i].sum()) for i, kind in enumerate(SOUND_KINDS)
    }
    powers[UNKNOWN] = levels.unsure_weight
    total = sum(powers.values()) + 1e-30
    shares = {kind: power / total for kind, power in powers.items()}
    shares[UNKNOWN] += 0.05
    kept = {kind: share for kind, share in shares.items() if share >= _LEAST_KIND}
    total = sum(kept.values())
    return {kind: share / total for kind, share in kept.items()}


def options_of(levels: PlaceLevels) -> tuple[str, ...]:
    """Return what a scan can answer: the places held and, unless all were held, elsewhere."""
    return levels.places if len(levels.places) == len(PLACES) else (*levels.places, ELSEWHERE)


@dataclass(frozen=True, slots=True)
class Evidence:
    """What speaks for each option, (n_options,) each: two of a sound that stays, two of one that comes and goes."""

    lead: Floats
    pattern: Floats
    prior: Floats
    pattern_passing: Floats
    prior_passing: Floats
    elsewhere: Floats
    range_db: float


def evidence_of(levels: PlaceLevels, kind: str, faint: float) -> Evidence:
    """Return what speaks for each option of a kind.

    A louder sound of another kind may lie in the same bands: a level counts at a place as far as the signature model
    hears the kind there, and by the share ``faint`` where it does not.
    """
    own, options, held = levels.own(kind), options_of(levels), len(levels.places)
    sure = np.ones(held) if kind == UNKNOWN else levels.sure[:, SOUND_KINDS.index(kind)]
    heard_db = decibels(sure + faint)
    steady_db, loud_db, loudest_db = (
        decibels(p @ own) + heard_db for p in (levels.steady, levels.loud, levels.loudest)
    )
    far_db = float(decibels(np.asarray(levels.common @ own)))
    lead = np.zeros(len(options))
    lead[:held] = _leads(steady_db) / _SCALE_DB
    return Evidence(
        lead,
        _patterns(levels, loud_db, far_db, _OFF_SHARE),
        _log_prior(PRIOR.get(kind), levels.places),  # type: ignore[call-overload]
        _patterns(levels, loudest_db, far_db, _OFF_SHARE_PASSING),
        _log_prior(_passing_prior(levels, kind), levels.places),
        np.array([float(o == ELSEWHERE) for o in options]), levels.range_db(kind),
    )


def odds_of(e: Evidence, w: Weights = WEIGHTS) -> Floats:
    """Return the probability of each option."""
    passing = 1.0 / (1.0 + np.exp(-np.clip((e.range_db - w.turn_db) / w.turn_width_db, -30.0, 30.0)))
    stays = np.log1p(-passing) + w.pattern * e.pattern + w.prior * e.prior + w.lead * e.lead
    comes = np.log(passing) + w.pattern * e.pattern_passing + w.prior * e.prior_passing
    score = np.logaddexp(stays, comes) + w.elsewhere * e.elsewhere
    odds = np.exp(score - score.max())
    return np.asarray(odds / odds.sum())


def _patterns(levels: PlaceLevels, heard_db: Floats, far_db: float, off: float) -> Floats:
    """Return how well levels (n_places,) fit a sound that arises at each option, as log-likelihoods below the best."""
    fits = {place: _pattern(levels.places, heard_db, far_db, place, off) for place in PLACES}
    elsewhere = max((fits[p] for p in PLACES if p not in levels.places), default=0.0)
    found = np.array([*(fits[p] for p in levels.places), elsewhere])[: len(options_of(levels))]
    return found


def _pattern(places: tuple[Place, ...], heard_db: Floats, far_db: float, source: Place, off: float) -> float:
    """Return the log-likelihood of levels when the sound arises at ``source``, at the strength that fits best.

    ``off`` is the chance that it did not sound while the microphone was held at a place.
    """
    fall = np.array([FALL_DB[source].get(place, 0.0) for place in places])
    strengths = np.arange(far_db, float(heard_db.max()) + 30.0, 1.0)[:, None]
    wanted_db = np.logaddexp(_NEPER * (strengths - fall), _NEPER * far_db) / _NEPER
    there = (1.0 - off) * np.exp(-0.5 * ((heard_db - wanted_db) / _SPREAD_DB) ** 2)
    absent = off * np.exp(-0.5 * ((heard_db - far_db) / _SPREAD_DB) ** 2)
    return float(np.log(there + absent + 1e-4).sum(axis=1).max())


def place_odds(levels: PlaceLevels, kind: str, faint: float) -> dict[str, float]:
    """Return the probability of each option for one kind; ``faint`` as in ``evidence_of``."""
    return dict(zip(options_of(levels), odds_of(evidence_of(levels, kind, faint)).tolist(), strict=True))


def _passing_prior(levels: PlaceLevels, kind: str) -> dict[Place, float]:
    """Return where a sound that comes and goes may arise: as gulps and flushes do, whatever it sounds like near by."""
    if kind in CYCLIC_KINDS:
        return PRIOR[kind]
    slurp, flush = levels.heard("slurp") + 0.1, levels.heard("flush") + 0.1
    return {
        place: (slurp * PRIOR["slurp"].get(place, 0.0) + flush * PRIOR["flush"].get(place, 0.0)) / (slurp + flush)
        for place in PLACES
    }


def _log_prior(table: dict[Place, float] | None, held: tuple[Place, ...]) -> Floats:
    """Return the logarithm of the prior of each option; every place is alike without a table."""
    each = {
        place: 1.0 / len(PLACES) if table is None else max(_LEAST_PRIOR, table.get(place, 0.0)) for place in PLACES
    }
    missing = [each[place] for place in PLACES if place not in held]
    return np.log([*(each[place] for place in held), *([sum(missing)] if missing else [])])


def _leads(levels_db: Floats) -> Floats:
    """Return, for each place (first axis), how far it stands over the loudest other one, at most ``_MOST_DB``."""
    order = np.sort(levels_db, axis=0)
    best = np.where(levels_db >= order[-1], order[-2], order[-1])
    leads: Floats = np.clip(levels_db - best, -_MOST_DB, _MOST_DB)
    return leads


def _located(levels: PlaceLevels, kind: str, odds: dict[str, float], certainty: float) -> Located:
    loud_db = decibels(levels.loudest @ levels.own(kind))
    leads: dict[str, float] = dict(zip(levels.places, _leads(loud_db).tolist(), strict=True))
    over: dict[str, float] = dict(zip(levels.places, levels.over_db(kind).tolist(), strict=True))
    ranked = sorted(odds, key=lambda name: -odds[name])
    options = tuple(
        Option(name, odds[name], leads.get(name, 0.0), over.get(name, 0.0)) for name in ranked
    )
    strength_db = over.get(ranked[0], max(over.values()))
    return Located(kind, certainty, options, max(0.0, strength_db))
