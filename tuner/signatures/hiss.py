"""Hiss: air that rushes through a narrow opening.

Evidence. Steady broadband sound above 2 kHz (*shape*) that is smooth: its 5 ms envelopes spread no more than
Gaussian noise does, with no sudden starts (*grain*), no flutter and no slow fluctuation (*rhythm*, *flutter*).
The absence of drops and bubbles tells it from a trickle. Air drawn by a pump adds crackle to it.
"""

from __future__ import annotations

from tuner.signatures.kind import COURSE, EXCESS, FLUTTER, GRAIN, LINES, NOTES, RHYTHM, ROTOR, SHAPE, WEAVE, Signature

SIGNATURE = Signature(
    "hiss", (*SHAPE, *EXCESS, *GRAIN, *NOTES, *RHYTHM, *FLUTTER, *COURSE, *LINES, *WEAVE, *ROTOR),
    smooth=5, shortest_s=2.0, gap_s=2.0,
)
