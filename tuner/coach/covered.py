"""What to do while other sound covers the drains: mostly to wait, unless the din may be the drains' own.

Ears take a roar that they do not know for other sound. A move after which a din covers everything is taken back; and
where it goes on, a look at the emergency pipe tells more than another listen.
"""

from __future__ import annotations

from tuner.coach import wording
from tuner.coach.course import Course
from tuner.coach.questions import EMERGENCY_DRY
from tuner.coach.safety import Situation
from tuner.coach.stepsback import step_back
from tuner.terms import Cause, Question, Step

COVERED_LONG = 4  # readings in a row after which the keeper is asked to look


def when_covered(course: Course, now: Situation) -> Step | Question | Cause | None:
    """Return the move to take back, the look to ask for, or the cause that was seen; None to wait."""
    if course.seen_running:
        return Cause("emergency carrying flow", 1.0, (wording.SEEN_RUNNING,))
    if course.loud_since_closing() and (back := step_back(course, now, wording.LOUD_SINCE)):
        return back
    long = len(course.covered_db) >= COVERED_LONG
    return EMERGENCY_DRY if long and EMERGENCY_DRY.id not in course.asked else None
