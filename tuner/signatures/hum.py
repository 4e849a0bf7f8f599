"""Hum: tones of a pump that stand still.

Evidence. Lines that hold for seconds at 100 or 120 Hz and their multiples, at the shaft and the blades, or
where a speed-controlled motor puts them (*lines*: strongest, third strongest, count, share of the power), a
peaky low spectrum that stays (*notes*: stay 150) and hardly fluctuates (*rhythm*). Music and voices have lines
too, but theirs move (line fleeting). A far fridge and a healthy pump show faint lines in any quiet room: a hum counts
from where its lines carry a third, and in full from where they carry two thirds, of the A-weighted power below
1.6 kHz.
"""

from __future__ import annotations

from tuner.signatures.kind import COURSE, LINES, NOTES, RHYTHM, ROTOR, SHAPE, Gate, Signature

SIGNATURE = Signature(
    "hum", (*SHAPE, *NOTES, *RHYTHM, *COURSE, *LINES, *ROTOR), smooth=6, shortest_s=3.0, gap_s=3.0,
    gate=Gate("line share", -5.0, -2.0),
)
