"""Flush: the open channel turns into a siphon, empties the box and breaks with a gasp.

Evidence. The level climbs for about a second, roars for some seconds over 0.35-6 kHz and falls again (*course*:
level over its own last 30 and 120 s, slope, range), the burst's own spectrum is broad (*excess*), rougher than
noise but denser than a gurgle (*grain*), and the whole returns at a regular period.
"""

from __future__ import annotations

from tuner.signatures.kind import COURSE, EXCESS, FLUTTER, GRAIN, LINES, NOTES, RHYTHM, SHAPE, WEAVE, Signature

SIGNATURE = Signature(
    "flush", (*SHAPE, *EXCESS, *GRAIN, *NOTES, *RHYTHM, *FLUTTER, *COURSE, *LINES, *WEAVE),
    smooth=2, shortest_s=1.0, gap_s=1.5
)
