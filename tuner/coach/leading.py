"""Which of the likely causes to act on."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from tuner.causes.diagnosis import heard_kinds
from tuner.causes.facts import presence
from tuner.causes.rules import load_causes
from tuner.coach.doubts import SPEAKING
from tuner.coach.rule import REMEDIES
from tuner.terms import Cause, CauseName, Diagnosis

NEXT_COUNTS_FROM, NEXT_LEADS = 0.04, 0.4  # when the best cause is none to act on: absolute, and of what is left
TURN_FROM = 0.25  # no control is turned for a cause less likely than this while another one leads
TRACE = 0.05  # presence from which a sound is there at all
BELIEVED_FROM = 0.5
AT_THE_VALVE: frozenset[CauseName] = frozenset({"siphon over-open", "siphon over-closed"})


def leading_cause(
    diagnosis: Diagnosis, instructed: Collection[CauseName], believed: Mapping[CauseName, float]
) -> Cause:
    """Return the cause to act on: the best one, or the next where its instruction was given and did not help.

    ``believed`` is the belief's word: a cause at the siphon's valve that it takes for likely counts even where the
    rules put it behind another. Otherwise nothing is turned for a cause behind another of whose sounds there is no
    trace; and where no cause is known but all that counts as heard may come from one whose instruction was given, that
    one leads. ``diagnosis`` must not be silent.
    """
    causes, reading = diagnosis.causes, diagnosis.reading
    counted = heard_kinds(reading, load_causes().silence, in_a_row=True)
    for cause in causes if causes[0].name == "unknown" and counted else ():
        may_stay = cause.name in instructed and cause.name not in REMEDIES
        if may_stay and set(counted) <= set(SPEAKING.get(cause.name, ())):
            return cause
    traces = {heard.kind for heard in reading.heard if presence(reading, heard.kind) >= TRACE}

    def is_open(place: int, cause: Cause) -> bool:
        if cause.name in ("unknown", "outside noise"):
            return False
        if cause.name not in REMEDIES:
            return cause.name not in instructed
        if cause.name in AT_THE_VALVE and believed.get(cause.name, 0.0) >= BELIEVED_FROM:
            return True
        likely = cause.probability >= TURN_FROM or causes[0].name == "unknown"
        return place == 0 or (likely and not traces.isdisjoint(SPEAKING[cause.name]))

    open_ones = [cause for place, cause in enumerate(causes) if is_open(place, cause)]
    left = sum(cause.probability for cause in open_ones)
    if open_ones and open_ones[0].probability >= max(NEXT_COUNTS_FROM, NEXT_LEADS * left):
        return open_ones[0]
    return causes[0]
