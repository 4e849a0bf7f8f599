"""Water: whether any of the sounds that water makes in a drain is heard, whichever it is.

An opinion of the first layer alone, beside those on the kinds. That it is water is often plainer than what kind it is:
of a recorded tap nobody can say whether it is a trickle, a splash or a roar, but it is no voice, no fan and no music.
The second layer weighs it for every kind.
"""

from __future__ import annotations

from tuner.signatures.ears import FEATURE_NAMES
from tuner.signatures.kind import Signature
from tuner.terms import SoundKind

KINDS: tuple[SoundKind, ...] = ("gurgle", "slurp", "trickle", "splash", "flush", "roar")
SIGNATURE = Signature("water", FEATURE_NAMES)
