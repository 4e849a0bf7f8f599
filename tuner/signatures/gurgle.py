"""Gurgle: large bubbles dragged down by too much water in the open channel.

Evidence. Each slug of air rings as a decaying note near its Minnaert pitch, 250-900 Hz for radii of 13-3 mm, in
a cloud of smaller bubbles: energy lies at 200-2000 Hz (*shape*), envelopes there are spiky with sudden starts
(*grain*), spectral peaks stand out and are gone within 50-150 ms (*notes*: peaks without staying), and the trains
flutter at 8-50 Hz (*rhythm*, *flutter*) without the syllable rate and the pitch of a voice.
"""

from __future__ import annotations

from tuner.signatures.kind import COURSE, EXCESS, FLUTTER, GRAIN, LINES, NOTES, RHYTHM, SHAPE, WEAVE, Signature

SIGNATURE = Signature(
    "gurgle", (*SHAPE, *EXCESS, *GRAIN, *NOTES, *RHYTHM, *FLUTTER, *COURSE, *LINES, *WEAVE),
    smooth=3, shortest_s=1.0, gap_s=1.5
)
