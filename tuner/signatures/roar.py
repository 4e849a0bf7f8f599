"""Roar: much water falls down the emergency pipe.

Evidence. Loud, low and broad (*shape*: energy from 100 Hz up, falling slowly), thousands of bubbles a second so
that single ones drown (*grain*: close to noise in the high octaves, rough in the low ones), a slow swing of the
level (*rhythm* below 2 Hz), no lines.
"""

from __future__ import annotations

from tuner.signatures.kind import COURSE, EXCESS, FLUTTER, GRAIN, LINES, NOTES, RHYTHM, ROTOR, SHAPE, WEAVE, Signature

SIGNATURE = Signature(
    "roar", (*SHAPE, *EXCESS, *GRAIN, *NOTES, *RHYTHM, *FLUTTER, *COURSE, *LINES, *WEAVE, *ROTOR),
    smooth=5, shortest_s=2.0, gap_s=2.0,
)
