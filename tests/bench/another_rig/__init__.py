"""Another overflow that can be heard: an installation that shares nothing with the project's own rehearsal.

Water, voices, room and truth are written anew, with laws, coefficients and draws of their own; of the project only the
reader of rig files is used. Nothing is trained or fitted on it: it shows how the ears and the coach do on sounds and
hydraulics that no part of them was made from.
"""
