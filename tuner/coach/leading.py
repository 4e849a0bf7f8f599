"""Which of the likely causes to act on."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace
from types import MappingProxyType

from tuner.causes.diagnosis import heard_kinds
from tuner.causes.facts import presence
from tuner.causes.rules import load_causes
from tuner.coach import wording
from tuner.coach.course import Course
from tuner.coach.doubts import SPEAKING
from tuner.coach.instructions import LEFT
from tuner.coach.marks import Mark
from tuner.coach.rule import REMEDIES
from tuner.coach.safety import EMERGENCY_MAYBE, Situation
from tuner.coach.shares import SPLASHING, Word
from tuner.coach.situation import roars_by_opening
from tuner.coach.surface import Seen
from tuner.terms import SOUND_KINDS, Cause, CauseName, Diagnosis, SoundKind

NEXT_COUNTS_FROM, NEXT_LEADS = 0.04, 0.4  # when the best cause is none to act on: absolute, and of what is left
TURN_FROM = 0.25  # no control is turned for a cause less likely than this while another one leads
FAINT, HEARD_AGAIN = 0.02, 2  # presence from which a faint sound counts that comes back, and in how many hearings
SURELY = 0.9  # probability of causes that are set aside, from which what they sound like is not turned for
MOST_TRIALS = 6  # moves since the last instruction, after which nothing more is tried
TRACE = 0.05  # presence from which a sound is there at all
BELIEVED_FROM = 0.5
SUNK_FROM = 0.1  # chance that a splash is that of a sunk box, from which closing is tried before the splash is left
HARDLY = 0.1  # belief in a cause below which its sound may as well be that of a cause set aside
FULL_CHANNEL: frozenset[CauseName] = frozenset({"siphon over-closed", "vent too closed"})
MAY_MAKE: dict[CauseName, tuple[SoundKind, ...]] = {  # a splash may be a faint gurgle, or a box that has sunk
    **{cause: SPEAKING[cause] for cause in ("vent too wide", "vent too closed", "emergency carrying flow")},
    "siphon over-open": ("slurp", "splash", "gurgle", "flush"), "siphon over-closed": ("gurgle", "splash", "slurp"),
}
AT_THE_VALVE: frozenset[CauseName] = frozenset({"siphon over-open", "siphon over-closed"})


def leading_in(diagnosis: Diagnosis, course: Course, word: Word | None) -> Cause:
    """Return the cause to act on in the course of a session; ``word`` is as ``leading_cause`` takes it."""
    disproved = dict.fromkeys(FULL_CHANNEL, wording.OPENED_IN_VAIN) if course.vainly else {}
    if course.roared_vainly:
        disproved["emergency carrying flow"] = wording.ROARED_IN_VAIN
    elif roars_by_opening(course):
        disproved["emergency carrying flow"] = wording.ROARED_BY_OPENING
    leading = leading_cause(diagnosis, course.instructed, word, disproved, course.tried())
    if leading.name in SPLASHING and course.turns.came_after_closing():
        leading = replace(leading, name="siphon over-open", because=(wording.SUNK,))
    return as_seen(as_heard_again(leading, course.instructed, course.turns.marks_here()), course.seen())


def leading_cause(
    diagnosis: Diagnosis, instructed: Collection[CauseName], word: Word | None,
    disproved: Mapping[CauseName, str] = MappingProxyType({}), tried: int = 0,
) -> Cause:
    """Return the cause to act on: the best one, or the next where its instruction was given and did not help.

    ``word`` is the belief's, None while there is none to go by. What a cause that was set aside sounds like, a drain
    may sound like too: which of them leads then is for the belief to say, which knows what the moves did, but not where
    that cause surely makes all that is heard, nor once ``tried`` moves since the instruction have not ended it. What
    sounds like a cause that the moves ``disproved``, each for a reason, is taken for gulps. ``diagnosis`` must not be
    silent.
    """
    leading = _by_the_rules(diagnosis, instructed, word.causes if word else {})
    if leading.name in disproved:
        return Cause("siphon over-open", leading.probability, (disproved[leading.name],))
    if word is None:
        return leading
    if is_set_aside(leading.name, instructed):
        if leading.name in SPLASHING and word.sunk >= SUNK_FROM:
            return Cause("siphon over-open", word.sunk, (wording.SUNK,))
        tried_enough = tried >= MOST_TRIALS or is_explained(diagnosis, instructed)
        return leading if tried_enough or word.quiet >= BELIEVED_FROM else _drains_instead(diagnosis, word.causes)
    if word.causes.get(leading.name, 1.0) < HARDLY and word.quiet >= BELIEVED_FROM:
        sounds = set(SPEAKING[leading.name])
        aside = (c for c in diagnosis.causes if is_set_aside(c.name, instructed))
        return next((c for c in aside if sounds <= set(SPEAKING.get(c.name, ()))), leading)
    return leading


def as_seen(cause: Cause, seen: Seen | None) -> Cause:
    """Return the cause to act on after a look into the box: eyes go before ears.

    What stands below the crest fills no other pipe; water that falls far into a box that has sunk falls so because of
    the siphon, not of a crest too low. A siphon that gulps lets the water sink: what stands at the elbow, it does not.
    Where it was seen to gulp, that is mended before a splash at the sump, or what nobody knows, is looked into.
    """
    dry = {*FULL_CHANNEL, "emergency carrying flow", "weir drop"}
    mended_first = dry | {"outlet above water", "unknown"} if seen is not None and seen.swings else dry
    if seen is not None and seen.low and cause.name in mended_first:
        return replace(cause, name="siphon over-open", because=(wording.SEEN_LOW,))
    if seen is not None and seen.reaches_elbow and not seen.swings and cause.name == "siphon over-open":
        return replace(cause, name="siphon over-closed", because=(wording.SEEN_HIGH,))
    return cause


def as_heard_again(cause: Cause, instructed: Collection[CauseName], here: Collection[Mark]) -> Cause:
    """Return the cause to act on where none is known, that was said, and a faint sound has come back ``here`` since.

    What is heard again and again at one setting is the drains', however little of it fits a cause.
    """
    if cause.name != "unknown" or cause.name not in instructed:
        return cause
    gurgled = sum(mark.gurgles >= FAINT for mark in here)
    gulped = sum(mark.gulps >= FAINT for mark in here)
    if max(gurgled, gulped) < HEARD_AGAIN:
        return cause
    name: CauseName = "siphon over-closed" if gurgled >= gulped else "siphon over-open"
    return replace(cause, name=name, because=(wording.HEARD_AGAIN,))


def is_set_aside(cause: CauseName, instructed: Collection[CauseName]) -> bool:
    """Tell whether a cause is none that a control mends and its instruction was given: it may well stay."""
    return cause in LEFT and cause != "siphon not purged" and cause in instructed


def is_explained(diagnosis: Diagnosis, instructed: Collection[CauseName]) -> bool:
    """Tell whether causes that are set aside surely make all that is heard: there is nothing to turn for."""
    aside = [cause for cause in diagnosis.causes if is_set_aside(cause.name, instructed)]
    made = {kind for cause in aside for kind in SPEAKING.get(cause.name, ())}
    heard = {kind for kind in SOUND_KINDS if presence(diagnosis.reading, kind) >= TRACE}
    return heard <= made and sum(cause.probability for cause in aside) >= SURELY


def _drains_instead(diagnosis: Diagnosis, believed: Mapping[CauseName, float]) -> Cause:
    """Return the likeliest cause by the belief among those that what is heard may come of."""
    heard = {kind for kind in SOUND_KINDS if presence(diagnosis.reading, kind) >= TRACE}
    able = [c for c in believed if not heard.isdisjoint(MAY_MAKE[c])] or list(AT_THE_VALVE)
    name = max(able, key=lambda c: believed.get(c, 0.0))
    own = next((c.probability for c in diagnosis.causes if c.name == name), 0.0)
    return Cause(name, own, (wording.DRAINS_TOO,))


def instead_of(cause: Cause, now: Situation) -> Cause | None:
    """Return the cause to act on where gulps are heard but what else is heard, or was done, forbids to close on.

    None where nothing speaks for another one.
    """
    if cause.name != "siphon over-open":
        return None
    if now.emergency >= EMERGENCY_MAYBE:
        return replace(cause, name="emergency carrying flow", because=(wording.ROARS_TOO,))
    if now.gurgling_much or now.closed_in_vain or now.room_to_close <= 0.0:
        here = wording.CLOSED_IN_VAIN if now.closed_in_vain else wording.GURGLED_HERE
        why = wording.GURGLES_TOO if now.gurgling_much else here
        return replace(cause, name="siphon over-closed", because=(why,))
    if now.may_be_full:
        return replace(cause, name="siphon over-closed", because=(wording.NEVER_RESTS,))
    if now.flushing_most:
        return replace(cause, name="vent too closed", because=(wording.FLUSHES_TOO,))
    return None


def _by_the_rules(
    diagnosis: Diagnosis, instructed: Collection[CauseName], believed: Mapping[CauseName, float]
) -> Cause:
    """Return the cause to act on by what the rules make of this reading.

    A cause that the belief takes for likely counts even behind one that is not known, and one at the siphon's valve
    behind any other. Otherwise nothing is turned for a cause behind another of whose sounds there is no trace; and
    where no cause is known but all that counts as heard may come from one whose instruction was given, that one leads.
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
        unknown = causes[0].name == "unknown"
        if (unknown or cause.name in AT_THE_VALVE) and believed.get(cause.name, 0.0) >= BELIEVED_FROM:
            return True
        likely = unknown or cause.probability >= TURN_FROM
        return place == 0 or (likely and not traces.isdisjoint(SPEAKING[cause.name]))

    open_ones = [cause for place, cause in enumerate(causes) if is_open(place, cause)]
    left = sum(cause.probability for cause in open_ones)
    if open_ones and open_ones[0].probability >= max(NEXT_COUNTS_FROM, NEXT_LEADS * left):
        return open_ones[0]
    return causes[0]
