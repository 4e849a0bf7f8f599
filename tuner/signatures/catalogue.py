"""All signatures, in the order of ``SOUND_KINDS``, and outside noise last."""

from __future__ import annotations

from tuner.signatures import flush, gurgle, hiss, hum, outside, rattle, roar, slurp, splash, trickle
from tuner.signatures.kind import Signature
from tuner.terms import SOUND_KINDS

_BY_LABEL: dict[str, Signature] = {
    module.SIGNATURE.label: module.SIGNATURE
    for module in (gurgle, slurp, trickle, splash, hiss, flush, roar, hum, rattle, outside)
}
SIGNATURES: tuple[Signature, ...] = tuple(_BY_LABEL[label] for label in (*SOUND_KINDS, "outside"))
