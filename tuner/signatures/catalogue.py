"""All signatures, in the order of ``SOUND_KINDS``, and outside noise last; beside them an opinion on water."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tuner.signatures import flush, gurgle, hiss, hum, outside, rattle, roar, slurp, splash, trickle, water
from tuner.signatures.ears import FEATURE_NAMES, columns_of
from tuner.signatures.kind import Signature
from tuner.signatures.model import SignatureModel
from tuner.terms import SOUND_KINDS

_BY_LABEL: dict[str, Signature] = {
    module.SIGNATURE.label: module.SIGNATURE
    for module in (gurgle, slurp, trickle, splash, hiss, flush, roar, hum, rattle, outside)
}
SIGNATURES: tuple[Signature, ...] = tuple(_BY_LABEL[label] for label in (*SOUND_KINDS, "outside"))
OPINIONS: tuple[Signature, ...] = (*SIGNATURES, water.SIGNATURE)
"""What the first layer of the model has an opinion on."""


def gates(features: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return how far each signature is audible at all, 0 to 1, shape (..., n_labels).

    ``features`` has shape (..., len(FEATURE_NAMES)); signatures without a gate are always audible.
    """
    factors = np.ones((*features.shape[:-1], len(SIGNATURES)))
    for i, signature in enumerate(SIGNATURES):
        if (gate := signature.gate) is not None:
            value = features[..., FEATURE_NAMES.index(gate.feature)]
            factors[..., i] = np.clip((value - gate.low) / (gate.high - gate.low), 0.0, 1.0)
    return factors


def course_of(model: SignatureModel, features: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the probability of each label, shape (n, n_labels), of looks that follow one another, as a listener does.

    ``features`` has shape (n, len(FEATURE_NAMES)).
    """
    return model.course(features[:, columns_of(model.features)]) * gates(features)
