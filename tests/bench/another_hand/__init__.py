"""Drains, pumps and a room by another hand: sounds for the benches that share no code with the project's voices.

The program learned drains and pumps on ``tuner.rehearsal.voices`` in the main; a bench on those voices cannot tell
whether it hears drains or the habits of one synthesiser. Here each kind is built in two or three ways of its own, heard
through a room and a laptop's or phone's microphone. Nothing is trained or set on it.
"""

from tests.bench.another_hand.sounds import KINDS, render

__all__ = ["KINDS", "render"]
