"""Trickle: a film that breaks up and falls with air, hundreds of small drops and bubbles a second.

Evidence. Steady, bright sound of 1-8 kHz (*shape*) whose 5 ms envelopes are rougher than noise: many small
sudden starts (*grain*: spread, attack, clicks), little slow fluctuation (*rhythm*), no held peaks (*notes*).
"""

from __future__ import annotations

from tuner.signatures.kind import COURSE, EXCESS, FLUTTER, GRAIN, LINES, NOTES, RHYTHM, ROTOR, SHAPE, WEAVE, Signature

SIGNATURE = Signature(
    "trickle", (*SHAPE, *EXCESS, *GRAIN, *NOTES, *RHYTHM, *FLUTTER, *COURSE, *LINES, *WEAVE, *ROTOR),
    smooth=5, shortest_s=2.0, gap_s=2.0,
)
