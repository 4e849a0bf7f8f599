"""The next move: what to turn, which way and how far, until the installation is silent and parked.

``coach`` holds the person's side (hear, advise, did, look); ``safety`` the rules above all; ``handwork`` what a
hand can do; ``rule`` the plain rule of thumb; ``belief`` and its neighbours what is thought of the things that cannot
be seen.
"""

from __future__ import annotations

from tuner.coach.coach import Coach
from tuner.coach.summary import Summary

__all__ = ["Coach", "Summary"]
