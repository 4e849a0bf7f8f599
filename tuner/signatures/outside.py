"""Outside: sound that is not the plumbing's and hides it: voices, music, steps, doors, dogs, machines.

Evidence. Pitch and harmonics that move (*notes*: pitch, pitch change, staying peaks; *lines*: fleeting), syllables
at 2-8 Hz (*rhythm*), single knocks over a quiet room (*course*), and spectra that no drain has (*shape*). It is
no sound kind of its own: seconds in which it prevails are left out of a reading.
"""

from __future__ import annotations

from tuner.signatures.ears import FEATURE_NAMES
from tuner.signatures.kind import Signature

SIGNATURE = Signature("outside", FEATURE_NAMES, on=0.6, off=0.4, smooth=2, shortest_s=0.5, gap_s=1.0)
