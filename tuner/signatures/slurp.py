"""Slurp: the siphon's inlet gulps air.

Evidence. Bursts of suction noise of 0.15-0.7 s, two or three a second, each followed by a surge of bubbles: the
level rises and falls by several decibels at 1-4 Hz (*rhythm*), gulps return within 0.3-1.2 s (*course*: gulp
return), each burst stands over the quiet before it with a broad spectrum (*excess*), its grain is rough. Bouts
come back in cycles of 1-120 s while the box fills again, so the level over the last half minute matters too.
"""

from __future__ import annotations

from tuner.signatures.kind import COURSE, EXCESS, FLUTTER, GRAIN, LINES, NOTES, RHYTHM, SHAPE, WEAVE, Signature

SIGNATURE = Signature(
    "slurp", (*SHAPE, *EXCESS, *GRAIN, *NOTES, *RHYTHM, *FLUTTER, *COURSE, *LINES, *WEAVE),
    smooth=2, shortest_s=0.5, gap_s=1.0
)
