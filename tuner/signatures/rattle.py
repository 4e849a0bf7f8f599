"""Rattle: a worn or fouled rotor that strikes its housing.

Evidence. The envelopes of the octaves from 0.7 to 6 kHz beat at the rotor's rate or a multiple of it, 15-130 Hz
(*rotor*), with sudden starts in all octaves at once (*grain*: clicks, together), steady over seconds (*rhythm*).
"""

from __future__ import annotations

from tuner.signatures.kind import COURSE, EXCESS, FLUTTER, GRAIN, LINES, NOTES, RHYTHM, ROTOR, SHAPE, WEAVE, Signature

SIGNATURE = Signature(
    "rattle", (*SHAPE, *EXCESS, *GRAIN, *NOTES, *RHYTHM, *FLUTTER, *COURSE, *LINES, *WEAVE, *ROTOR),
    smooth=5, shortest_s=2.0, gap_s=2.0,
)
