"""Learning a part of a rig: what was heard is looked over first, and a stretch that would mislead is not kept.

A stretch is refused when too little of it is clean, when outside noise prevails, when a *quiet* holds plumbing sounds,
when a *slurp* or *gurgle* holds nothing unlike the quiet or sounds like the other of the two, and when the ears would
know its own seconds worse with it than without it (each fifth of it heard by a template of the rest).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tuner.signatures.catalogue import SIGNATURES, course_of, gates
from tuner.signatures.ears import FEATURE_NAMES, LOOK_S, Look, columns_of
from tuner.signatures.model import SignatureModel
from tuner.signatures.taught import Part, Recall, Taught, Templates, Vector, distinct, moved, recall, summed_up
from tuner.terms import SOUND_KINDS

LEAST_S = 10.0
LEAST_DISTINCT = 8  # looks (4 s) that must be unlike the quiet
OUTSIDE_MUCH = 0.5
PLUMBING_MUCH = 0.3  # of a quiet: share of looks in which the general model hears a drain
OTHER_SURE, OWN_UNSURE = 0.7, 0.3
_FOLDS = 5
_PUMP = ("hum", "rattle")  # a pump that hums goes on humming in the quiet

Matrix = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Learnt:
    """What came of a stretch.

    ``part`` is None where it must not be kept; ``doubt`` says why, or what speaks against it where a keeper may insist.
    ``used_s`` is how much of ``heard_s`` went into the part. ``before`` and ``after`` are the shares of its own seconds
    that the ears know rightly without and with it, None for a quiet.
    """

    part: Part | None
    doubt: str
    heard_s: float
    used_s: float
    before: float | None = None
    after: float | None = None


def learn(
    name: Taught, looks: Sequence[Look], known: Templates | None, model: SignatureModel, *, insist: bool = False
) -> Learnt:
    """Look over one stretch of looks and return the part that it makes.

    ``known`` holds the parts taught already (the quiet comes first). ``insist`` keeps what merely sounds doubtful; too
    short, masked, or no different from the quiet is never kept.
    """
    heard_s = len(looks) * LOOK_S
    if heard_s < LEAST_S:
        return Learnt(None, f"{heard_s:.0f} s are too short: {LEAST_S:.0f} s are the least", heard_s, 0.0)
    features = np.stack([look.features for look in looks])
    probability = course_of(model, features)
    outside = _outside(probability)
    clean = features[~outside]
    if outside.mean() > OUTSIDE_MUCH or len(clean) * LOOK_S < LEAST_S:
        share = f"{outside.mean():.0%}".replace("%", " %")
        return Learnt(None, f"outside noise covered {share} of the time: wait until it is over", heard_s, 0.0)
    if name == "quiet":
        return _learn_quiet(clean, probability[~outside], heard_s, insist)
    return _learn_sound(name, clean, probability[~outside], known, model, heard_s, insist)


def _learn_quiet(clean: Matrix, probability: Matrix, heard_s: float, insist: bool) -> Learnt:
    drains = [i for i, kind in enumerate(SOUND_KINDS) if kind not in _PUMP]
    shares = (probability[:, drains] >= 0.5).mean(axis=0)
    part = summed_up(clean)
    doubt = ""
    if shares.max() > PLUMBING_MUCH:
        kind = SOUND_KINDS[drains[int(shares.argmax())]]
        doubt = f"this sounds like {kind}, not like quiet: tune first with 'hushweir tune'"
    return Learnt(part if insist or not doubt else None, doubt, heard_s, len(clean) * LOOK_S)


def _learn_sound(
    name: Taught, clean: Matrix, probability: Matrix, known: Templates | None, model: SignatureModel, heard_s: float,
    insist: bool,
) -> Learnt:
    if known is None or "quiet" not in known.parts:
        return Learnt(None, f"the quiet must be taught before the {name}, which is told from it", heard_s, 0.0)
    own = distinct(clean, known.parts["quiet"], known.features, model)
    if own.sum() < LEAST_DISTINCT:
        return Learnt(
            None, f"only {own.sum() * LOOK_S:g} s are unlike the quiet: no {name} was there, or it is too faint here",
            heard_s, 0.0,
        )
    mine, part = clean[own], summed_up(clean[own])
    before, after = _shares_right(name, mine, known, model)
    learnt = Learnt(part, "", heard_s, len(mine) * LOOK_S, before, after)
    if after < before:
        doubt = f"the ears would know the {name} worse with it ({_gain(before, after)})"
        return replace(learnt, part=None, doubt=doubt)
    other = "gurgle" if name == "slurp" else "slurp"
    sure = probability[own].mean(axis=0)
    here, there = sure[SOUND_KINDS.index(name)], sure[SOUND_KINDS.index(other)]
    if there > OTHER_SURE and here < OWN_UNSURE:
        doubt = f"this sounds like a {other}, not like a {name}: was the valve turned the other way?"
        return replace(learnt, part=part if insist else None, doubt=doubt)
    return learnt


def _gain(before: float, after: float) -> str:
    """Return two shares as words: ``80 % right without it, 60 % with it``."""
    return f"{100 * before:.0f} % right without it, {100 * after:.0f} % with it"


def _shares_right(name: Taught, mine: Matrix, known: Templates, model: SignatureModel) -> tuple[float, float]:
    """Return the shares of looks of a sound known rightly without it and, each fifth by the rest, with it."""
    label = model.labels.index(name)
    before = float((course_of(model, mine)[:, label] >= 0.5).mean())
    right = 0
    for fold in np.array_split(np.arange(len(mine)), min(_FOLDS, len(mine) // 2)):
        rest = summed_up(np.delete(mine, fold, axis=0))
        with_it = recall(replace(known, parts={**known.parts, name: rest}), model)
        right += int((heard_with(with_it, mine[fold], model)[:, label] >= 0.5).sum())
    return before, right / len(mine)


def heard_with(ready: Recall, features: Vector, model: SignatureModel) -> Vector:
    """Return the probability of each label, shape (n, n_labels), as a listener with templates takes looks."""
    probability = model.course(features[:, columns_of(model.features)])
    return moved(probability, ready.shift(ready.likeness(features))) * gates(features)


def _outside(probability: Matrix) -> NDArray[np.bool_]:
    outside, best = probability[:, -1], probability[:, :-1].max(axis=1)
    return np.asarray((outside >= SIGNATURES[-1].on) & (outside > best))


def with_part(
    known: Templates | None, name: Taught, part: Part, *, device: str, sample_rate: int, day: str
) -> Templates:
    """Return templates with a part added or replaced; what was taught by another microphone or rate is left behind.

    A new quiet comes with the old sounds, which it may no longer be told from: the trust of each shows that.
    """
    if known is None or known.features != FEATURE_NAMES or (known.device, known.sample_rate) != (device, sample_rate):
        known = Templates(FEATURE_NAMES, {}, device, sample_rate)
    return replace(known, parts={**known.parts, name: part}, made={**known.made, name: day})
