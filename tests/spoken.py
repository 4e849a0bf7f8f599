"""What was heard, said and asked in one tuning: values that the pages' tests draw."""

from __future__ import annotations

from dataclasses import replace

from tuner.terms import Cause, Diagnosis, Heard, Levels, Question, Reading, Sound, Step

LEVELS = Levels(-47.0, -44.0, -48.0, -52.0, -40.0, (25.0, 1000.0, 16000.0), (-80.0, -60.0, -75.0))
READING = Reading(20.0, 19.0, LEVELS, (), (Heard("gurgle", 0.7, 0.8, 9.0),), 11.0, 0.05)
NOISY = Diagnosis(False, (), (
    Cause("siphon over-closed", 0.83, ("trains of large bubbles in most of the window", "no regular return")),
    Cause("unknown", 0.1, ()),
), READING)
SILENT = Diagnosis(True, (), (), replace(READING, heard=()))
STEP = Step("siphon valve", 0.125, "turn", 45.0, "the open channel carries more than its film holds",
            "the gurgle fades within a minute")
QUESTION = Question("bubbles", "Do bubbles come from the siphon's outlet?", ("none", "in surges"))
SOUNDS = (Sound("gurgle", 2.3, 14.0, -45.0, 0.93), Sound("splash", 15.3, 16.4, -50.0, 0.63))
