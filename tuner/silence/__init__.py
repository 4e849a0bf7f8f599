"""Proof: a microphone one can trust, the room, the confirmation of silence, and the restart after a power cut."""
