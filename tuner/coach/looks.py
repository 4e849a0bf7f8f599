"""Looks: which question is put when, and what its answer is taken for."""

from __future__ import annotations

from collections.abc import Mapping

from tuner.coach import questions, surface
from tuner.coach.belief import Belief
from tuner.coach.course import Course
from tuner.errors import ConfigError
from tuner.terms import Cause, CauseName, Question

SIDE_GAIN = 0.1  # nats that a look at the box must be expected to tell of the nearer edge, in silence
MOST_LOOKS = 12  # into the box, in a session
DOUBTS = 3  # hearings too faint or too brief to act on, from which eyes may tell more


def in_noise(causes: tuple[Cause, ...], course: Course, belief: Belief, *, trusted: bool) -> Question | None:
    """Return the look that is expected to tell most of the cause, or None where none would tell enough.

    Where a move, or a reading that nobody expected, speaks against the belief, it is no judge of what a look tells.
    """
    if course.unanswered:
        return None
    may_look = _is_open(surface.AT_NOISE, course)
    if may_look and (course.moves or not trusted):
        return surface.AT_NOISE
    unsure = bool(causes) and causes[0].probability < questions.ASK_BELOW
    gain = belief.worth_of_looking(silent=False) if may_look and unsure else 0.0
    asking = questions.worth_asking(causes, course.asked, max(gain, questions.ASK_GAIN))
    return surface.AT_NOISE if asking is None and gain >= questions.ASK_GAIN else asking


def in_doubt(course: Course, doubts: int) -> Question | None:
    """Return the look into the box after so many hearings at one setting that were too faint or too brief."""
    return surface.AT_NOISE if doubts >= DOUBTS and _is_open(surface.AT_NOISE, course) else None


def in_silence(course: Course, belief: Belief) -> Question | None:
    """Return the look into the box where it is expected to tell which edge of the quiet is near."""
    wanted = _is_open(surface.IN_SILENCE, course) and belief.worth_of_looking(silent=True) >= SIDE_GAIN
    return surface.IN_SILENCE if wanted else None


def _is_open(question: Question, course: Course) -> bool:
    """Tell whether to ask it of the box: once at a setting, and no more once such a look got no answer."""
    refused = not course.looks and not course.asked.isdisjoint(surface.LOOKS)
    here = (look.question_id for look in course.looks if look.moves == len(course.moves))
    return not refused and len(course.looks) < MOST_LOOKS and question.id not in here


def odds_of(question_id: str, answer: str | None, belief: Belief) -> Mapping[CauseName, float]:
    """Return what an answer adds to the causes, as log-odds, and let the belief learn of it; empty for no answer.

    Raises
    ------
    ConfigError
        When the question or the answer is not one that the coach knows.
    """
    box = surface.LOOKS.get(question_id)
    if box and answer in box.choices:
        return belief.seen(question_id, answer)
    odds = {} if box and answer is None else questions.log_odds_of(question_id, answer)
    if odds is None:
        raise ConfigError(f"look({question_id!r}, {answer!r}) must be a question of the coach and its choice")
    return odds
