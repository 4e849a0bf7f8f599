"""Splash: water that falls onto a surface, at the sump or in the box.

Evidence. Irregular impacts with bubbles under them: broad sound of 0.4-8 kHz (*shape*), rough in all octaves at
once (*grain*: together), uneven over tenths of a second (*rhythm*), steadier than gulps and without their return.
"""

from __future__ import annotations

from tuner.signatures.kind import COURSE, EXCESS, FLUTTER, GRAIN, LINES, NOTES, RHYTHM, ROTOR, SHAPE, WEAVE, Signature

SIGNATURE = Signature(
    "splash", (*SHAPE, *EXCESS, *GRAIN, *NOTES, *RHYTHM, *FLUTTER, *COURSE, *LINES, *WEAVE, *ROTOR),
    smooth=5, shortest_s=2.0, gap_s=2.0,
)
