"""What the safety rules need to know, gathered from what was heard, what was done and what is believed."""

from __future__ import annotations

from tuner.causes.facts import presence
from tuner.coach import safety
from tuner.coach.belief import Belief
from tuner.coach.course import Course
from tuner.rig import Rig
from tuner.terms import Diagnosis, Reading


def situation_of(diagnosis: Diagnosis | None, course: Course, belief: Belief, rig: Rig) -> safety.Situation:
    """Return the situation in which a step would be made; without a diagnosis nothing was heard yet."""
    causes = diagnosis.causes if diagnosis else ()
    emergency = next((c.probability for c in causes if c.name == "emergency carrying flow"), 0.0)
    return safety.Situation(
        emergency=emergency,
        opening=belief.least_opening(),
        closed_so_far=-course.total("siphon valve") / rig.siphon.valve.full,
        speed_percent=100.0 * max(pump.speed for pump in rig.pumps) + course.total("return pump"),
        worse_in_a_row=course.worse_in_a_row,
        flushing_much=diagnosis is not None and flushing_much(diagnosis.reading),
        opened_in_a_row=course.opened_in_a_row(),
        gurgling_much=diagnosis is not None and gurgling_much(diagnosis.reading),
    )


def gurgling_much(reading: Reading) -> bool:
    """Tell whether the open channel gurgles through so much of the time that it carries more than it should."""
    return presence(reading, "gurgle") >= safety.GURGLE_MUCH


def flushing_much(reading: Reading) -> bool:
    """Tell whether the open channel flushes through so much of the time that it may carry what the siphon does not."""
    flush = reading.of("flush")
    if flush is None:
        return False
    quick = flush.period_s is not None and flush.period_s <= safety.FLUSH_QUICK_S
    return flush.share >= safety.FLUSH_MUCH or quick
